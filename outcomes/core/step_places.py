"""Places in a progression: the level and its step, what comes next and what came before."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final

from outcomes.core.progressions import (
    Level,
    Prescription,
    Progression,
    Standing,
    Variable,
    load_in_kg,
    rounded_to_half,
)
from outcomes.core.readings import conditions_of
from outcomes.core.step_record import StepRecord

SMALLEST_LOAD: Final = Decimal("0.5")


@dataclass(frozen=True, kw_only=True, slots=True)
class Place:
    """A level by its place in the order and the step within it (kg, cm or per cent).

    ``index`` -1 is not begun. ``at`` is None without steps, and for a load where no recent body
    mass is on record. ``variable`` is what changed on the way here.
    """

    index: int
    at: Decimal | None = None
    variable: Variable | None = None


def place_of(*, standing: Standing, record: StepRecord) -> Place:
    """Where the patient stands: the step on record, else the one last tested, else the first.

    Raises ``KeyError`` for a level that the progression does not have.
    """
    if not standing.level:
        return Place(index=-1)
    index = standing.progression.place(code=standing.level)
    level = standing.progression.levels[index]
    if level.steps is None:
        return Place(index=index)
    first, last = ends_of(level=level, record=record)
    at = standing.at if standing.at is not None else _tested_at(level, record, standing)
    if at is None or first is None:
        return Place(index=index, at=first if at is None else at)
    return Place(index=index, at=at if last is None else min(at, last))


def _tested_at(level: Level, record: StepRecord, standing: Standing) -> Decimal | None:
    """The step of the newest test since the level was begun; None where none shows it."""
    if level.steps is None or not level.steps.condition:
        return None
    for one in record.mine(code=level.steps.measure):
        typed = conditions_of(key=one.key).get(level.steps.condition)
        if typed is not None and one.on >= standing.since:
            return Decimal(typed)
    return None


def ends_of(*, level: Level, record: StepRecord) -> tuple[Decimal | None, Decimal | None]:
    """First and last step of a level in its unit; a load in kg needs a recent body mass."""
    steps = level.steps
    if steps is None:
        return None, None
    if steps.variable is not Variable.LOAD:
        return steps.first, steps.last
    mass = record.body_mass
    first = load_in_kg(percent=steps.first, body_mass=mass) if steps.first else Decimal("0.0")
    return first, load_in_kg(percent=steps.last, body_mass=mass)


def next_place(*, progression: Progression, here: Place, record: StepRecord) -> Place | None:
    """One step up in one variable: within the level until its last step, then the next level.

    None at the end of the progression.
    """
    if here.index >= 0:
        level = progression.levels[here.index]
        within = _moved(level, here, record, up=True)
        if within is not None:
            return within
    index = here.index + 1
    return None if index >= len(progression.levels) else _begun(progression, index, record)


def place_before(*, progression: Progression, here: Place, record: StepRecord) -> Place | None:
    """One step down: within the level to its first step, then the level before. None at the start.

    The level before is begun with its first step.
    """
    if here.index < 0:
        return None
    within = _moved(progression.levels[here.index], here, record, up=False)
    if within is not None:
        return within
    return None if here.index == 0 else _begun(progression, here.index - 1, record)


def begun(*, progression: Progression, index: int, record: StepRecord) -> Place:
    """The level of that place in the order, at its first step."""
    return _begun(progression, index, record)


def _begun(progression: Progression, index: int, record: StepRecord) -> Place:
    first, _ = ends_of(level=progression.levels[index], record=record)
    return Place(index=index, at=first, variable=Variable.EXERCISE)


def _moved(level: Level, here: Place, record: StepRecord, *, up: bool) -> Place | None:
    """The next or the earlier step of the same level; None where there is none."""
    first, last = ends_of(level=level, record=record)
    if level.steps is None or here.at is None or first is None or last is None:
        return _unknown(level, here) if up else None
    by = _by(level, record)
    at = (
        min(last, _rounded(level, here.at + by))
        if up
        else max(first, _rounded(level, here.at - by))
    )
    if (at <= here.at) if up else (at >= here.at):
        return None
    return Place(index=here.index, at=at, variable=level.steps.variable)


def _unknown(level: Level, here: Place) -> Place | None:
    """Without a body mass the next load is not known, and no exercise is skipped because of it."""
    if level.steps is None:
        return None
    return Place(index=here.index, at=None, variable=level.steps.variable)


def _by(level: Level, record: StepRecord) -> Decimal:
    if level.steps is None:
        raise AssertionError("a level without steps was let through")
    if level.steps.variable is not Variable.LOAD:
        return level.steps.by
    step = load_in_kg(percent=level.steps.by, body_mass=record.body_mass)
    return max(step or SMALLEST_LOAD, SMALLEST_LOAD)


def _rounded(level: Level, value: Decimal) -> Decimal:
    if level.steps is None or level.steps.variable is not Variable.LOAD:
        return value
    return rounded_to_half(kilograms=Fraction(value))


def prescription(*, level: Level, at: Decimal | None) -> Prescription:
    """The dose of a level at a step, as it is begun: the least of each span."""
    dose, loaded = level.dose, level.steps is not None and level.steps.variable is Variable.LOAD
    load = None if dose.effort or loaded else Decimal("0.0")
    if loaded and at is not None:
        load = rounded_to_half(kilograms=Fraction(at))
    return Prescription(
        sets=dose.sets.least,
        days_a_week=dose.days_a_week.least,
        reps=None if dose.reps is None else dose.reps.least,
        hold_s=None if dose.hold_s is None else dose.hold_s.least,
        load_kg=load,
        at=at,
        effort=dose.effort,
    )


def step_condition(*, level: Level, at: Decimal | None) -> dict[str, str]:
    """The condition that a test at this step has, for a level whose step a test shows."""
    if level.steps is None or not level.steps.condition or at is None:
        return {}
    return {level.steps.condition: format(at.normalize(), "f")}
