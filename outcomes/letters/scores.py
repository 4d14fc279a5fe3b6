"""The scores of questionnaires in a letter's status table: a line each, with what was before."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from datetime import date

from clinic import words
from outcomes.core.instruments import ScoreForm
from outcomes.core.values import Limb
from outcomes.letters.facts import StatusRow
from outcomes.queries.questionnaire_section import change_between, earlier_of, grouped
from outcomes.queries.questionnaire_words import in_use_of, left_out_says, score_words
from outcomes.queries.questionnaires import Completed


def score_rows(
    *, forms: Sequence[Completed], codes: Collection[str], knee: Limb, on: date
) -> tuple[StatusRow, ...]:
    """A row for each score that was formed, of the questionnaires named by ``codes``."""
    return tuple(
        row
        for own in grouped(forms=[one for one in forms if one.on <= on])
        if own[-1].instrument.code in codes and own[-1].limb in (knee, Limb.NONE)
        for row in _rows(own, on)
    )


def _rows(forms: Sequence[Completed], on: date) -> Iterator[StatusRow]:
    last = forms[-1]
    for form in last.instrument.scores:
        value = last.scores[form.code].value
        if value is None:
            continue
        short = last.instrument.short_label
        uses = in_use_of(instrument=last.instrument, score=form.code)
        shown = score_words(form=form, value=value, state=uses.state)
        found = f"{shown} of {form.highest:f}"
        before, change = _before(forms, form, on)
        yield StatusRow(
            code=f"{last.instrument.code}.{form.code}",
            name=short if len(last.instrument.scores) == 1 else f"{short} {form.label.lower()}",
            method=f"questionnaire, {words.short_day(last.on, today=on)}",
            left=found if last.limb is Limb.LEFT else "",
            left_detail="",
            right=found if last.limb is Limb.RIGHT else "",
            right_detail="",
            whole=found if last.limb is Limb.NONE else "",
            symmetry="",
            before=before,
            change=change,
            finding="",
            beam=None,
        )


def _before(forms: Sequence[Completed], form: ScoreForm, on: date) -> tuple[str, str]:
    """The score before on the same line with its day, and how it moved since; both may be empty."""
    last, earlier = forms[-1], earlier_of(forms=forms, form=form)
    was = earlier[-1].scores[form.code].value if earlier else None
    if was is None:
        return "", ""
    uses = in_use_of(instrument=last.instrument, score=form.code)
    size, says = change_between(form=form, first=earlier[-1], last=last, uses=uses)
    left_out = left_out_says(found=last.compared(form.code, since=earlier[-1]))
    told = [one.partition(" (")[0] for one in says[:1] if not one.startswith("error not known")]
    said = ": ".join([size, *dict.fromkeys([*told, *left_out])])
    day = words.short_day(earlier[-1].on, today=on)
    return f"{score_words(form=form, value=was, state=uses.state)} ({day})", said
