"""A score, opened: answers, formula in words, error, what it is held against, source, version."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Final

from clinic import words
from outcomes.core.instruments import EACH_ITEM, ERRORS, ScoreForm, ScoreRule, ScoreThreshold
from outcomes.core.quantities import plain
from outcomes.queries.opened import NO_ERROR, Opened, source_lines
from outcomes.queries.questionnaire_words import (
    KIND,
    InUse,
    asked_words,
    others_published,
    score_words,
)
from outcomes.queries.questionnaires import Completed

SUM_OF: Final = "sum of the answers"
MOST: Final = "most that the answered items can give"


def open_score(*, one: Completed, form: ScoreForm, uses: InUse, age: int, sex: str) -> Opened:
    """Everything that stands behind one score of a completed form."""
    instrument = one.instrument
    others = others_published(instrument=instrument, score=form.code, uses=uses, age=age, sex=sex)
    parts = (
        ("From", tuple(_inputs(one=one, form=form))),
        ("Worked out", tuple(_formula(one=one, form=form))),
        (
            "Missing answers",
            (instrument.missing.text, *source_lines(sources=(instrument.missing.source,))),
        ),
        ("Error", (threshold_line(uses.error) if uses.error else NO_ERROR,)),
        ("Held against", tuple(threshold_line(t) for t in uses.all() if t.kind not in ERRORS)),
        ("Published, not in use", tuple(threshold_line(t) for t in others)),
        ("How to read it", (instrument.how_to_read, instrument.not_for)),
        ("Scoring from", source_lines(sources=instrument.sources)),
        ("Version", (f"{instrument.label}, version {instrument.version}. {instrument.form}.",)),
    )
    return Opened(parts=tuple(part for part in parts if part[1]))


def threshold_line(threshold: ScoreThreshold) -> str:
    """A published value with whom it was found in, when, and how well it is supported."""
    which = "any one item" if threshold.item == EACH_ITEM else f"item {threshold.item}"
    item = f" of {which}" if threshold.item else ""
    source = source_lines(sources=(threshold.source,))[0]
    note = f" {threshold.note}" if threshold.note else ""
    return (
        f"{KIND[threshold.kind]}{item} {asked_words(threshold=threshold)}: "
        f"{threshold.population}; {threshold.time_point}. {source}.{note}"
    )


def _inputs(*, one: Completed, form: ScoreForm) -> Iterator[str]:
    codes = _codes(one=one, form=form)
    given = [f"{code} {plain(value=value)}" for code, value in codes.items() if value is not None]
    if given:
        yield f"{words.day(one.on)}: {', '.join(given)}"
    blank = [code for code, value in codes.items() if value is None]
    if blank:
        yield f"Blank: {', '.join(blank)}"


def _codes(*, one: Completed, form: ScoreForm) -> Mapping[str, Decimal | None]:
    """The answers that count in a score."""
    items = form.items or [
        code for part in form.parts for code in one.instrument.score(code=part).items
    ]
    return {code: one.answers[code] for code in items}


def _formula(*, one: Completed, form: ScoreForm) -> Iterator[str]:
    """The formula in words with its numbers; nothing where no score is formed."""
    found = one.scores[form.code]
    if found.value is None:
        yield f"Not formed: {found.reason}."
        return
    given = {code: value for code, value in _codes(one=one, form=form).items() if value is not None}
    total = plain(value=sum(given.values(), Decimal(0)))
    most = plain(value=sum((one.instrument.by_code[code].highest for code in given), Decimal(0)))
    said = {
        ScoreRule.SUM: f"{SUM_OF} = {total}",
        ScoreRule.MEAN: f"{SUM_OF} ÷ number of answers = {total} ÷ {len(given)}",
        ScoreRule.SHARE: f"100 × {SUM_OF} ÷ {MOST} = 100 × {total} ÷ {most}",
        ScoreRule.INVERTED_SHARE: f"100 − 100 × {SUM_OF} ÷ {MOST} = 100 − 100 × {total} ÷ {most}",
        ScoreRule.TABLE: f"the score that the table gives for the {SUM_OF}, {total}",
        ScoreRule.MEAN_OF_SCORES: f"mean of {words.listed(list(form.parts))}",
    }[form.rule]
    yield f"{said[:1].upper()}{said[1:]}"
    if form.code in one.instrument.layout(code=one.layout).turned:
        yield f"Turned for this print: {form.lowest:f} + {form.highest:f} − that."
    yield f"Shown as {score_words(form=form, value=found.value)}; unrounded values decide."
