"""A record in which everything is good, and what is proposed when one thing of it changes."""

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from functools import cache
from typing import Any

from outcomes.core.next_step import next_step
from outcomes.core.progressions import Effect, Proposal, Standing, StepReason
from outcomes.core.step_words import reason_words
from outcomes.core.values import Event, Reading, Restriction, Unconfirmed
from tests.core.builders import (
    CATALOGUE,
    FORWARD,
    LATERAL,
    NONE,
    UPRIGHT,
    L,
    after,
    both,
    facts,
    reading,
)
from tests.core.test_progressions import PROGRESSIONS

TODAY = after(weeks=14)
SINCE = TODAY - timedelta(days=21)
CODES = {level.code: one for one in PROGRESSIONS.values() for level in one.levels}
HOLD = "supported_standing_hip_hold"


def ago(days: int) -> date:
    return TODAY - timedelta(days=days)


def good() -> list[Reading]:
    """The good record, made once."""
    return [*_good()]


@cache
def _good() -> tuple[Reading, ...]:
    """Two good sessions a week apart, nothing swollen, everything measured and even."""
    found = [reading("body_mass", NONE, "70", ago(20))]
    for day in (ago(7), TODAY):
        found += [
            reading("pain_worst_24h", L, "1", day),
            reading("pain_front_of_knee", L, "1", day),
            reading("effusion", L, "trace", day),
            reading("soreness_after_session", L, "none", day),
        ]
    found += both("quadriceps_torque", "190", "200", ago(7))
    for code in ("single_hop", "triple_hop", "crossover_hop"):
        found += both(code, "150", "152", ago(7), key="brace=no;hands=free;shoes=worn")
    found += both("timed_hop_6m", "2.0", "2.0", ago(7))
    found += both("knee_extension", "0", "0", ago(7))
    found += both("knee_flexion", "135", "140", ago(7))
    found += both("single_leg_stance", "30", "30", ago(7))
    found += [reading("side_plank_hold", L, "60", ago(7), key="support=feet")]
    found += [reading("gait_without_limp", NONE, "yes", ago(7))]
    found += [reading("two_leg_landing_tolerated", NONE, "yes", ago(7))]
    yes = (
        "quad_set_with_glide", "straight_leg_raise_without_lag", "ten_level_step_downs_20cm",
        "brisk_walk_30min_without_swelling", "controlled_landing",
    )  # fmt: skip
    found += [reading(code, L, "yes", ago(2)) for code in yes]
    for code in (LATERAL, FORWARD):
        found += both(code, "slight", "slight", ago(3))
    return (*found, *both("standing_hip_hold", "40", "40", ago(3)))


def without(*codes: str) -> list[Reading]:
    return [one for one in good() if one.measure not in codes]


def proposed(
    level: str,
    *,
    readings: Sequence[Reading] | None = None,
    since: date = SINCE,
    at: str | None = None,
    on: date = TODAY,
    restrictions: Sequence[Restriction] = (),
    events: Sequence[Event] = (),
    step_taken: bool = False,
    unconfirmed: Sequence[Unconfirmed] = (),
    **changes: Any,
) -> Proposal:
    standing = Standing(
        progression=CODES[level],
        level=level,
        since=since,
        at=None if at is None else Decimal(at),
    )
    found = next_step(
        standing=standing,
        facts=facts(**changes),
        catalogue=CATALOGUE,
        readings=good() if readings is None else readings,
        restrictions=restrictions,
        events=events,
        on=on,
        step_taken=step_taken,
        unconfirmed=unconfirmed,
    )
    assert [said for said in spoken(found) if not said or "_" in said or "{" in said] == []
    return found


def every_reason(found: Proposal) -> tuple[StepReason, ...]:
    return (*found.reasons_for, *found.reasons_against)


def rules(found: Proposal) -> dict[str, Effect]:
    return {one.rule: one.effect for one in every_reason(found)}


def spoken(found: Proposal) -> list[str]:
    return [reason_words(reason=one, catalogue=CATALOGUE) for one in every_reason(found)]


def deciding(found: Proposal) -> set[str]:
    effects = (Effect.HOLDS, Effect.TAKES_BACK)
    return {one.rule for one in every_reason(found) if one.effect in effects}


def outcome(found: Proposal) -> tuple[str, str]:
    return found.move.value, found.level


def heel_touch(
    code: str, left: str, right: str, *, height: int = 20, **details: str
) -> list[Reading]:
    rows = both(code, left, right, TODAY, key=f"step_height={height}")
    more = {**UPRIGHT, **details}
    return [
        *(one for one in good() if one.measure != code),
        reading(code, L, left, TODAY, key=f"step_height={height}", details=more),
        rows[1],
    ]


def with_weight(load: str, *, seconds: str = "20", mass: str | None = "70") -> list[Reading]:
    rows = without("standing_hip_hold", "body_mass")
    key = f"added_load={load};hand_support=no"
    rows += both("standing_hip_hold", seconds, "40", TODAY, key=key)
    return rows if mass is None else [*rows, reading("body_mass", NONE, mass, ago(20))]


def limit(kind: str, *, until: int = 30) -> Restriction:
    return Restriction(kind=kind, limit="", since=ago(60), until=TODAY + timedelta(days=until))
