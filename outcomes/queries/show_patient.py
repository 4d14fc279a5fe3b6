"""What a patient is shown on the tablet: one exercise, why, what to feel, and their two limbs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from clinic import words
from outcomes.charts.ledger import Ledger, LedgerRow
from outcomes.core.errors import margin
from outcomes.core.progressions import Variable
from outcomes.core.quantities import plain, shown, unit_sign
from outcomes.core.status import MeasureStatus, history_of, measure_status
from outcomes.core.values import Better, Limb, Measure, Reading, Symmetry, SymmetryForm
from outcomes.models.plans import PlanStep
from outcomes.queries.beams import beam_of, marks_of
from outcomes.queries.next_steps import Gathered
from outcomes.queries.plan import level_of, progression_of, without_zeros

MEASURES: Final[Mapping[str, Mapping[str, str]]] = {
    "hip_control": {
        "standing_hip_hold": "How long you hold your hips level",
        "pelvic_drop_lateral_heel_touch": "How level your hips stay",
        "pelvic_drop_forward_heel_touch": "How level your hips stay",
        "hip_abduction_force": "How hard your hip pushes out",
    },
    "quadriceps_loading": {
        "quadriceps_torque": "How hard your thigh pushes",
        "knee_extension_rm": "How much weight your thigh lifts",
        "leg_press_rm": "How much weight your leg pushes",
    },
    "landing": {
        "single_hop": "How far you hop",
        "triple_hop": "How far you get in three hops",
        "vertical_jump": "How high you jump",
    },
}
"""What may be shown beside each progression, in plain words; the first that was measured is."""
GRADES: Final[Mapping[str, str]] = {
    "level": "level",
    "slight": "drop a little",
    "moderate": "drop",
    "marked": "drop a lot",
}
UNITS: Final[Mapping[str, str]] = {"s": "seconds", "N·m": "newton metres", "N": "newtons"}
WHOLE: Final = 10
"""From here on a value is shown as a whole number."""
CAUTION: Final = (
    "Stop and tell us if your knee swells, locks or gives way.",
    "Do only what we have agreed, and keep to what your surgeon told you.",
)
NOTHING: Final = "No exercise is planned yet. We will talk about it today."
ABOUT_THE_SAME: Final = Decimal(5)
"""Within five parts of 100 both legs are called about the same, where no error is known."""


@dataclass(frozen=True, kw_only=True, slots=True)
class ForThePatient:
    """One page in plain words. ``ledger`` is None where nothing fitting was measured."""

    title: str
    dose: Sequence[str]
    why: str
    feel: str
    stop: Sequence[str]
    ledger: Ledger | None
    compared: str
    measured: str

    @property
    def text(self) -> str:
        """All that is read, as one text: what the readability is measured on."""
        parts = [*self.dose, self.why, self.feel, *self.stop, self.compared]
        return " ".join(part for part in parts if part)


def for_the_patient(*, gathered: Gathered, asked: str) -> ForThePatient | None:
    """The exercise of the progression that is asked for, else of the plan's newest step.

    None where nothing is planned.
    """
    planned = {code: step for code, step in gathered.steps.items() if step.level}
    newest = max(planned.values(), key=lambda step: (step.answered_on, step.pk), default=None)
    step = planned.get(asked, newest)
    if step is None:
        return None
    level = level_of(progression=progression_of(step=step), code=step.level)
    if level is None:
        return None
    status = _told(gathered, step.progression)
    return ForThePatient(
        title=level.label,
        dose=_dose(step, level.steps.variable if level.steps else None),
        why=level.why,
        feel=level.feel,
        stop=(level.stop, *CAUTION),
        ledger=_ledger(gathered, step.progression, status) if status else None,
        compared=_compared(gathered, status) if status else "",
        measured=words.day(status.pair.on) if status and status.pair else "",
    )


def _dose(step: PlanStep, variable: Variable | None) -> Sequence[str]:
    """The dose as it is told: "Do it 3 times, 15 seconds each. On 3 days a week."."""
    if step.hold_s:
        found = [f"Hold for {step.hold_s} seconds. Do this {step.sets} times."]
    else:
        found = [f"Do {step.reps} in a row. Do this {step.sets} times."]
    found.append("Every day." if step.days_a_week == 7 else f"On {step.days_a_week} days a week.")
    at, load = without_zeros(step.at), without_zeros(step.load_kg)
    if load:
        found.append(f"With {plain(value=load)} kg.")
    elif variable is Variable.HEIGHT and at is not None:
        found.append(f"On a step of {plain(value=at)} cm.")
    elif variable is Variable.EFFORT and at is not None:
        found.append(f"Push with {plain(value=at)} of 100 parts of your full force.")
    elif variable is Variable.DISTANCE and at is not None:
        found.append(f"Go for {plain(value=at)} of 100 parts of your best.")
    return found


def _told(gathered: Gathered, progression: str) -> MeasureStatus | None:
    """The first fitting measure of which both limbs were measured on one day."""
    history = history_of(
        facts=gathered.facts,
        catalogue=gathered.rules.measures,
        readings=gathered.record.readings,
        on=gathered.on,
    )
    for code in MEASURES[progression]:
        if code in gathered.rules.measures and code in history.codes:
            status = measure_status(history=history, code=code)
            pair = status.pair
            if (
                pair is not None
                and _value(pair.left) is not None
                and _value(pair.right) is not None
            ):
                return status
    return None


def _value(reading: Reading | None) -> Decimal | None:
    return None if reading is None else reading.value


def _ledger(gathered: Gathered, progression: str, status: MeasureStatus) -> Ledger:
    """Their own two limbs, left on the left page."""
    knee, measure = gathered.facts.knee, gathered.rules.measures[status.code]
    left, right = marks_of(knees=frozenset({knee}))
    said = _compared(gathered, status)
    found = status.symmetry
    beam = None
    if isinstance(found, Symmetry):
        beam = beam_of(measure=measure, symmetry=found, involved=knee, title=said)
    unit = unit_sign(unit=measure.unit)
    name = MEASURES[progression][status.code]
    return Ledger(
        title=f"{name}: {said}",
        left_head="Your left leg",
        right_head="Your right leg",
        left_mark=left,
        right_mark=right,
        rows=(
            LedgerRow(
                name=name,
                detail="" if measure.grades else UNITS.get(unit, unit),
                left=_said(measure, status, Limb.LEFT),
                right=_said(measure, status, Limb.RIGHT),
                beam=beam,
            ),
        ),
    )


def _said(measure: Measure, status: MeasureStatus, limb: Limb) -> str:
    value = _value(status.pair.of(limb=limb)) if status.pair else None
    if value is None:
        return "not tested"
    if measure.grades:
        word = measure.word(value=value)
        return GRADES.get(word, word)
    return shown(value=value, decimals=0 if value >= WHOLE else measure.decimals)


def _compared(gathered: Gathered, status: MeasureStatus) -> str:
    """The two limbs in one plain sentence, without a number."""
    pair, knee = status.pair, gathered.facts.knee
    measure = gathered.rules.measures[status.code]
    if pair is None:
        return ""
    mine, other = _value(pair.of(limb=knee)), _value(pair.of(limb=knee.opposite))
    if mine is None or other is None:
        return ""
    if mine == other or _within_error(status):
        return "Both legs do about the same."
    behind = (mine < other) is (measure.better is not Better.LOWER)
    if measure.grades:
        return f"Your hips {'drop more' if behind else 'stay more level'} on your {knee} leg."
    return f"Your {knee} leg does {'less' if behind else 'more'} than your {knee.opposite} leg."


def _within_error(status: MeasureStatus) -> bool:
    """Whether the two differ by no more than the error of the index, or five where none is known.

    Grades are compared as they are.
    """
    found = status.symmetry
    if not isinstance(found, Symmetry) or found.form is SymmetryForm.DIFFERENCE:
        return False
    wide = ABOUT_THE_SAME if found.sem is None else margin(sem=found.sem)
    return abs(found.value - 100) <= wide
