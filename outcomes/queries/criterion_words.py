"""Any judged criterion in words: of a measure, a score, events, or a group of criteria."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Final

from clinic import words
from outcomes.core.quantities import plain, shown, unit_sign
from outcomes.core.values import (
    Criterion,
    CriterionResult,
    EpisodeFacts,
    Fallback,
    Form,
    Measure,
    Operator,
    Reading,
    Reference,
    Result,
    Subject,
    Why,
)
from outcomes.core.wording import WHY
from outcomes.queries.result_words import (
    MOVE,
    OPERATOR,
    RESULT,
    ResultWords,
    dated_words,
    repeat_words,
    result_words,
    subject_words,
)

STANDS_IN: Final[Mapping[Reference, str]] = {
    Reference.OWN_BEFORE_INJURY: "Instead: its own value before the injury",
    Reference.OTHER_BEFORE_SURGERY: "Instead: the other side before surgery",
    Reference.BODY_MASS: "Instead: by body mass, against norms by sex, angle and mode",
    Reference.OWN_HISTORY: "Instead: its own earlier value, change",
    Reference.NOTHING: "Nothing else is on record to compare with",
}

NOT_FOR_THEM: Final = (
    "No threshold is published or entered for this sex and age: look at the own values over time."
)


def criterion_words(
    *,
    found: CriterionResult,
    measures: Mapping[str, Measure],
    facts: EpisodeFacts,
    readings: Mapping[int, Reading],
    on: date,
) -> ResultWords:
    """A judged criterion in words. ``readings`` are those it was judged on, by their ``ref``."""
    criterion = found.criterion
    if criterion.subject is Subject.MEASURE:
        said = result_words(
            found=found,
            measure=measures[criterion.measure],
            facts=facts,
            readings=readings,
            on=on,
        )
        if found.instead is None:
            return said
        return replace(said, next_move=f"{said.next_move} {_instead(found.instead)}.")
    scored = criterion.subject is Subject.SCORE
    return ResultWords(
        code=criterion.code,
        result=found.result,
        word=RESULT[found.result],
        sentence=_sentence(found),
        dated=dated_words(found=found, on=on) if scored else "",
        next_move=_next_move(found),
        hard=criterion.hard,
    )


def named_words(*, criterion: Criterion, measures: Mapping[str, Measure]) -> str:
    """What a criterion looks at, for a list of what is open: "Quadriceps symmetry"."""
    if criterion.subject is Subject.MEASURE:
        return subject_words(criterion=criterion, measure=measures[criterion.measure])
    return criterion.label


def _instead(fallback: Fallback) -> str:
    """What stands in where the other limb is no fair reference, with its number if any."""
    said = STANDS_IN[fallback.reference]
    if fallback.value is None:
        return said
    decimals = 2 if fallback.reference is Reference.BODY_MASS else 0
    return (
        f"{said} {shown(value=fallback.value, decimals=decimals)} {unit_sign(unit=fallback.unit)}"
    )


def _sentence(found: CriterionResult) -> str:
    criterion, value = found.criterion, found.value
    asked = _entered(found)
    if value is None:
        return f"{criterion.label}{asked}."
    if criterion.subject is Subject.GROUP:
        return f"{criterion.label}: {value} of {len(criterion.of)} met."
    number = shown(
        value=value, decimals=_decimals(found), threshold=found.threshold,
        operator=criterion.operator,
    )  # fmt: skip
    return f"{criterion.label}: {number} recorded{asked}."


def _entered(found: CriterionResult) -> str:
    """The score that the clinic entered as a percentile for such a person, where it did."""
    criterion, unknown = found.criterion, (Why.NO_NORM, Why.NO_CLINIC_NORM)
    if criterion.form is not Form.PERCENTILE or (found.why and found.why.why in unknown):
        return ""
    return f", asks {OPERATOR[criterion.operator]} {plain(value=found.threshold)} points"


def _decimals(found: CriterionResult) -> int:
    """One decimal where a score is no whole number: 63.7 stays that."""
    return 0 if found.value is not None and found.value.denominator == 1 else 1


def _next_move(found: CriterionResult) -> str:
    why = found.why
    if why is not None and why.why is Why.NOT_REPEATED:
        return repeat_words(why=why)
    match found.result:
        case Result.MET:
            return ""
        case Result.NOT_TESTED:
            return "Ask it." if found.criterion.subject is Subject.SCORE else "Test what is open."
        case Result.OUT_OF_DATE:
            return "Ask it again." if found.criterion.subject is Subject.SCORE else "Test again."
        case Result.NOT_ASSESSABLE if found.criterion.bands and why and why.why is Why.NO_NORM:
            return NOT_FOR_THEM
        case Result.NOT_ASSESSABLE if why is not None:
            said, move = WHY.get(why.why, "").capitalize(), MOVE.get(why.why, "")
            return f"{said}: {move}." if move else f"{said}."
        case Result.MET_BORDERLINE | Result.NOT_MET_BORDERLINE:
            return "Borderline in a part that decides: repeat that test."
        case _:
            return _distance(found)


def _distance(found: CriterionResult) -> str:
    criterion, value = found.criterion, found.value
    if value is None:
        return ""
    if criterion.subject is Subject.GROUP:
        return f"{found.threshold - Decimal(int(value))} more asked: work on them, then test again."
    if criterion.subject is Subject.EVENT:
        return _events(found, value)
    gap = abs(value - Fraction(found.threshold))
    apart = shown(value=gap, decimals=0 if gap.denominator == 1 else 1)
    higher = criterion.operator in (Operator.GREATER, Operator.AT_LEAST)
    if not gap:
        return "Exactly at the threshold, and more is asked." if higher else "Exactly at it."
    points = "point" if apart == "1" else "points"
    return f"{apart} {points} {'short' if higher else 'too many'}: work on it, then ask again."


def _events(found: CriterionResult, value: Fraction) -> str:
    last = f", the last on {words.day(found.on)}" if found.on is not None else ""
    if found.criterion.operator in (Operator.GREATER, Operator.AT_LEAST):
        return f"{value} recorded so far{last}."
    return f"{value} recorded{last}: look at it first."
