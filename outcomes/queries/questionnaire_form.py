"""One completed form's page: its answers by number, its scores, and its history."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from clinic import words
from clinic.queries.people import age
from outcomes.core.instruments import Instrument
from outcomes.core.values import Limb
from outcomes.models.questionnaires import CompletedQuestionnaire
from outcomes.queries.catalogue import InForce
from outcomes.queries.events import events_of
from outcomes.queries.keying import audience_words, layout_words, what_words
from outcomes.queries.patient_page import episodes_of, shown_of
from outcomes.queries.questionnaire_section import ScoreLine, person_of, score_line
from outcomes.queries.questionnaire_words import in_use_of, score_words
from outcomes.queries.questionnaires import Completed, completed, completed_of


@dataclass(frozen=True, kw_only=True, slots=True)
class AnswerLine:
    """One item: what was marked and what it counts, where that differs."""

    code: str
    counts: str
    marked: str


@dataclass(frozen=True, kw_only=True, slots=True)
class FormStep:
    """One step of the history: what was done, by whom, why, and the scores after it."""

    kind: str
    by: str
    at: str
    reason: str
    scores: str


@dataclass(frozen=True, kw_only=True, slots=True)
class FormPage:
    """Everything that the page of one completed form asks for."""

    row: CompletedQuestionnaire
    newest: CompletedQuestionnaire
    instrument: Instrument
    what: str
    when: str
    note: str
    layout: str
    answers: Sequence[AnswerLine]
    scores: Sequence[ScoreLine]
    steps: Sequence[FormStep]

    @property
    def withdrawn(self) -> bool:
        """Whether it counts no more."""
        return self.newest.kind == "withdrawn"

    @property
    def limb(self) -> Limb:
        """The knee that it asks about, or the person."""
        return Limb(self.newest.limb)

    @property
    def unscored(self) -> str:
        """Items that are kept and count in no score, in a sentence."""
        codes = self.instrument.unscored
        return f"Kept, and counted in no score: {words.listed(list(codes))}." if codes else ""


def form_page(*, row: CompletedQuestionnaire, rules: InForce) -> FormPage:
    """The page of a completed form, whichever of its rows the address names."""
    chain = chain_of(row=row)
    newest = chain[-1]
    one = completed(row=newest, rules=rules)
    patient, today = row.visit.patient, row.visit.date
    shown = shown_of(episodes=episodes_of(patient=patient), asked=None)
    person = person_of(shown=shown, events=events_of(episodes=shown), on=today)
    earlier = [
        other
        for other in completed_of(patient_id=patient.pk, rules=rules)
        if _same(other, one) and (other.on, other.ref) < (one.on, one.ref)
    ]
    return FormPage(
        row=row,
        newest=newest,
        instrument=one.instrument,
        what=what_words(instrument=one.instrument, limb=one.limb),
        when=person.when(one.limb, one.on),
        note=audience_words(
            instrument=one.instrument, years=age(birth_date=patient.birth_date, on=one.on)
        ),
        layout=_layout(one),
        answers=answer_lines(row=newest, one=one),
        scores=[
            score_line(forms=[*earlier, one], form=form, person=person)
            for form in one.instrument.scores
        ],
        steps=[_step(step, rules, row.visit.site.zone) for step in reversed(chain)],
    )


def _same(other: Completed, one: Completed) -> bool:
    """Whether two forms belong to one card: the same questionnaire, family and knee."""
    return (other.instrument.code, other.instrument.family, other.limb) == (
        one.instrument.code,
        one.instrument.family,
        one.limb,
    )


def _layout(one: Completed) -> str:
    layout = one.instrument.layout(code=one.layout)
    if len(one.instrument.layouts) < 2:
        return ""
    said = " ".join(layout_words(instrument=one.instrument, layout=layout))
    return f"Print of the form: {layout.label}. {said}"


def chain_of(*, row: CompletedQuestionnaire) -> list[CompletedQuestionnaire]:
    """The rows of one form from what was first keyed to what counts now. One statement."""
    same = CompletedQuestionnaire.objects.filter(
        visit_id=row.visit_id, instrument=row.instrument, limb=row.limb
    )
    return list(same.select_related("recorded_by").order_by("pk"))


def answer_lines(*, row: CompletedQuestionnaire, one: Completed) -> list[AnswerLine]:
    """Every item in order; a blank one has no answer."""
    return [
        AnswerLine(
            code=item.code,
            counts=row.answers.get(item.code) or "",
            marked=row.typed.get(item.code, ""),
        )
        for item in one.instrument.items
    ]


def marks_on_record(*, row: CompletedQuestionnaire) -> dict[str, str]:
    """What was marked in each item that was not left blank, as it is typed."""
    answers = {code: str(text) for code, text in row.answers.items() if text is not None}
    return {**answers, **row.typed}


def _step(row: CompletedQuestionnaire, rules: InForce, zone: str) -> FormStep:
    one = completed(row=row, rules=rules)
    said = [
        f"{form.label} {_number(one, form.code)}"
        for form in one.instrument.scores
        if row.kind != "withdrawn"
    ]
    twice = ", keyed twice" if row.keyed_twice else ""
    return FormStep(
        kind=f"{row.get_kind_display()}{twice}",
        by=row.recorded_by.full_name,
        at=words.moment(row.recorded_at, zone=zone),
        reason=row.reason,
        scores=", ".join(said),
    )


def _number(one: Completed, code: str) -> str:
    value = one.scores[code].value
    if value is None:
        return "not formed"
    state = in_use_of(instrument=one.instrument, score=code).state
    return score_words(form=one.instrument.score(code=code), value=value, state=state)
