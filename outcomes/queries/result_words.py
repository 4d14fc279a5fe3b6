"""A judged criterion in words: what was found, what is asked, how far off, and what to do next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Final

from clinic import words
from outcomes.core.dates import weeks_since
from outcomes.core.normalised import RELATIVE
from outcomes.core.quantities import plain, shown, unit_sign
from outcomes.core.relative import DECIMALS
from outcomes.core.values import (
    Criterion,
    CriterionResult,
    EpisodeFacts,
    Form,
    Measure,
    NotAssessable,
    Operator,
    Reading,
    Result,
    Why,
)
from outcomes.core.wording import conditions_words, reading_words, why_words

RESULT: Final[Mapping[Result, str]] = {
    Result.MET: "Recorded as met",
    Result.MET_BORDERLINE: "Recorded as met, borderline",
    Result.NOT_MET_BORDERLINE: "Not met, borderline: repeat",
    Result.NOT_MET: "Not met",
    Result.NOT_TESTED: "Not tested",
    Result.OUT_OF_DATE: "Out of date",
    Result.NOT_ASSESSABLE: "Not assessable",
}
OPERATOR: Final[Mapping[Operator, str]] = {
    Operator.GREATER: "more than",
    Operator.AT_LEAST: "at least",
    Operator.LESS: "under",
    Operator.AT_MOST: "at most",
}
MOVE: Final[Mapping[Why, str]] = {
    Why.OTHER_LIMB_NOT_TESTED: "test the other side under the same conditions",
    Why.INVOLVED_NOT_TESTED: "test it",
    Why.NO_PAIR: "test both sides on one day",
    Why.ZERO_REFERENCE: "test the other side again",
    Why.DIFFERENT_KEY: "test both sides under the same conditions",
    Why.BOTH_AT_CAP: "add load and test again",
    Why.LIMITED_BY_PAIN: "settle the pain, then test again",
    Why.NOT_DONE: "test it when it can be done",
    Why.NO_BODY_MASS: "weigh, then it can be judged",
    Why.NO_SEX_NORM: "look at the own values over time",
    Why.NOT_FOR_CHILDREN: "look at the own values over time",
    Why.KEPT_LEVEL_BY: "repeat with the trunk upright and no hand",
    Why.DETAIL_MISSING: "repeat and note how it was done",
    Why.NO_NORM: "look at the own values over time",
    Why.NO_CLINIC_NORM: "the clinic lead does so under Protocols, Published sets of criteria, "
    "Percentiles",
    Why.BEFORE_EARLIEST_WEEK: "test it from then on",
    Why.NO_EARLIER_VALUE: "test it again under the same conditions",
    Why.NO_VALUE_BEFORE_SURGERY: "look at this limb's own values over time",
    Why.NO_BODY_SIZE: "measure it, then it can be judged",
    Why.TOO_FEW_ANSWERS: "ask for what was left open",
    Why.OTHER_LIMB_NOT_FAIR: "look at both values, and at this limb's own values over time",
}
FORM: Final[Mapping[Form, str]] = {
    Form.SYMMETRY: " symmetry",
    Form.PER_BODY_MASS: " for body mass",
    Form.PER_BODY_WEIGHT: " for body weight",
    Form.PER_HEIGHT: " for height",
    Form.PER_LEG_LENGTH: " for leg length",
    Form.PRE_INJURY: " against the other side before surgery",
    Form.CHANGE_SINCE_SURGERY: " since the first test",
    Form.CHANGE_SINCE_LAST: " since the last test",
}
"""What stands behind the name of a measure, where a form does not look at its value alone."""


@dataclass(frozen=True, kw_only=True, slots=True)
class ResultWords:
    """One criterion, ready to print.

    ``sentence``: what was found and what is asked; ``next_move``: the distance to the threshold
    and the honest next thing to do; ``dated``: when, and how long it counts.
    """

    code: str
    result: Result
    word: str
    sentence: str
    dated: str
    next_move: str
    hard: bool


def result_words(
    *,
    found: CriterionResult,
    measure: Measure,
    facts: EpisodeFacts,
    readings: Mapping[int, Reading],
    on: date,
) -> ResultWords:
    """A judged criterion in words. ``readings`` are those it was judged on, by their ``ref``."""
    return ResultWords(
        code=found.criterion.code,
        result=found.result,
        word=RESULT[found.result],
        sentence=_sentence(found=found, measure=measure, facts=facts, readings=readings),
        dated=dated_words(found=found, on=on),
        next_move=_next_move(found=found, measure=measure, facts=facts, on=on),
        hard=found.criterion.hard,
    )


def age_words(*, days: int) -> str:
    """How long a result counts.

    >>> age_words(days=42), age_words(days=30), age_words(days=3)
    ('6 weeks', '30 days', '3 days')
    """
    if days >= 14 and days % 7 == 0:
        return words.several(days // 7, "week")
    return words.several(days, "day")


def subject_words(*, criterion: Criterion, measure: Measure) -> str:
    """What the criterion looks at: "Quadriceps symmetry", "Flexion"; with the conditions asked."""
    subject = f"{measure.short_label}{FORM.get(criterion.form, '')}"
    how = conditions_words(measure=measure, key=criterion.key)
    return f"{subject} ({how})" if how else subject


def asked_words(*, criterion: Criterion, measure: Measure, threshold: Decimal) -> str:
    """What is asked: "at least 70 %", "level or slight, or moderate alike on both legs"."""
    if criterion.form is Form.GRADE:
        return _grades_asked(criterion=criterion, measure=measure, threshold=threshold)
    number = _with_unit(criterion=criterion, measure=measure, number=plain(value=threshold))
    short = " short of the other side" if criterion.form is Form.SHORT_OF_OTHER else ""
    return f"{OPERATOR[criterion.operator]} {number}{short}"


def _grades_asked(*, criterion: Criterion, measure: Measure, threshold: Decimal) -> str:
    within = {
        Operator.GREATER: measure.grades[int(threshold) + 1 :],
        Operator.AT_LEAST: measure.grades[int(threshold) :],
        Operator.LESS: measure.grades[: int(threshold)],
        Operator.AT_MOST: measure.grades[: int(threshold) + 1],
    }[criterion.operator]
    asked = " or ".join([", ".join(within[:-1]), within[-1]] if len(within) > 1 else within)
    if criterion.alike_to is None:
        return asked
    return f"{asked}, or {measure.word(value=criterion.alike_to)} alike on both legs"


def decimals_of(*, criterion: Criterion, measure: Measure) -> int:
    """With how many decimals a criterion's number is shown."""
    if criterion.form in (Form.SYMMETRY, Form.PRE_INJURY):
        return 0
    relative = RELATIVE.get(criterion.form)
    return measure.decimals if relative is None else DECIMALS[relative]


def amount_words(
    *, criterion: Criterion, measure: Measure, value: Fraction | Decimal, threshold: Decimal
) -> str:
    """A number in the criterion's unit, cut so that it never disagrees with its threshold."""
    number = shown(
        value=value,
        decimals=decimals_of(criterion=criterion, measure=measure),
        threshold=threshold,
        operator=criterion.operator,
    )
    return _with_unit(criterion=criterion, measure=measure, number=number)


def _with_unit(*, criterion: Criterion, measure: Measure, number: str) -> str:
    if criterion.unit == "{score}" and criterion.form.is_change:
        return number + _after(criterion=criterion, number=number)
    if criterion.unit == "{score}":
        return f"{number} of {shown(value=measure.hard[1], decimals=0)}"
    sign = unit_sign(unit=criterion.unit)
    return f"{number}{'' if sign in ('', '°') else ' '}{sign}"


def _sentence(
    *,
    found: CriterionResult,
    measure: Measure,
    facts: EpisodeFacts,
    readings: Mapping[int, Reading],
) -> str:
    criterion = found.criterion
    subject = subject_words(criterion=criterion, measure=measure)
    asked = asked_words(criterion=criterion, measure=measure, threshold=found.threshold)
    if found.value is None:
        return f"{subject}, asks {asked}."
    value = _value_words(found=found, measure=measure, facts=facts, readings=readings)
    return f"{subject} {value}, asks {asked}."


def _value_words(
    *,
    found: CriterionResult,
    measure: Measure,
    facts: EpisodeFacts,
    readings: Mapping[int, Reading],
) -> str:
    criterion, value = found.criterion, found.value
    if value is None:
        raise AssertionError("a result without a value was let through")
    if criterion.form is Form.GRADE:
        return _grade_words(found=found, measure=measure, facts=facts, readings=readings)
    if criterion.form is not Form.SHORT_OF_OTHER:
        return amount_words(
            criterion=criterion, measure=measure, value=value, threshold=found.threshold
        )
    if not value:
        return "as the other side"
    size = amount_words(
        criterion=criterion, measure=measure, value=abs(value), threshold=found.threshold
    )
    return f"{size} short of the other side" if value > 0 else f"{size} more than the other side"


def _grade_words(
    *,
    found: CriterionResult,
    measure: Measure,
    facts: EpisodeFacts,
    readings: Mapping[int, Reading],
) -> str:
    grade = measure.word(value=Decimal(int(found.value or 0)))
    if not measure.standing or measure.yes_or_no:
        return grade
    seen = [readings[ref] for ref in found.refs if ref in readings]
    said = {r.limb: reading_words(measure=measure, reading=r) for r in seen if r.value is not None}
    mine = f"{said.get(facts.knee, grade)} standing on the {facts.knee}"
    other = said.get(facts.knee.opposite)
    return f"{mine}, {other} on the {facts.knee.opposite}" if other else mine


def dated_words(*, found: CriterionResult, on: date) -> str:
    """When it was tested, and how long it counts."""
    if found.on is None:
        return ""
    day = words.short_day(found.on, today=on)
    counts = age_words(days=found.criterion.maximum_age_days)
    if found.result is Result.OUT_OF_DATE:
        return f"{day}, counts for {counts}"
    last = found.on + timedelta(days=found.criterion.maximum_age_days)
    return f"{day}, counts until {words.short_day(last, today=on)}"


def _next_move(*, found: CriterionResult, measure: Measure, facts: EpisodeFacts, on: date) -> str:
    match found.result:
        case Result.NOT_TESTED:
            return _to_test(found=found, measure=measure, facts=facts, on=on)
        case Result.OUT_OF_DATE:
            return "Test again."
        case Result.NOT_ASSESSABLE:
            return _not_assessable(found=found, measure=measure, facts=facts)
        case Result.NOT_MET if found.why is not None:
            why = why_words(why=found.why, measure=measure, facts=facts)
            return f"{why.capitalize()}. {MOVE[found.why.why].capitalize()}."
        case _:
            return _by_distance(found=found, measure=measure)


def _to_test(*, found: CriterionResult, measure: Measure, facts: EpisodeFacts, on: date) -> str:
    if found.why is not None and found.why.why is Why.DIFFERENT_KEY:
        elsewhere = conditions_words(measure=measure, key=found.why.detail)
        asked = conditions_words(measure=measure, key=found.criterion.key)
        return f"Tested with {elsewhere} only: test with {asked}."
    if found.why is not None and found.why.why is Why.NOT_REPEATED:
        return repeat_words(why=found.why)
    week = weeks_since(index_date=facts.index_date, on=on)
    early = measure.earliest_week
    if early is not None and early > 1 and (week is None or week < early):
        return f"Test it, not before week {early}."
    return "Test it."


def repeat_words(*, why: NotAssessable) -> str:
    """What is still asked of a criterion that was met on one test of two.

    >>> repeat_words(why=NotAssessable(why=Why.NOT_REPEATED, detail="7"))
    'Met once: test again, at least 7 days later.'
    """
    return f"Met once: test again, at least {words.several(int(why.detail), 'day')} later."


def _not_assessable(*, found: CriterionResult, measure: Measure, facts: EpisodeFacts) -> str:
    if found.why is None:
        return ""
    why = why_words(why=found.why, measure=measure, facts=facts)
    move = MOVE.get(found.why.why, "")
    return f"{why.capitalize()}: {move}." if move else f"{why.capitalize()}."


def _by_distance(*, found: CriterionResult, measure: Measure) -> str:
    """How far the value is from the threshold, and what that asks for."""
    criterion, value = found.criterion, found.value
    if value is None or criterion.form is Form.GRADE:
        return "" if found.result.truth else "Work on it, then test again."
    where = distance_words(
        criterion=criterion, measure=measure, value=value, threshold=found.threshold
    )
    match found.result:
        case Result.MET:
            return f"{where}."
        case Result.MET_BORDERLINE | Result.NOT_MET_BORDERLINE:
            error = margin_words(found=found, measure=measure)
            return f"{where}, within the error of about {error}: repeat the test."
        case _:
            error = "" if found.margin is not None else ", error not known"
            return f"{where}{error}: work on it, then test again."


def margin_words(*, found: CriterionResult, measure: Measure) -> str:
    """The error within which a result is borderline, in the criterion's unit."""
    decimals = decimals_of(criterion=found.criterion, measure=measure)
    number = shown(value=found.margin or Decimal(0), decimals=decimals)
    return number + _after(criterion=found.criterion, number=number)


def distance_words(
    *, criterion: Criterion, measure: Measure, value: Fraction, threshold: Decimal
) -> str:
    """How far the shown value is from the threshold and on which side: "2 points short".

    Never rounded to nothing: "under 1 point short".
    """
    decimals = decimals_of(criterion=criterion, measure=measure)
    if value == threshold:
        return "Exactly at the threshold"
    number = shown(value=value, decimals=decimals, threshold=threshold, operator=criterion.operator)
    apart = abs(Decimal(number) - threshold)
    way = _way(criterion=criterion, above=value > threshold)
    if not apart:
        step = shown(value=Fraction(1, 10**decimals), decimals=decimals)
        return f"Under {step}{_after(criterion=criterion, number=step)} {way}"
    size = shown(value=apart, decimals=decimals)
    return f"{size}{_after(criterion=criterion, number=size)} {way}"


def _after(*, criterion: Criterion, number: str) -> str:
    """What stands behind a difference: points of an index or a score, else the unit."""
    if criterion.unit in ("%", "{score}"):
        return " point" if number == "1" else " points"
    sign = unit_sign(unit=criterion.unit)
    return f"{'' if sign in ('', '°') else ' '}{sign}"


def _way(*, criterion: Criterion, above: bool) -> str:
    if criterion.operator in (Operator.AT_LEAST, Operator.GREATER):
        return "above" if above else "short"
    if criterion.form is Form.SHORT_OF_OTHER:
        return "too much" if above else "to spare"
    return "above" if above else "below"
