"""A derived number, opened: what it was made from, how, its error, its source, its version."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Final

from clinic import words
from outcomes.core.errors import margin, mdc
from outcomes.core.measures import OWN_SOURCE
from outcomes.core.quantities import plain, shown, unit_sign
from outcomes.core.readings import conditions_of
from outcomes.core.relative import SIGN
from outcomes.core.values import (
    Basis,
    Better,
    CriterionResult,
    EpisodeFacts,
    Form,
    Formula,
    Limb,
    Mark,
    Measure,
    MeasurementError,
    Reading,
    Relative,
    Source,
    Subject,
    Symmetry,
    SymmetryForm,
    Threshold,
)
from outcomes.core.wording import Cuts, conditions_words, cut_words, value_words
from outcomes.queries.result_words import OPERATOR, amount_words

MARK: Final[Mapping[Mark, str]] = {
    Mark.SEEN: "read in the source",
    Mark.SECOND_HAND: "quoted by another source",
    Mark.MEMORY: "from memory, unverified",
    Mark.COMPUTED: "worked out from printed numbers",
    Mark.COMMON_PRACTICE: "common practice, no source",
    Mark.CLINIC_SETTING: "this clinic's setting",
}
OWN_SETTING: Final = "This clinic’s setting"
"""How a source begins that was written for a changed number."""
NO_ERROR: Final = "No published error is known: nothing is called borderline or a real change."

NO_SEM: Final = "No SEM is kept for a questionnaire’s score: nothing is called borderline."


@dataclass(frozen=True, kw_only=True, slots=True)
class Opened:
    """What stands behind a number: pairs of a heading and its lines."""

    parts: tuple[tuple[str, tuple[str, ...]], ...]


def open_criterion(
    *,
    found: CriterionResult,
    facts: EpisodeFacts,
    readings: Mapping[int, Reading],
    measures: Mapping[str, Measure],
    protocol: str,
) -> Opened:
    """What a criterion was judged on, the rule, the error, and where the threshold comes from."""
    used = [readings[ref] for ref in found.refs if ref in readings]
    criterion = found.criterion
    threshold = ("Threshold from", source_lines(sources=criterion.sources))
    if criterion.subject is Subject.SCORE:
        return _opened(
            ("From", (_score_line(found),)),
            ("Error", (NO_SEM,)),
            threshold,
            ("Rule", (rule_words(found=found),)),
            ("Version", (protocol,)),
        )
    if criterion.subject is not Subject.MEASURE:
        return _opened(threshold, ("Rule", (rule_words(found=found),)), ("Version", (protocol,)))
    measure = measures[criterion.measure]
    return _opened(
        ("From", input_lines(readings=used, measures=measures) or ("Nothing was measured yet.",)),
        ("Worked out", _criterion_formula(found=found, measure=measure, facts=facts, used=used)),
        ("Error", error_lines(error=_error_of(form=criterion.form, measure=measure, used=used))),
        threshold,
        ("Rule", (rule_words(found=found),)),
        ("Version", (f"{protocol}; {_version(measure)}",)),
    )


def _score_line(found: CriterionResult) -> str:
    """The score that was judged, to two decimals, and the day of its questionnaire."""
    if found.on is None:
        return "Nothing was filled in yet."
    day = f"questionnaire of {words.day(found.on)}"
    if found.value is None:
        return f"No score, {day}"
    number = shown(
        value=found.value, decimals=0 if found.value.denominator == 1 else 2,
        threshold=found.threshold, operator=found.criterion.operator,
    )  # fmt: skip
    return f"Score {number}, {day}; decided on the unrounded score"


def open_symmetry(
    *, measure: Measure, symmetry: Symmetry, facts: EpisodeFacts, cuts: Cuts = ()
) -> Opened:
    """Both values of a symmetry, the formula with its numbers, the error and the sources."""
    pair = symmetry.pair
    used = [reading for reading in (pair.left, pair.right) if reading is not None]
    return _opened(
        ("From", input_lines(readings=used, measures={measure.code: measure})),
        (
            "Worked out",
            (symmetry_formula(measure=measure, symmetry=symmetry, facts=facts, cuts=cuts),),
        ),
        ("Error", error_lines(error=_symmetry_error(measure, used))),
        ("How to read it", (measure.how_to_read,)),
        ("In use elsewhere", threshold_lines(measure=measure)),
        ("Source", source_lines(sources=measure.sources)),
        ("Version", (_version(measure),)),
    )


def open_value(*, measure: Measure, readings: Iterable[Reading]) -> Opened:
    """Values as they were measured, with how to read them."""
    used = list(readings)
    return _opened(
        ("From", input_lines(readings=used, measures={measure.code: measure})),
        (
            "Error",
            () if measure.yes_or_no else error_lines(error=_error(measure, Basis.VALUE, used)),
        ),
        ("How to read it", (measure.how_to_read,)),
        ("In use elsewhere", threshold_lines(measure=measure)),
        ("Source", source_lines(sources=measure.sources)),
        ("Version", (_version(measure),)),
    )


def open_derived(
    *, measure: Measure, readings: Iterable[Reading], measures: Mapping[str, Measure]
) -> Opened:
    """The values that each derived one was worked out from, and how."""
    used = list(readings)
    return _opened(
        ("From", tuple(derived_inputs(reading=one, measures=measures) for one in used)),
        ("Worked out", tuple(derived_formula(measure=measure, reading=one) for one in used)),
        ("Error", error_lines(error=_error(measure, Basis.VALUE, used))),
        ("How to read it", (measure.how_to_read,)),
        ("In use elsewhere", threshold_lines(measure=measure)),
        ("Source", source_lines(sources=measure.sources)),
        ("Version", (_version(measure),)),
    )


def derived_inputs(*, reading: Reading, measures: Mapping[str, Measure]) -> str:
    """The inputs of a derived value with their days: "Left: Hamstrings 98.0 N·m, …"."""
    said = []
    for code, text in reading.details.items():
        if code not in measures:
            continue
        value = value_words(measure=measures[code], value=Decimal(text))
        older = reading.details.get(f"{code}_on", "")
        day = f" ({words.day(date.fromisoformat(older))})" if older else ""
        said.append(f"{measures[code].short_label} {value}{day}")
    return f"{reading.limb.capitalize()}: {', '.join(said)}; {words.day(reading.on)}"


def derived_formula(*, measure: Measure, reading: Reading) -> str:
    """The formula of a derived value with its numbers."""
    if measure.derived is None:
        raise AssertionError(f"{measure.code} is typed, not derived")
    numbers = [reading.details[code] for code in measure.derived.inputs]
    if measure.derived.formula is Formula.RATIO:
        said = " ÷ ".join(numbers)
    else:
        said = f"({' + '.join(numbers[:-1])}) ÷ (3 × {numbers[-1]}) × 100"
    value = value_words(measure=measure, value=reading.value)
    return f"{reading.limb.capitalize()}: {said} = {value}"


def threshold_lines(*, measure: Measure) -> tuple[str, ...]:
    """The thresholds that others use, with whom: "over 90 % symmetry: … (source)".

    They decide nothing here: what is asked of a patient stands in the protocol.
    """
    return tuple(_threshold_line(measure, one) for one in measure.thresholds)


def _threshold_line(measure: Measure, one: Threshold) -> str:
    if measure.grades:
        number = measure.word(value=one.value)
    elif one.of is Basis.SYMMETRY:
        number = f"{plain(value=one.value)} % symmetry"
    elif one.of in (Basis.VALUE, Basis.DIFFERENCE):
        sign = unit_sign(unit=measure.unit)
        number = f"{_minus(plain(value=one.value))}{'' if sign in ('', '°') else ' '}{sign}"
        number += " side to side" if one.of is Basis.DIFFERENCE else ""
    else:
        number = f"{plain(value=one.value)} {SIGN[Relative(one.of.value)]}"
    said = f"{OPERATOR[one.operator].capitalize()} {number}: {one.population}."
    return f"{said} {_source_line(one.source)}"


def _opened(*parts: tuple[str, tuple[str, ...]]) -> Opened:
    return Opened(parts=tuple((head, lines) for head, lines in parts if lines))


def _version(measure: Measure) -> str:
    return f"{measure.label}, version {measure.version}"


def input_lines(*, readings: Iterable[Reading], measures: Mapping[str, Measure]) -> tuple[str, ...]:
    """Each reading with limb, value, date and conditions."""
    return tuple(_input_line(reading, measures[reading.measure]) for reading in readings)


def _input_line(reading: Reading, measure: Measure) -> str:
    value = value_words(measure=measure, value=reading.value, status=reading.status)
    limb = measure.short_label if reading.limb is Limb.NONE else reading.limb.capitalize()
    how = [conditions_words(measure=measure, key=reading.key), *_details(reading, measure)]
    said = ", ".join(part for part in how if part)
    return f"{limb} {value}, {words.day(reading.on)}" + (f" ({said})" if said else "")


def _details(reading: Reading, measure: Measure) -> list[str]:
    """What was noted beside a value: "what ended it: trunk leaned"."""
    return [
        f"{detail.label}: {choice.label}"
        for detail in measure.chosen
        for choice in detail.choices
        if reading.details.get(detail.code) == choice.code
    ]


@lru_cache(maxsize=256)
def source_lines(*, sources: tuple[Source, ...]) -> tuple[str, ...]:
    """Where numbers come from, each with how well it is supported."""
    return tuple(_source_line(source) for source in sources)


def _source_line(source: Source) -> str:
    mark = MARK[source.mark]
    complete = (mark, "setting of this house", OWN_SOURCE)
    whole = source.text.endswith(complete) or source.text.startswith(OWN_SETTING)
    said = source.text if whole else ""
    line = said or f"{source.text}: {mark}"
    return f"{line} (doi {source.doi})" if source.doi else line


@lru_cache(maxsize=64)
def error_lines(*, error: MeasurementError | None) -> tuple[str, ...]:
    """The published error, what it was found on, and what follows from it."""
    if error is None:
        return (NO_ERROR,)
    edge = shown(value=margin(sem=error.sem), decimals=1)
    change = shown(value=mdc(sem=error.sem, confidence=95), decimals=1)
    return (
        f"SEM {plain(value=error.sem)}: {error.population}; {error.method}.",
        f"Borderline within {edge} of a threshold (1.645 × SEM); a change is real from {change} "
        "(MDC95 = 1.96 × square root of 2 × SEM).",
        _source_line(error.source),
    )


def _error_of(*, form: Form, measure: Measure, used: Sequence[Reading]) -> MeasurementError | None:
    kinds = {Form.SYMMETRY: Basis.SYMMETRY, Form.SHORT_OF_OTHER: Basis.DIFFERENCE}
    return _error(measure, kinds.get(form, Basis.VALUE), used)


def _symmetry_error(measure: Measure, used: Sequence[Reading]) -> MeasurementError | None:
    difference = measure.symmetry is SymmetryForm.DIFFERENCE
    return _error(measure, Basis.DIFFERENCE if difference else Basis.SYMMETRY, used)


def _error(measure: Measure, of: Basis, used: Sequence[Reading]) -> MeasurementError | None:
    """The error under the conditions of the readings; none where each has another one."""
    keys = {reading.key for reading in used if reading.measure == measure.code} or {""}
    found = {measure.error_of(of=of, conditions=conditions_of(key=key)) for key in keys}
    return found.pop() if len(found) == 1 else None


def rule_words(*, found: CriterionResult) -> str:
    """How old a value may be, and whether the criterion counts."""
    criterion = found.criterion
    counts = "counts" if criterion.hard else "is shown beside and does not count"
    if not criterion.maximum_age_days:
        return f"This criterion {counts}."
    return f"A value counts for {criterion.maximum_age_days} days; this criterion {counts}."


Sides = tuple[tuple[str, str], tuple[str, str]]
"""The involved limb and the other one, each with its value as text."""


def symmetry_formula(
    *, measure: Measure, symmetry: Symmetry, facts: EpisodeFacts, cuts: Cuts = ()
) -> str:
    """The formula in words with its numbers and the result to two decimals."""
    used = [r for r in (symmetry.pair.left, symmetry.pair.right) if r is not None]
    sides = _sides(measure=measure, facts=facts, used=used)
    if sides is None:
        return ""
    if symmetry.form is not SymmetryForm.DIFFERENCE:
        return _ratio(form=symmetry.form, sides=sides, value=symmetry.value, cuts=cuts)
    return _difference(sides=sides, value=symmetry.value, unit=measure.unit)


def _sides(*, measure: Measure, facts: EpisodeFacts, used: Iterable[Reading]) -> Sides | None:
    """Both limbs' values as text; None where one of them has none."""
    found = {
        reading.limb.value: _number(measure, reading.value)
        for reading in used
        if reading.measure == measure.code and reading.value is not None
    }
    here, there = facts.knee.value, facts.knee.opposite.value
    if here not in found or there not in found:
        return None
    return (here, found[here]), (there, found[there])


def _number(measure: Measure, value: Decimal) -> str:
    return _minus(shown(value=value, decimals=measure.decimals))


def _minus(number: str) -> str:
    return number.replace("-", "−")


def _ratio(*, form: SymmetryForm, sides: Sides, value: Fraction, cuts: Cuts) -> str:
    exact = cut_words(value=value, decimals=2, cuts=cuts)
    first, second = sides if form is SymmetryForm.RATIO else sides[::-1]
    why = "" if form is SymmetryForm.RATIO else "Lower is better, so "
    return f"{why}{first[0]} ÷ {second[0]} × 100 = {first[1]} ÷ {second[1]} × 100 = {exact} %"


def _difference(*, sides: Sides, value: Fraction, unit: str) -> str:
    (one, first), (two, second) = sides
    exact = _minus(shown(value=value, decimals=2))
    inside = f"({second})" if second.startswith("−") else second
    sign = unit_sign(unit=unit)
    return f"{one} − {two} = {first} − {inside} = {exact}{'' if sign in ('', '°') else ' '}{sign}"


WORKED: Final[Mapping[Form, str]] = {
    Form.PRE_INJURY: "The value now ÷ that of the other side before surgery × 100 (turned round "
    "where lower is better).",
    Form.CHANGE_SINCE_SURGERY: "The newest value − the first one since the index date.",
    Form.CHANGE_SINCE_LAST: "The newest value − the one before it.",
    Form.PER_BODY_WEIGHT: "The force ÷ (body mass × 9.80665) × 100.",
    Form.PER_HEIGHT: "The value ÷ height × 100.",
    Form.PER_LEG_LENGTH: "The value ÷ leg length × 100.",
}
"""How the number of a form comes about."""


def _criterion_formula(
    *, found: CriterionResult, measure: Measure, facts: EpisodeFacts, used: list[Reading]
) -> tuple[str, ...]:
    """How the criterion's number came about, where it is not simply what was measured."""
    form, value = found.criterion.form, found.value
    if value is None:
        return ()
    if form is Form.PER_BODY_MASS:
        return (_per_mass(found=found, measure=measure, used=used),)
    sides = _sides(measure=measure, facts=facts, used=used)
    if form not in (Form.SYMMETRY, Form.SHORT_OF_OTHER) or sides is None:
        return (WORKED.get(form, "The value as it was measured."),)
    if form is Form.SYMMETRY:
        cut = (found.threshold, found.criterion.operator)
        line = _ratio(form=measure.symmetry, sides=sides, value=value, cuts=[cut])
    else:
        flip = measure.better is Better.HIGHER
        line = _difference(sides=sides[::-1] if flip else sides, value=value, unit=measure.unit)
    return (line, "Decided on the unrounded value.")


def _per_mass(*, found: CriterionResult, measure: Measure, used: list[Reading]) -> str:
    mine = next((r for r in used if r.measure == measure.code), None)
    mass = next((r for r in used if r.limb is Limb.NONE and r.value is not None), None)
    if mine is None or mine.value is None or mass is None or mass.value is None:
        return ""
    exact = amount_words(
        criterion=found.criterion,
        measure=measure,
        value=found.value or Fraction(0),
        threshold=found.threshold,
    )
    kilograms = shown(value=mass.value, decimals=1)
    return f"{_number(measure, mine.value)} N·m ÷ {kilograms} kg = {exact}"
