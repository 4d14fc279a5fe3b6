"""Which tests a surgeon's limit, or a procedure without confirmed limits, holds back, and why.

Which kind of limit holds which test follows from what the test asks of the knee: common practice,
no source. Nothing here refuses an entry: a held test is shown as held, with the reason.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from types import MappingProxyType
from typing import Final

from outcomes.core.values import Restriction, Source, Unconfirmed

STANDING: Final = (
    "Usual ranges from protocols that surgeons have posted. They differ between surgeons: the "
    "operating surgeon’s written protocol for this patient comes first. Where it is missing, ask "
    "before loading."
)
"""Stands with every template."""

_OPEN_CHAIN: Final = (
    "quadriceps_torque", "quadriceps_rate_of_torque", "knee_extension_rm",
    "hamstring_quadriceps_ratio",
)  # fmt: skip
_HAMSTRINGS: Final = ("hamstring_torque", "hamstring_quadriceps_ratio", "single_leg_bridge")
_STEP_DOWNS: Final = (
    "pelvic_drop_lateral_heel_touch", "pelvic_drop_forward_heel_touch", "pelvic_drop_angle",
    "step_down_score", "ten_level_step_downs_20cm", "forward_knee_travel", "knee_medial_position",
    "knee_projection_angle", "trunk_lean", "trunk_flexion",
)  # fmt: skip
_BENDS: Final = (
    "leg_press_rm", "single_leg_squat", "single_leg_sit_to_stand", "wall_sit_hold",
    "reach_anterior", "reach_posteromedial", "reach_posterolateral", "reach_composite",
    "reciprocal_stairs",
)  # fmt: skip
_STANDING: Final = (
    "single_leg_stance", "standing_hip_hold", "heel_raise", "ankle_dorsiflexion",
    "gait_without_aids", "brisk_walk_30min_without_swelling",
)  # fmt: skip
_TURNS: Final = ("crossover_hop", "side_hop_30s", "agility_t_test", "sport_programme_done")
_JUMPS: Final = (
    "single_hop", "triple_hop", "crossover_hop", "timed_hop_6m", "side_hop_30s", "vertical_jump",
    "reactive_strength_index", "landing_error_score", "controlled_landing",
    "two_leg_landing_tolerated",
)  # fmt: skip
_RUNS: Final = ("run_walk_sessions", "agility_t_test", "sport_programme_done")

HELD: Final[Mapping[str, frozenset[str]]] = MappingProxyType(
    {
        "weight_bearing": frozenset({*_STANDING, *_STEP_DOWNS, *_BENDS, *_JUMPS, *_RUNS}),
        "range": frozenset(),
        "brace": frozenset(),
        "open_chain": frozenset(_OPEN_CHAIN),
        "hamstring_load": frozenset(_HAMSTRINGS),
        "loaded_flexion": frozenset({*_STEP_DOWNS, *_BENDS, *_JUMPS}),
        "pivoting": frozenset(_TURNS),
        "impact": frozenset({*_JUMPS, *_RUNS}),
    }
)
"""The tests that each kind of limit holds (common practice, no source). A limit of the range or a
brace holds no test: what is measured lies within it."""

KINDS: Final = tuple(HELD)
KIND_WORDS: Final = {
    "weight_bearing": "weight bearing",
    "range": "range of movement",
    "brace": "brace",
    "open_chain": "open-chain extension",
    "hamstring_load": "load on the hamstrings",
    "loaded_flexion": "loaded knee bend",
    "pivoting": "pivoting",
    "impact": "impact",
}
SOON: Final = timedelta(days=7)
"""How long before its last day a limit is shown as ending."""


@dataclass(frozen=True, kw_only=True, slots=True)
class TypicalLimit:
    """One usual limit after a procedure. Weeks count from the operation.

    ``until_weeks``: shortest and longest duration where sheets differ, else twice the same.
    """

    kind: str
    limit: str
    from_week: int
    until_weeks: tuple[int, int]
    sources: tuple[Source, ...]

    def days(self, *, operated: date) -> tuple[date, date]:
        """First and last day, by the longer duration: the more cautious reading.

        >>> usual = TypicalLimit(kind="brace", limit="locked for walking", from_week=0,
        ...                      until_weeks=(4, 6), sources=())
        >>> [day.isoformat() for day in usual.days(operated=date(2026, 8, 12))]
        ['2026-08-12', '2026-09-23']
        """
        first = operated + timedelta(weeks=self.from_week)
        return first, operated + timedelta(weeks=self.until_weeks[1])


@dataclass(frozen=True, kw_only=True, slots=True)
class LimitTemplate:
    """The usual limits after one procedure: prefilled, never in force before they are confirmed."""

    procedure: str
    limits: tuple[TypicalLimit, ...]

    @property
    def kinds(self) -> tuple[str, ...]:
        """The kinds of limits it has, each once."""
        return tuple(dict.fromkeys(one.kind for one in self.limits))


@dataclass(frozen=True, kw_only=True, slots=True)
class Hold:
    """Why a test is held: a limit in force, or else a procedure that is not confirmed."""

    limit: Restriction | None = None
    procedure: str = ""


def holds_of(
    *,
    measures: Collection[str],
    restrictions: Sequence[Restriction],
    unconfirmed: Sequence[Unconfirmed],
    on: date,
) -> dict[str, tuple[Hold, ...]]:
    """Why each held measure is held on a day; a measure that nothing holds is left out.

    What is not confirmed comes first: it ends only by confirming, whatever the day is.

    >>> root = Unconfirmed(words="root repair", kinds=("loaded_flexion",))
    >>> found = holds_of(measures=["single_leg_squat", "effusion"], restrictions=[],
    ...                  unconfirmed=[root], on=date(2026, 11, 25))
    >>> {code: [not_confirmed(procedure=h.procedure) for h in why] for code, why in found.items()}
    {'single_leg_squat': ["Surgeon's limits not confirmed (root repair): ask before loading"]}
    """
    limits = [limit for limit in restrictions if limit.in_force(on=on)]
    found = {
        code: (
            *(
                Hold(procedure=one.words)
                for one in unconfirmed
                if any(code in HELD[kind] for kind in one.kinds)
            ),
            *(Hold(limit=limit) for limit in limits if code in HELD.get(limit.kind, ())),
        )
        for code in measures
    }
    return {code: why for code, why in found.items() if why}


def ending(*, restrictions: Sequence[Restriction], on: date) -> tuple[Restriction, ...]:
    """The limits that hold on a day and end within a week, with nothing told for after.

    >>> limit = Restriction(kind="impact", limit="none", since=date(2026, 8, 12),
    ...                     until=date(2026, 12, 2))
    >>> [len(ending(restrictions=[limit], on=date(2026, 11, day))) for day in (24, 25)]
    [0, 1]
    """
    return tuple(
        limit
        for limit in restrictions
        if limit.in_force(on=on)
        and limit.until is not None
        and limit.until - SOON <= on
        and not any(_follows(limit, limit.until, other) for other in restrictions)
    )


def _follows(limit: Restriction, last: date, other: Restriction) -> bool:
    """Whether another limit of its kind holds on the day after its last."""
    return other.kind == limit.kind and other.in_force(on=last + timedelta(days=1))


def not_confirmed(*, procedure: str) -> str:
    """The sentence of a hold that only confirming ends.

    >>> not_confirmed(procedure="meniscal repair")
    "Surgeon's limits not confirmed (meniscal repair): ask before loading"
    """
    return f"Surgeon's limits not confirmed ({procedure}): ask before loading"
