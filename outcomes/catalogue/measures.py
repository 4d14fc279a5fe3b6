"""One measure from one mapping, refused where it is incomplete or contradicts itself."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Final

from outcomes.catalogue.fields import CODE, Fields, source_from, sources_from
from outcomes.core.quantities import UNITS
from outcomes.core.values import (
    Better,
    Choice,
    Condition,
    Detail,
    EntryKind,
    Measure,
    MeasurementError,
    Summary,
    SymmetryForm,
)

RATIOS: Final = (SymmetryForm.RATIO, SymmetryForm.INVERTED_RATIO)
BETTER_FOR: Final = {
    SymmetryForm.RATIO: Better.HIGHER,
    SymmetryForm.INVERTED_RATIO: Better.LOWER,
}
ERROR_FORMS: Final = {"symmetry": RATIOS, "difference": (SymmetryForm.DIFFERENCE,)}


def measure_from(mapping: Mapping[str, Any], *, where: str = "measure") -> Measure:
    """The measure that a seed or a stored version describes.

    ``where`` names the file. Raises ``SeedError`` naming file and key for anything missing,
    unknown or contradictory.
    """
    fields = Fields(mapping=mapping, where=where)
    measure = Measure(
        code=fields.code("code"),
        version=fields.integer("version", at_least=1),
        label=fields.text("label"),
        short_label=fields.text("short_label"),
        unit=fields.text("unit"),
        entry=fields.one_of("entry", EntryKind),
        per_limb=fields.truth("per_limb"),
        better=fields.one_of("better", Better),
        decimals=fields.integer("decimals"),
        hard=fields.limits("hard"),
        soft=fields.limits("soft"),
        symmetry=fields.one_of("symmetry", SymmetryForm),
        summary=fields.one_of("summary", Summary),
        trials=fields.integer("trials", at_least=1),
        sources=sources_from(fields),
        when_to_use=fields.text("when_to_use"),
        how_to_do=fields.text("how_to_do"),
        how_to_read=fields.text("how_to_read"),
        entry_units=fields.texts("entry_units"),
        grades=fields.texts("grades"),
        conditions=tuple(_condition(part) for part in fields.parts("conditions")),
        details=tuple(_detail(part) for part in fields.parts("details")),
        errors=tuple(_error(part) for part in fields.parts("errors")),
        cap=fields.decimal_or_none("cap"),
        earliest_week=fields.integer_or_none("earliest_week"),
        maximum_age_days=fields.integer_or_none("maximum_age_days", at_least=1),
        cautions=_cautions(fields),
        note=fields.text("note", default=""),
        standing=fields.truth("standing", default=False),
        other_limb_asked=fields.truth("other_limb_asked", default=True),
        per_body_mass=fields.truth("per_body_mass", default=False),
    )
    fields.done()
    for check in (_check_numbers, _check_entry, _check_symmetry, _check_trials, _check_parts):
        check(measure, fields)
    return measure


def _choices(fields: Fields, *, needed: bool) -> tuple[Choice, ...]:
    choices = []
    for part in fields.parts("choices", needed=needed):
        choices.append(Choice(code=part.code("code"), label=part.text("label")))
        part.done()
    if len({choice.code for choice in choices}) != len(choices):
        raise fields.refuse("choices", "names one twice")
    return tuple(choices)


def _condition(fields: Fields) -> Condition:
    condition = Condition(
        code=fields.code("code"),
        label=fields.text("label"),
        choices=_choices(fields, needed=False),
        unit=fields.text("unit", default=""),
        required=fields.truth("required", default=True),
    )
    fields.done()
    if bool(condition.choices) == bool(condition.unit):
        raise fields.refuse("unit", "give either choices or a unit")
    if condition.unit and condition.unit not in UNITS:
        raise fields.refuse("unit", f"{condition.unit!r} is not a known UCUM code")
    return condition


def _detail(fields: Fields) -> Detail:
    detail = Detail(
        code=fields.code("code"),
        label=fields.text("label"),
        choices=_choices(fields, needed=True),
        spoils=fields.texts("spoils"),
    )
    fields.done()
    if not set(detail.spoils) < {choice.code for choice in detail.choices}:
        raise fields.refuse("spoils", "must name some of the choices, not all")
    return detail


def _error(fields: Fields) -> MeasurementError:
    error = MeasurementError(
        of=fields.text("of"),
        sem=fields.decimal("sem"),
        population=fields.text("population"),
        method=fields.text("method"),
        source=source_from(fields.part("source")),
    )
    fields.done()
    if error.sem <= 0:
        raise fields.refuse("sem", "must be above zero")
    if error.of not in ("value", *ERROR_FORMS):
        raise fields.refuse("of", f"{error.of!r} is none of value, symmetry, difference")
    return error


def _cautions(fields: Fields) -> dict[str, str]:
    cautions = fields.table("cautions")
    for code, text in cautions.items():
        if not isinstance(text, str) or not text:
            raise fields.refuse(f"cautions.{code}", "must be a text")
        if not all(CODE.fullmatch(part) for part in code.split(":")):
            raise fields.refuse(f"cautions.{code}", "is not a code")
    return cautions


def _check_numbers(measure: Measure, fields: Fields) -> None:
    if measure.unit not in UNITS:
        raise fields.refuse("unit", f"{measure.unit!r} is not a known UCUM code")
    if measure.soft[0] < measure.hard[0] or measure.soft[1] > measure.hard[1]:
        raise fields.refuse("soft", "lies outside hard")
    if measure.cap is not None and (measure.cap != measure.hard[1] or measure.unit != "s"):
        raise fields.refuse("cap", "is the upper hard limit of a timed test")


def _check_entry(measure: Measure, fields: Fields) -> None:
    kind, unit = measure.entry, measure.unit
    if (kind is EntryKind.GRADE) != bool(measure.grades):
        raise fields.refuse("grades", "go with entry grade and with no other")
    if measure.grades and (
        measure.hard != (Decimal(0), Decimal(len(measure.grades) - 1)) or unit != "{score}"
    ):
        raise fields.refuse("hard", "of grades are the first and last rank, the unit {score}")
    if kind is EntryKind.EXTENSION and unit != "deg":
        raise fields.refuse("unit", "of an extension entry is deg")
    if kind is EntryKind.TORQUE and unit != "N.m":
        raise fields.refuse("unit", "of a torque entry is N.m")
    dimensions = {UNITS[unit][0]} | ({"force"} if kind is EntryKind.TORQUE else set())
    for other in measure.entry_units:
        if other not in UNITS or UNITS[other][0] not in dimensions:
            raise fields.refuse("entry_units", f"{other!r} does not convert to {unit}")
    if measure.entry_units and unit not in measure.entry_units:
        raise fields.refuse("entry_units", f"must hold {unit} too")
    if measure.per_body_mass and unit != "N.m":
        raise fields.refuse("per_body_mass", "goes with the unit N.m")


def _check_symmetry(measure: Measure, fields: Fields) -> None:
    form = measure.symmetry
    if not measure.per_limb and (form is not SymmetryForm.NONE or measure.standing):
        raise fields.refuse("symmetry", "needs a value for each limb")
    if form in RATIOS and (measure.unit in ("deg", "{score}") or measure.grades):
        raise fields.refuse("symmetry", "angles, grades and pain have no ratio")
    if form in BETTER_FOR and measure.better is not BETTER_FOR[form]:
        raise fields.refuse("symmetry", f"{form} goes with better {BETTER_FOR[form]}")
    if form is not SymmetryForm.NONE and not measure.other_limb_asked:
        raise fields.refuse("other_limb_asked", "a symmetry needs the other limb")
    for error in measure.errors:
        if error.of in ERROR_FORMS and form not in ERROR_FORMS[error.of]:
            raise fields.refuse("errors", f"an error of {error.of} does not go with {form}")


def _check_trials(measure: Measure, fields: Fields) -> None:
    if (measure.summary is Summary.SINGLE) != (measure.trials == 1):
        raise fields.refuse("trials", "one trial goes with summary single, more with another")
    undirected = (Better.MATCH_OTHER, Better.NEITHER)
    if measure.summary is Summary.BEST and measure.better in undirected:
        raise fields.refuse("summary", f"there is no best where better is {measure.better}")


def _check_parts(measure: Measure, fields: Fields) -> None:
    codes = [condition.code for condition in measure.conditions]
    codes += [detail.code for detail in measure.details]
    if len(set(codes)) != len(codes):
        raise fields.refuse("conditions", "names a condition or detail twice")
