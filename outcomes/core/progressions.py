"""Progressions as values: graded exercises for one deficit, and what may be proposed of them.

A progression is an order of levels. A level is one exercise with its dose, what must be on record
to enter it, to leave it upward and to leave it downward, and what blocks it. A person decides;
nothing here is a permission.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from math import floor
from typing import Final

from outcomes.core.values import Criterion, Reading, Restriction, Source, Unconfirmed

HALF_KILOGRAM: Final = Fraction(1, 2)
NO_LEVEL: Final = "none"
"""What stands for the last level of a goal that asks for none of a progression."""


class Nature(StrEnum):
    """What an exercise asks of the knee: rules and limits look at it."""

    HIP_WORK = "hip_work"
    LOADED_BEND = "loaded_bend"
    STEP_DOWN = "step_down"
    OPEN_CHAIN = "open_chain"
    IMPACT = "impact"
    ALWAYS_FINE = "always_fine"


class Variable(StrEnum):
    """The one thing that a step changes."""

    EXERCISE = "exercise"
    LOAD = "load"
    HEIGHT = "height"
    EFFORT = "effort"
    DISTANCE = "distance"


class Move(StrEnum):
    """What is proposed of a progression."""

    PROGRESS = "progress"
    STAY = "stay"
    REGRESS = "regress"


class Effect(StrEnum):
    """What a reason does to a proposal: it speaks for a step up, is only told, advises against
    without deciding, holds the level, or takes it back."""

    FOR = "for"
    TOLD = "told"
    ADVICE = "advice"
    HOLDS = "holds"
    TAKES_BACK = "takes_back"


@dataclass(frozen=True, kw_only=True, slots=True)
class Span:
    """From the least to the most of something counted: what is begun with is the least."""

    least: int
    most: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Dose:
    """How much of an exercise: sets of repetitions, or of a hold in seconds, and days a week.

    ``effort`` says how heavy, in words, where the load is not a weight in the hand.
    """

    sets: Span
    days_a_week: Span
    reps: Span | None = None
    hold_s: Span | None = None
    effort: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Steps:
    """Steps within one level, in one variable: a load in per cent of body mass, a height in cm.

    ``condition`` of ``measure`` shows at which step the limb was last tested; empty where no test
    shows it.
    """

    variable: Variable
    first: Decimal
    last: Decimal
    by: Decimal
    measure: str = ""
    condition: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Requirement:
    """What must be on record: any one of the criteria. A hard one decides, advice is told.

    The key of a criterion names the conditions that a test must have had; ``at_step`` adds that of
    the step. ``grafts``: only for these, empty is everyone.
    """

    code: str
    label: str
    criteria: tuple[Criterion, ...]
    hard: bool
    grafts: tuple[str, ...] = ()
    at_step: bool = False
    sources: tuple[Source, ...] = ()

    def concerns(self, *, graft: str) -> bool:
        """Whether it is asked after that graft."""
        return not self.grafts or graft in self.grafts


@dataclass(frozen=True, kw_only=True, slots=True)
class GraftCaution:
    """What to mind after a graft; ``before_week`` is the week from which it no longer holds."""

    grafts: tuple[str, ...]
    text: str
    sources: tuple[Source, ...]
    before_week: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Level:
    """One exercise of a progression.

    ``why``, ``feel`` and ``stop`` are for the patient. ``later`` raises the earliest week for a
    code (``graft:hamstring``). ``look_for`` is what the clinician sees or hears, for which there is
    no measure. ``alike`` names the graded measures that must look alike on both sides before the
    step up. ``blocked_by`` are kinds of surgeon's limits.
    """

    code: str
    label: str
    exercise: str
    how: str
    why: str
    feel: str
    stop: str
    dose: Dose
    nature: frozenset[Nature]
    earliest_week: int
    minimum_days: int
    sources: tuple[Source, ...]
    steps: Steps | None = None
    later: tuple[tuple[str, int], ...] = ()
    enter: tuple[Requirement, ...] = ()
    advance: tuple[Requirement, ...] = ()
    step_back: tuple[Requirement, ...] = ()
    alike: tuple[str, ...] = ()
    look_for: tuple[str, ...] = ()
    cautions: tuple[GraftCaution, ...] = ()
    blocked_by: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Progression:
    """Levels in their order, easiest first.

    ``waived_for`` are kinds of episode without earliest weeks: those rest on graft healing.
    ``weeks_later`` adds weeks for a code (``kind:revision``). ``last_by_goal`` names the last level
    of a goal, ``none`` where the goal asks for none; a goal that is not named has all of them.
    ``advice`` is shown at every level and holds none. ``hip_work`` is the level to go back to when
    the pelvis drops at the first movement of a forward heel touch; empty where there is none.
    """

    code: str
    version: int
    label: str
    aim: str
    levels: tuple[Level, ...]
    sources: tuple[Source, ...]
    waived_for: tuple[str, ...] = ()
    weeks_later: tuple[tuple[str, int], ...] = ()
    last_by_goal: Mapping[str, str] = field(default_factory=dict)
    advice: tuple[Requirement, ...] = ()
    hip_work: str = ""

    def beyond(self, *, index: int, goal: str) -> bool:
        """Whether the level of that place asks for more than the goal does."""
        last = self.last_by_goal.get(goal, self.levels[-1].code)
        return last == NO_LEVEL or index > self.place(code=last)

    def place(self, *, code: str) -> int:
        """The place of a level in the order, from 0. Raises ``KeyError`` for an unknown code."""
        for place, level in enumerate(self.levels):
            if level.code == code:
                return place
        raise KeyError(code)


@dataclass(frozen=True, kw_only=True, slots=True)
class Standing:
    """Where a patient stands in a progression: the level, since when, and at which step.

    ``level`` empty: not begun. ``at`` is the load in kg, the height in cm or the per cent of the
    step; None where the record does not say, and then the newest test shows it.
    """

    progression: Progression
    level: str
    since: date
    at: Decimal | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class StepReason:
    """Why a step is proposed or not, as data.

    ``rule`` is a code of ``core.step_words``; ``facts`` carry what its sentence needs, as exact
    texts; ``refs`` are the readings it rests on.
    """

    rule: str
    effect: Effect
    facts: Mapping[str, str] = field(default_factory=dict)
    refs: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Prescription:
    """A dose as it is written down: numbers to begin with, the load in kg rounded to 0.5.

    ``load_kg`` is 0 without an added load and None where it goes by effort or where no recent body
    mass is on record. ``at`` is the step: kg, cm or per cent; None without steps.
    """

    sets: int
    days_a_week: int
    reps: int | None
    hold_s: int | None
    load_kg: Decimal | None
    at: Decimal | None = None
    effort: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Proposal:
    """What is proposed of one progression, with everything that speaks for and against it.

    ``variable`` is the one thing that a step up or down changes, None for staying. ``dose`` is
    None for a progression that is not begun. ``days_off`` are days without this work first.
    ``blocked_by``: limits in force, and procedures whose limits are not confirmed.
    """

    progression: str
    move: Move
    level: str
    variable: Variable | None
    dose: Prescription | None
    reasons_for: tuple[StepReason, ...]
    reasons_against: tuple[StepReason, ...]
    blocked_by: tuple[Restriction | Unconfirmed, ...] = ()
    days_off: int = 0


def load_in_kg(*, percent: Decimal, body_mass: Reading | None) -> Decimal | None:
    """A load in per cent of body mass as kg, rounded to the nearest 0.5 (a tie goes up).

    None without a body mass. That loads are shown in kg, never as per cent alone: setting of this
    house.

    >>> from outcomes.core.values import Limb
    >>> mass = Reading(measure="body_mass", limb=Limb.NONE, value=Decimal(70), on=date(2026, 5, 1))
    >>> load_in_kg(percent=Decimal("2.5"), body_mass=mass)
    Decimal('2.0')
    """
    if body_mass is None or not body_mass.value:
        return None
    return rounded_to_half(kilograms=Fraction(body_mass.value) * Fraction(percent) / 100)


def rounded_to_half(*, kilograms: Fraction) -> Decimal:
    """Kilograms rounded to the nearest 0.5; a tie goes up.

    >>> [str(rounded_to_half(kilograms=Fraction(n, 100))) for n in (124, 125, 149, 175, 0)]
    ['1.0', '1.5', '1.5', '2.0', '0.0']
    """
    halves = floor(kilograms / HALF_KILOGRAM + Fraction(1, 2))
    return Decimal(halves * 5).scaleb(-1)
