"""What a progression must not contradict: its own order, its limits, the catalogue."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from typing import Final

from outcomes.catalogue.fields import Fields
from outcomes.core.progressions import NO_LEVEL, Level, Nature, Progression, Steps, Variable
from outcomes.core.values import Measure
from outcomes.protocols.reading import GOALS

NEEDS: Final[Mapping[Nature, tuple[str, ...]]] = {
    Nature.LOADED_BEND: ("loaded_flexion", "weight_bearing"),
    Nature.STEP_DOWN: ("loaded_flexion", "weight_bearing"),
    Nature.OPEN_CHAIN: ("open_chain",),
    Nature.IMPACT: ("impact", "weight_bearing"),
}
"""The surgeon's limits that an exercise of that nature breaks at least."""

TENDON: Final = "patellar_tendon"
QUADRICEPS: Final = "quadriceps_torque"
SHOWN_IN: Final = {Variable.LOAD: "kg", Variable.HEIGHT: "cm"}
"""The unit of the condition that shows at which step a limb was tested."""
LEVELS: Final = 2


def check_progression(progression: Progression, fields: Fields) -> None:
    """Raises ``SeedError`` naming the key that contradicts another."""
    levels = progression.levels
    codes = [level.code for level in levels]
    if len(codes) < LEVELS or len(set(codes)) != len(codes):
        raise fields.refuse("levels", "needs two or more, none twice")
    for level, harder in pairwise(levels):
        if level.earliest_week > harder.earliest_week:
            raise fields.refuse("levels", f"{harder.code} comes earlier than {level.code}")
    for goal, last in progression.last_by_goal.items():
        if goal not in GOALS or last not in (*codes, NO_LEVEL):
            raise fields.refuse(f"last_by_goal.{goal}", "names a goal and one of the levels")
    if any(one.hard for one in progression.advice):
        raise fields.refuse("advice", "holds nothing: hard = false")
    for level in levels:
        _check_level(level, fields)
    _check_hip_work(progression, fields)


def _check_level(level: Level, fields: Fields) -> None:
    for nature in sorted(level.nature):
        missing = set(NEEDS.get(nature, ())) - set(level.blocked_by)
        if missing:
            what = f"{level.code} must be blocked by {', '.join(sorted(missing))}"
            raise fields.refuse("blocked_by", what)
    warned = {graft for caution in level.cautions for graft in caution.grafts}
    if level.nature & {Nature.LOADED_BEND, Nature.IMPACT} and TENDON not in warned:
        raise fields.refuse("cautions", f"{level.code} needs one for {TENDON}")
    if any(not one.hard for one in level.step_back):
        raise fields.refuse("step_back", f"{level.code}: what takes back is hard")
    shown = level.steps is not None and level.steps.condition != ""
    if any(one.at_step for one in (*level.enter, *level.step_back)) or (
        any(one.at_step for one in level.advance) and not shown
    ):
        raise fields.refuse("at_step", f"{level.code}: only before a step up that a test shows")
    if Nature.HIP_WORK in level.nature and any(
        one.hard and any(criterion.measure == QUADRICEPS for criterion in one.criteria)
        for one in (*level.enter, *level.advance)
    ):
        raise fields.refuse("enter", f"{level.code}: no quadriceps gate on hip work")


def _check_hip_work(progression: Progression, fields: Fields) -> None:
    there = {level.code: level for level in progression.levels}
    step_downs = [one for one in progression.levels if Nature.STEP_DOWN in one.nature]
    if not step_downs and not progression.hip_work:
        return
    level = there.get(progression.hip_work)
    if level is None or Nature.HIP_WORK not in level.nature:
        raise fields.refuse("hip_work", "must name a level of hip work")
    if any(progression.place(code=one.code) < progression.place(code=level.code)
           for one in step_downs):  # fmt: skip
        raise fields.refuse("hip_work", "comes before the step-downs")


def check_steps(steps: Steps, fields: Fields, catalogue: Mapping[str, Measure]) -> None:
    """Raises ``SeedError`` for steps that do not reach their end, or that no test can show."""
    if not steps.by or steps.by < 0 or not 0 <= steps.first < steps.last:
        raise fields.refuse("steps", "go upward from the first to the last")
    if (steps.last - steps.first) % steps.by:
        raise fields.refuse("by", "does not lead from the first to the last")
    if steps.variable is Variable.EXERCISE:
        raise fields.refuse("variable", "a step within a level keeps the exercise")
    if bool(steps.measure) != bool(steps.condition):
        raise fields.refuse("condition", "goes with a measure")
    if not steps.measure:
        return
    measure = catalogue.get(steps.measure)
    if measure is None or not measure.per_limb:
        raise fields.refuse("measure", f"{steps.measure!r} is no measure of a limb")
    units = {one.code: one.unit for one in measure.conditions if not one.choices}
    if units.get(steps.condition) != SHOWN_IN.get(steps.variable, ""):
        raise fields.refuse("condition", f"{steps.condition!r} does not show the {steps.variable}")
