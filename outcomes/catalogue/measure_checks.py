"""What contradicts itself in a measure, refused with file and key."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Final

from outcomes.catalogue.fields import Fields, SeedError
from outcomes.core.quantities import UNITS
from outcomes.core.values import (
    Basis,
    Better,
    Derivation,
    EntryKind,
    Formula,
    Measure,
    Relative,
    Summary,
    SymmetryForm,
)

RATIOS: Final = (SymmetryForm.RATIO, SymmetryForm.INVERTED_RATIO)
BETTER_FOR: Final = {
    SymmetryForm.RATIO: Better.HIGHER,
    SymmetryForm.INVERTED_RATIO: Better.LOWER,
}
BASIS_FOR: Final = {
    Basis.SYMMETRY: RATIOS,
    Basis.DIFFERENCE: (SymmetryForm.DIFFERENCE,),
}
RELATIVE_TO: Final = {
    Relative.BODY_MASS: ("N.m",),
    Relative.BODY_WEIGHT: ("N",),
    Relative.HEIGHT: ("cm",),
    Relative.LEG_LENGTH: ("cm",),
}
UNIT_OF: Final = {
    EntryKind.GRADE: "{score}",
    EntryKind.ITEMS: "{score}",
    EntryKind.EXTENSION: "deg",
    EntryKind.TORQUE: "N.m",
    EntryKind.JUMP: "cm",
}
FURTHER: Final = {EntryKind.TORQUE: "force", EntryKind.JUMP: "time"}
"""A second dimension that may be typed: a force with its lever arm, a flight time."""
INPUTS: Final = {Formula.RATIO: 2, Formula.REACH_COMPOSITE: 4}


def check(*, measure: Measure, fields: Fields) -> None:
    """Raise ``SeedError`` for the first contradiction within a measure."""
    for one in (
        _numbers, _grades, _items, _entry, _units, _derived, _symmetry, _trials, _codes,
        _errors, _thresholds,
    ):  # fmt: skip
        one(measure, fields)


def _numbers(measure: Measure, fields: Fields) -> None:
    if measure.unit not in UNITS:
        raise fields.refuse("unit", f"{measure.unit!r} is not a known UCUM code")
    if measure.soft[0] < measure.hard[0] or measure.soft[1] > measure.hard[1]:
        raise fields.refuse("soft", "lies outside hard")
    if measure.cap is None:
        return
    counted = UNITS[measure.unit][0] in ("time", "count")
    if measure.cap != measure.hard[1] or measure.better is not Better.HIGHER or not counted:
        raise fields.refuse("cap", "is the upper hard limit of a timed or counted test")


def _grades(measure: Measure, fields: Fields) -> None:
    if (measure.entry is EntryKind.GRADE) != bool(measure.grades):
        raise fields.refuse("grades", "go with entry grade and with no other")
    ranks = (Decimal(0), Decimal(len(measure.grades) - 1))
    if measure.grades and (measure.hard != ranks or measure.unit != "{score}"):
        raise fields.refuse("hard", "of grades are the first and last rank, the unit {score}")


def _items(measure: Measure, fields: Fields) -> None:
    if (measure.entry is EntryKind.ITEMS) != bool(measure.items):
        raise fields.refuse("items", "go with entry items and with no other")
    most = sum(max(item.points) for item in measure.items)
    if measure.items and measure.hard != (Decimal(0), Decimal(most)):
        raise fields.refuse("hard", f"of items are 0 and the sum of their points, {most}")


def _entry(measure: Measure, fields: Fields) -> None:
    wanted = UNIT_OF.get(measure.entry, measure.unit)
    if measure.unit != wanted:
        raise fields.refuse("unit", f"of entry {measure.entry} is {wanted}")
    if measure.entry is EntryKind.JUMP and "s" not in measure.entry_units:
        raise fields.refuse("entry_units", "of a jump must hold s, its flight time")
    if measure.relative and measure.unit not in RELATIVE_TO[measure.relative]:
        units = ", ".join(RELATIVE_TO[measure.relative])
        raise fields.refuse("relative", f"{measure.relative} goes with the unit {units}")


def _units(measure: Measure, fields: Fields) -> None:
    dimensions = {UNITS[measure.unit][0], FURTHER.get(measure.entry, "")}
    for other in measure.entry_units:
        if other not in UNITS or UNITS[other][0] not in dimensions:
            raise fields.refuse("entry_units", f"{other!r} does not convert to {measure.unit}")
    if measure.entry_units and measure.unit not in measure.entry_units:
        raise fields.refuse("entry_units", f"must hold {measure.unit} too")


def _derived(measure: Measure, fields: Fields) -> None:
    derived = measure.derived
    if (measure.entry is EntryKind.DERIVED) != (derived is not None):
        raise fields.refuse("derived", "goes with entry derived and with no other")
    if derived is None:
        return
    if len(derived.inputs) != INPUTS[derived.formula] or measure.code in derived.inputs:
        wanted = INPUTS[derived.formula]
        raise fields.refuse("derived", f"{derived.formula} has {wanted} inputs other than itself")
    if not set(derived.carried) < set(derived.inputs):
        raise fields.refuse("derived", "carried must name some of the inputs, not all")
    if measure.entry_units or measure.details or measure.trials > 1:
        raise fields.refuse("derived", "a value that is not typed has no units, details or trials")
    _same_conditions(measure, derived, fields)


def _same_conditions(measure: Measure, derived: Derivation, fields: Fields) -> None:
    if {condition.code for condition in measure.conditions} != set(derived.alike):
        raise fields.refuse("derived", "alike must name every condition of this measure")


def check_inputs(*, measure: Measure, catalogue: Mapping[str, Measure]) -> None:
    """Raise ``SeedError`` for a derived measure that its inputs cannot feed.

    Every input is in the catalogue and typed, for a limb each; those of the day have all the
    conditions that must be alike.
    """
    if measure.derived is None:
        return
    where = f"{measure.code}.toml: derived"
    for code in measure.derived.inputs:
        found = catalogue.get(code)
        if found is None or not found.typed or found.per_limb != measure.per_limb:
            raise SeedError(f"{where}: {code!r} is no typed measure of a limb in the catalogue")
        conditions = {condition.code for condition in found.conditions}
        if code not in measure.derived.carried and not conditions.issuperset(measure.derived.alike):
            raise SeedError(f"{where}: {code!r} lacks a condition that must be alike")


def _symmetry(measure: Measure, fields: Fields) -> None:
    form = measure.symmetry
    if not measure.per_limb and (form is not SymmetryForm.NONE or measure.standing):
        raise fields.refuse("symmetry", "needs a value for each limb")
    if form in RATIOS and (measure.unit in ("deg", "{score}") or measure.grades):
        raise fields.refuse("symmetry", "angles, grades and pain have no ratio")
    if form in BETTER_FOR and measure.better is not BETTER_FOR[form]:
        raise fields.refuse("symmetry", f"{form} goes with better {BETTER_FOR[form]}")
    if form is not SymmetryForm.NONE and not measure.other_limb_asked:
        raise fields.refuse("other_limb_asked", "a symmetry needs the other limb")


def _trials(measure: Measure, fields: Fields) -> None:
    if (measure.summary is Summary.SINGLE) != (measure.trials == 1):
        raise fields.refuse("trials", "one trial goes with summary single, more with another")
    undirected = (Better.MATCH_OTHER, Better.NEITHER)
    if measure.summary is Summary.BEST and measure.better in undirected:
        raise fields.refuse("summary", f"there is no best where better is {measure.better}")
    one_value = (EntryKind.GRADE, EntryKind.ITEMS, EntryKind.EXTENSION)
    if measure.trials > 1 and measure.entry in one_value:
        raise fields.refuse("trials", f"entry {measure.entry} takes one value")


def _codes(measure: Measure, fields: Fields) -> None:
    codes = [condition.code for condition in measure.conditions]
    codes += [detail.code for detail in measure.details]
    codes += [item.code for item in measure.items]
    if len(set(codes)) != len(codes):
        raise fields.refuse("conditions", "names a condition, detail or item twice")


def _errors(measure: Measure, fields: Fields) -> None:
    for number, error in enumerate(measure.errors):
        key = f"errors[{number}]"
        _basis(measure, fields, key, error.of)
        choices = {c.code: {one.code for one in c.choices} for c in measure.conditions}
        for code, choice in error.conditions:
            if choice not in choices.get(code, ()):
                raise fields.refuse(key, f"{code} {choice!r} is no condition of this test")


def _thresholds(measure: Measure, fields: Fields) -> None:
    for number, threshold in enumerate(measure.thresholds):
        key = f"thresholds[{number}]"
        _basis(measure, fields, key, threshold.of)
        low, high = measure.hard
        if threshold.of is Basis.VALUE and not low <= threshold.value <= high:
            raise fields.refuse(key, f"{threshold.value} is outside {low} to {high}")
        if threshold.value < 0 and threshold.of not in (Basis.VALUE, Basis.DIFFERENCE):
            raise fields.refuse(key, "must not be below zero")


def _basis(measure: Measure, fields: Fields, key: str, of: Basis) -> None:
    """What an error or a threshold speaks of must be something that this measure has."""
    if of is Basis.VALUE:
        return
    fits = measure.symmetry in BASIS_FOR[of] if of in BASIS_FOR else measure.relative == of.value
    if not fits:
        raise fields.refuse(key, f"of: {of} does not go with this measure")
