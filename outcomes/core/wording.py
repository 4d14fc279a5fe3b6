"""What was measured, as sentences: values, symmetry, change and reasons in the trade's words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Final

from outcomes.core.errors import margin
from outcomes.core.grades import is_pelvic_drop, kept_by
from outcomes.core.quantities import shown, unit_sign
from outcomes.core.readings import conditions_of
from outcomes.core.status import Change
from outcomes.core.symmetry import why_other_limb_is_not_fair
from outcomes.core.values import (
    Better,
    EntryKind,
    EpisodeFacts,
    Limb,
    Measure,
    NotAssessable,
    Operator,
    Reading,
    ReadingStatus,
    Symmetry,
    SymmetryForm,
    Why,
)

UNKNOWN: Final = "error not known"
"""Said where no measurement error is published: then nothing is called a real change or not."""

NUMBERS: Final = ("no", "one", "two", "three", "four")

STATUS: Final[Mapping[ReadingStatus, str]] = {
    ReadingStatus.MEASURED: "measured",
    ReadingStatus.STOPPED_BY_PAIN: "stopped by pain",
    ReadingStatus.UNABLE: "unable",
    ReadingStatus.DECLINED: "declined",
    ReadingStatus.SURGEONS_LIMIT: "held back by the surgeon's limit",
}

DECISION_OPEN: Final = "Decision open: physiotherapist with surgeon and patient."
"""Travels with every list of criteria, on screen, in letters and in files."""

WHY: Final[Mapping[Why, str]] = {
    Why.NO_READING: "not tested",
    Why.NO_PAIR: "not tested on both sides on one day",
    Why.OTHER_LIMB_NOT_TESTED: "other side not tested",
    Why.INVOLVED_NOT_TESTED: "operated or injured side not tested",
    Why.ZERO_REFERENCE: "the reference is zero",
    Why.DIFFERENT_KEY: "the two sides were tested under different conditions",
    Why.BOTH_AT_CAP: "both sides reached the cap: symmetry says nothing, add load",
    Why.NO_RATIO: "not compared limb against limb",
    Why.NO_BODY_MASS: "no body mass on record that is recent enough",
    Why.NOT_FOR_CHILDREN: "no adult norm is used for a child",
    Why.NO_SEX_NORM: "no norm, because sex for norms is not stated",
    Why.NO_INVOLVED_LIMB: "no side is named as operated or injured",
    Why.INPUT_NOT_TESTED: "what it is worked out from was not tested on one day",
    Why.INPUTS_DIFFER: "what it is worked out from was tested under different conditions",
    Why.NO_NORM: "no threshold is published for this sex, age and graft",
    Why.NO_CLINIC_NORM: "not assessable until a clinic enters the percentiles",
    Why.BEFORE_EARLIEST_WEEK: "before its earliest week",
    Why.NOT_REPEATED: "met once, and asked on two tests",
    Why.NO_EARLIER_VALUE: "no earlier value under the same conditions",
    Why.NO_VALUE_BEFORE_SURGERY: "the other side was not tested before surgery",
    Why.NO_BODY_SIZE: "no height or leg length on record that is recent enough",
    Why.TOO_FEW_ANSWERS: "too few items were answered",
    Why.NO_WINDOW: "no date to count from",
}

NOT_FAIR: Final[Mapping[str, str]] = {
    "graft_from_other_limb": "the graft came from the other side",
    "other_knee_followed": "both knees are followed",
    "earlier_surgery": "the other side had earlier surgery",
    "current_problem": "the other side has a problem of its own",
    "not_stated": "not asked yet whether the other side is healthy",
}


def number_words(*, measure: Measure, value: Decimal | Fraction) -> str:
    """A value with its unit, without its sign in the extension entry: "158.0 N·m", "24.6 s"."""
    sign = unit_sign(unit=measure.unit)
    number = shown(value=value, decimals=measure.decimals)
    return f"{number}{'' if sign in ('', '°') else ' '}{sign}"


def value_words(
    *, measure: Measure, value: Decimal | None, status: ReadingStatus = ReadingStatus.MEASURED
) -> str:
    """One value as people say it: "lacks 5°", "moderate", "2 of 10", "19.2 s, stopped by pain".

    A test without a value says what became of it. Extension never shows a sign.
    """
    if value is None:
        return STATUS[status]
    if measure.entry is EntryKind.GRADE:
        words = measure.word(value=value)
    elif measure.entry is EntryKind.EXTENSION:
        words = _extension_words(measure=measure, value=value)
    elif measure.unit == "{score}":
        top = shown(value=measure.hard[1], decimals=0)
        words = f"{shown(value=value, decimals=measure.decimals)} of {top}"
    else:
        words = number_words(measure=measure, value=value)
    return words if status is ReadingStatus.MEASURED else f"{words}, {STATUS[status]}"


def reading_words(*, measure: Measure, reading: Reading) -> str:
    """The value of one reading; a grade that a trick kept good says so: "level, by leaning"."""
    trick = kept_by(measure=measure, reading=reading) if reading.value is not None else ""
    said = value_words(measure=measure, value=reading.value, status=reading.status)
    return f"{said}, {trick}" if trick else said


def _extension_words(*, measure: Measure, value: Decimal) -> str:
    size = number_words(measure=measure, value=abs(value))
    if shown(value=value, decimals=measure.decimals).strip("-0.") == "":
        return "straight"
    return f"lacks {size}" if value > 0 else f"{size} beyond straight"


def conditions_words(*, measure: Measure, key: str) -> str:
    """The conditions of a comparison key: "fixed dynamometer, knee angle 90°", "step height 15 cm".

    A choice is said by its own word, a number with what it is the number of.
    """
    found = conditions_of(key=key)
    words = []
    for condition in measure.conditions:
        typed = found.get(condition.code, "")
        if not typed:
            continue
        label = next((c.label for c in condition.choices if c.code == typed), "")
        sign = unit_sign(unit=condition.unit)
        name = condition.label.partition(" (")[0]
        words.append(label or f"{name} {typed}{'' if sign in ('', '°') else ' '}{sign}")
        if label in ("no", "yes", "none", "worn", "free"):
            words[-1] = f"{name} {label}"
    return ", ".join(words)


def drop_words(*, standing: Limb, grade: str, trick: str = "") -> str:
    """What the pelvis does in a single-leg task, as a sentence; ``trick`` is what kept it level.

    >>> drop_words(standing=Limb.RIGHT, grade="moderate")
    'Standing on the right, the left side of the pelvis drops.'
    """
    if grade == "level" and trick:
        return f"Standing on the {standing}, the pelvis is level, {trick}."
    if grade == "level":
        return f"Standing on the {standing}, the pelvis stays level."
    return f"Standing on the {standing}, the {standing.opposite} side of the pelvis drops."


def finding_words(*, measure: Measure, standing: Limb, grade: str, trick: str = "") -> str:
    """What a grade of a single-leg task found, as a sentence about the leg that is stood on.

    A finding that is there or is not says no sentence of its own: the text is then empty.
    """
    if is_pelvic_drop(measure=measure):
        return drop_words(standing=standing, grade=grade, trick=trick)
    if measure.yes_or_no:
        return ""
    name = measure.short_label[:1].lower() + measure.short_label[1:]
    return f"Standing on the {standing}, {name}: {grade}."


def why_words(*, why: NotAssessable, measure: Measure, facts: EpisodeFacts | None = None) -> str:
    """Why there is no number, in a few words; ``facts`` names what is wrong with the other side."""
    if why.why is Why.OTHER_LIMB_NOT_FAIR:
        reason = why_other_limb_is_not_fair(facts=facts) if facts else ""
        return NOT_FAIR.get(reason or "", "the other side is no fair reference")
    if why.why is Why.LIMITED_BY_PAIN:
        return f"{why.detail} side stopped by pain" if why.detail else "stopped by pain"
    if why.why is Why.NOT_DONE:
        return STATUS[ReadingStatus(why.detail)] if why.detail else "not done"
    if why.why is Why.INPUT_NOT_TESTED and why.detail:
        return f"no {why.detail.replace('_', ' ')} on record that is recent enough"
    if why.why in (Why.KEPT_LEVEL_BY, Why.DETAIL_MISSING):
        return _detail_words(why=why, measure=measure)
    return WHY[why.why]


def _detail_words(*, why: NotAssessable, measure: Measure) -> str:
    for detail in measure.details:
        if why.why is Why.DETAIL_MISSING and detail.code == why.detail:
            return f"not recorded: {detail.label}"
        for choice in detail.choices:
            if detail.spoils and choice.code == why.detail:
                return f"{choice.label}: not a level pelvis"
    return "not recorded how it was done"


Cuts = Sequence[tuple[Decimal, Operator]]
"""Thresholds that a shown number must not be rounded across."""


def cut_words(*, value: Decimal | Fraction, decimals: int, cuts: Cuts) -> str:
    """A number as it is shown, cut toward the side it is on where rounding would cross a threshold.

    >>> cut_words(value=Decimal("89.6"), decimals=0, cuts=[(Decimal(90), Operator.AT_LEAST)])
    '89'
    """
    plain = shown(value=value, decimals=decimals)
    told = (
        shown(value=value, decimals=decimals, threshold=threshold, operator=operator)
        for threshold, operator in cuts
    )
    return next((text for text in told if text != plain), plain)


def symmetry_words(*, measure: Measure, symmetry: Symmetry, cuts: Cuts = ()) -> str:
    """The symmetry of a pair: "78 %", "5° short of the other side", "one grade worse".

    A percentage is the limb symmetry index (LSI). Differences say which way, never a bare sign.
    ``cuts`` are thresholds that the number must not be rounded across.
    """
    if symmetry.form is not SymmetryForm.DIFFERENCE:
        return f"{cut_words(value=symmetry.value, decimals=0, cuts=cuts)} %"
    worse = -symmetry.value if measure.better is Better.HIGHER else symmetry.value
    if measure.entry is EntryKind.GRADE:
        return _grades_apart(worse=worse)
    size = number_words(measure=measure, value=abs(worse))
    if not worse:
        return "same as the other side"
    if measure.better is Better.TOWARD_ZERO:
        return f"{size} apart"
    if measure.better is Better.HIGHER or measure.entry is EntryKind.EXTENSION:
        said = ("short of", "more than")
    else:
        said = ("more than", "less than")
    return f"{size} {said[worse < 0]} the other side"


def _grades_apart(*, worse: Fraction) -> str:
    count = abs(int(worse))
    if not count:
        return "both sides alike"
    grades = f"{NUMBERS[count]} grade{'s' if count > 1 else ''}"
    return f"{grades} {'worse' if worse > 0 else 'better'} than the other side"


def error_words(*, sem: Decimal | None, unit: str = "") -> str:
    """The measurement error of one value (1.645 x SEM), or that none is known."""
    if sem is None:
        return UNKNOWN
    sign = "" if not unit else ("" if unit == "°" else " ") + unit
    return f"error about {shown(value=margin(sem=sem), decimals=0)}{sign}"


def index_change_words(*, change: Change) -> str:
    """How a symmetry index moved: "up 16", "down 3: no real change", "up 4, error not known"."""
    step = change.after - change.before
    size = shown(value=abs(step), decimals=0)
    if size == "0":
        return "the same"
    return (
        f"{'up' if step > 0 else 'down'} {size}{_tester(change)}{_beyond_error(real=change.real)}"
    )


def change_words(*, measure: Measure, change: Change) -> str:
    """How one limb's value moved: "4.7 s more", "one grade less", "2° more extension".

    Where an error is known, a change within it is "no real change"; where none is known the words
    say so. Grades are words and have no error.
    """
    step = change.after - change.before
    if measure.yes_or_no:
        now = measure.word(value=Decimal(int(change.after)))
        return f"changed to {now}" if step else f"still {now}"
    if measure.entry is EntryKind.GRADE:
        count = abs(int(step))
        grades = f"{NUMBERS[count]} grade{'s' if count > 1 else ''}"
        if not count:
            return "the same grade"
        return f"{grades} {'more' if step > 0 else 'less'}{_tester(change)}"
    if not step:
        return "the same"
    more, less = ("higher", "lower") if measure.unit == "{score}" else ("more", "less")
    if measure.entry is EntryKind.EXTENSION:
        more, less = "less extension", "more extension"
    size = number_words(measure=measure, value=abs(step))
    way = more if step > 0 else less
    return f"{size} {way}{_tester(change)}{_beyond_error(real=change.real)}"


def _tester(change: Change) -> str:
    return ", another tester" if change.other_tester else ""


def _beyond_error(*, real: bool | None) -> str:
    if real is None:
        return f", {UNKNOWN}"
    return "" if real else ": no real change"
