"""One typed text as the canonical value of a measure: grade, number, force, flight time, items."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Final

from outcomes.core.jumps import jump_height
from outcomes.core.quantities import (
    UNITS,
    TypedError,
    canonical,
    convert,
    parse_number,
    unit_sign,
)
from outcomes.core.strength import torque
from outcomes.core.values import EntryKind, Measure

LONGEST: Final = 60
"""Characters of a typed value that are kept."""
OTHER_UNIT_DECIMALS: Final = {"s": 3}
"""Digits after the mark in a unit that is not the measure's own; two in the others."""


def is_force(*, measure: Measure, unit: str) -> bool:
    """Whether a force is typed whose torque needs a lever arm."""
    return measure.entry is EntryKind.TORQUE and UNITS.get(unit, ("", 0))[0] == "force"


def number_of(*, measure: Measure, text: str, unit: str, lever: Decimal | None) -> Decimal:
    """The canonical value of a text typed in ``unit`` (empty for a score).

    ``lever`` is the lever arm in cm where a force is typed. Raises ``TypedError`` with a sentence
    that says what to type instead.
    """
    if len(text) > LONGEST:
        raise TypedError(code="too_long", message="Type a shorter number.")
    if measure.entry is EntryKind.GRADE:
        if text.strip() not in measure.grades:
            raise TypedError(code="grade", message=f"Choose one of: {', '.join(measure.grades)}.")
        return canonical(value=measure.rank(word=text.strip()))
    number = _parsed(measure=measure, text=text, unit=unit)
    if is_force(measure=measure, unit=unit):
        force = convert(value=number, source=unit, target="N")
        return canonical(value=torque(force=force, lever_arm=(lever or Decimal(1)) / 100))
    if measure.entry is EntryKind.JUMP and unit == "s":
        return canonical(value=jump_height(flight_time=number))
    return canonical(
        value=convert(value=number, source=unit, target=measure.unit) if unit else number
    )


def _parsed(*, measure: Measure, text: str, unit: str) -> Decimal:
    own = unit in ("", measure.unit)
    decimals = measure.decimals if own else OTHER_UNIT_DECIMALS.get(unit, 2)
    if own and measure.unit.startswith("{"):
        decimals = 0
    try:
        return parse_number(text=text, decimals=decimals, signed=measure.hard[0] < 0)
    except TypedError as error:
        if error.code == "not_a_number" and unit and text.strip()[-1:].isalpha():
            message = f"Type the number alone: it is taken in {unit_sign(unit=unit)}."
            raise TypedError(code="unit_typed", message=message) from error
        raise


def items_sum(*, measure: Measure, chosen: Mapping[str, str]) -> tuple[Decimal | None, list[str]]:
    """The sum of the points of the chosen items, and the codes of the items that are not chosen.

    The sum is None while one is missing. Only choices that the items have may come here.
    """
    points = [item.score(code=chosen.get(item.code, "")) for item in measure.items]
    missing = [
        item.code for item, found in zip(measure.items, points, strict=True) if found is None
    ]
    return (None if missing else Decimal(sum(found or 0 for found in points))), missing
