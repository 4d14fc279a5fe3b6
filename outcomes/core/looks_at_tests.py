"""Reasons to look that come from tests: extension, effusion, pain, flexion, strength, pelvis."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from itertools import islice
from math import floor
from typing import Final

from outcomes.core.dates import within_weeks
from outcomes.core.grades import seen_grade
from outcomes.core.history import History
from outcomes.core.quantities import plain, shown
from outcomes.core.symmetry import is_other_limb_fair, shortfall
from outcomes.core.values import Limb, Measure, Reading, Reason, Restriction

SHORT: Final = Decimal(3)
SHORT_AT_WEEK_4: Final = Decimal(5)
STUCK_DAYS: Final = 10
EXTENSION_RANKS: Final = {"letter": 80, "surgeon": 75, "recheck": 64, "note": 22}

TRACE, ONE, TWO = Decimal(1), Decimal(2), Decimal(3)
INFECTION_WEEKS: Final = 12
PAIN_STEP: Final = Decimal(2)
FLEXION_STEP: Final = Decimal(10)
FRONT_PAIN: Final = Decimal(3)
EXTENSOR_GRAFTS: Final = ("patellar_tendon", "quadriceps_tendon", "unknown")
FLEXION: Final = Decimal(90)
FLEXION_WEEK: Final = 6
AFTER_RANGE_LIMIT: Final = timedelta(days=14)
QUADRICEPS: Final = "quadriceps_torque"
SETBACK: Final = 15
MARKED: Final = Decimal(3)
PELVIS: Final = ("pelvic_drop_lateral_heel_touch", "pelvic_drop_forward_heel_touch")


def test_reasons(
    *,
    history: History,
    restrictions: Sequence[Restriction],
    hot_on: Collection[date],
    operated: Collection[date],
) -> Iterator[Reason]:
    """Every reason that rests on readings. ``hot_on``: days a hot or swollen knee was a yes.

    ``operated``: day 0 and the days of later operations, which move no clock; infection is
    possible after each of them.
    """
    if history.facts.knee is Limb.NONE:
        return
    yield from _extension(history)
    yield from _effusion(history)
    yield from _infection(history, hot_on, operated)
    yield from _pain(history)
    yield from _front_of_knee(history)
    yield from _flexion(history, restrictions)
    yield from _quadriceps(history)
    for code in PELVIS:
        yield from _pelvis(history, code)


def _reason(
    *, code: str, rank: int, size: Decimal, seen: Sequence[Reading], facts: Mapping[str, str]
) -> Reason:
    return Reason(
        code=code,
        rank=rank,
        size=size,
        since=seen[0].on,
        facts={"on": seen[0].on.isoformat(), **facts},
        alarm=True,
        refs=tuple(reading.ref for reading in seen if reading.ref),
    )


def _value(reading: Reading) -> Decimal:
    if reading.value is None:
        raise AssertionError("a reading without a value was let through")
    return reading.value


def _mine(history: History, code: str) -> list[Reading]:
    """Readings of the involved limb that may be compared with its newest one, newest first.

    None when the newest is from before an operation that has been done since.
    """
    found = history.valued(code=code, limb=history.facts.knee)
    if not found or not history.bears_on_today(on=found[0].on):
        return []
    return [r for r in found if history.same_side(one=r.on, other=found[0].on)]


def _shortfall(history: History, reading: Reading) -> tuple[Decimal, tuple[Reading, ...]]:
    """Degrees short of straight or of the other knee, whichever is more (raw, not below zero).

    The other knee counts by its newest value up to that day, if it is a fair reference.
    """
    lacking = max(_value(reading), Decimal(0))
    if not is_other_limb_fair(facts=history.facts):
        return lacking, (reading,)
    others = history.valued(code="knee_extension", limb=history.facts.knee.opposite)
    other = next((r for r in others if r.on <= reading.on), None)
    if other is None:
        return lacking, (reading,)
    measure = history.catalogue["knee_extension"]
    short = shortfall(measure=measure, involved=_value(reading), other=_value(other))
    return max(lacking, Decimal(short.numerator) / short.denominator), (reading, other)


def _extension(history: History) -> Iterator[Reason]:
    """Loss of extension acts early, by the week of the reading (steps: house setting)."""
    mine = _mine(history, "knee_extension")
    week = history.week(on=mine[0].on) if mine else None
    if week is None:
        return
    short, seen = _shortfall(history, mine[0])
    since = _stuck_since(history, mine, short) if short >= SHORT else None
    step = _extension_step(week=week, short=short, straight=_value(mine[0]) <= 0, stuck=since)
    if step is None:
        return
    yield _reason(
        code=f"extension_short_{step}",
        rank=EXTENSION_RANKS[step],
        size=short,
        seen=seen,
        facts={
            "degrees": plain(value=short),
            "week": str(week),
            "unchanged_since": since.isoformat() if since else "",
        },
    )


def _extension_step(*, week: int, short: Decimal, straight: bool, stuck: date | None) -> str | None:
    if week >= 6 and short >= SHORT:
        return "letter"
    if week >= 4 and (short >= SHORT_AT_WEEK_4 or stuck is not None):
        return "surgeon"
    if week >= 3 and short >= SHORT:
        return "recheck"
    return "note" if week >= 2 and not straight else None


def _stuck_since(history: History, mine: Sequence[Reading], short: Decimal) -> date | None:
    """Date of a reading 10 days or more before, since which under 3 degrees were gained."""
    for earlier in mine[1:]:
        if (mine[0].on - earlier.on).days >= STUCK_DAYS and history.week(on=earlier.on) is not None:
            return earlier.on if _shortfall(history, earlier)[0] - short < SHORT else None
    return None


def _by_key(readings: Sequence[Reading]) -> dict[str, list[Reading]]:
    found: dict[str, list[Reading]] = {}
    for reading in readings:
        found.setdefault(reading.key, []).append(reading)
    return found


def _rise(line: Sequence[Reading]) -> Decimal:
    """How much the newest reading of one comparison key is above the one before it."""
    return _value(line[0]) - _value(line[1]) if len(line) > 1 else Decimal(0)


def _newest_lines(readings: Sequence[Reading]) -> list[list[Reading]]:
    """The lines (one for each key) whose newest reading is of the newest day."""
    return [line for line in _by_key(readings).values() if line[0].on == readings[0].on]


def _effusion(history: History) -> Iterator[Reason]:
    """At least 2+, or up on two visits: go back a step; up to 1+: hold impact; to trace: note."""
    mine = _mine(history, "effusion")
    if not mine:
        return
    measure = history.catalogue["effusion"]
    found = [_effusion_reason(history, measure, line) for line in _newest_lines(mine)]
    reasons = [reason for reason in found if reason is not None]
    if reasons:
        yield max(reasons, key=lambda reason: (reason.rank, reason.size))


def _effusion_reason(history: History, measure: Measure, line: list[Reading]) -> Reason | None:
    now, rise = _value(line[0]), _rise(line)
    twice = rise > 0 and _rise(line[1:]) > 0
    if now >= TWO or twice:
        step, rank = "regress", 66
    elif rise > 0 and now >= ONE:
        step, rank = "hold_impact", 52
    elif rise > 0:
        step, rank = "note", 20
    else:
        return None
    seen = line[: 3 if twice else 2 if rise > 0 else 1]
    week = history.week(on=line[0].on)
    return _reason(
        code=f"effusion_{step}",
        rank=rank,
        size=now,
        seen=seen,
        facts={
            "grade": measure.word(value=now),
            "from": measure.word(value=_value(seen[-1])) if len(seen) > 1 else "",
            "twice": "yes" if twice else "",
            "week": "" if week is None else str(week),
        },
    )


def _infection(history: History, hot_on: Collection[date], operated: Collection[date]
               ) -> Iterator[Reason]:  # fmt: skip
    """Weeks 0 to 12 of an operation: effusion up or 2+, with pain up, flexion down or a hot knee.

    The alarm does not wait for fever. Worst pain in 24 hours stands in for rest pain.
    """
    mine = _mine(history, "effusion")
    week = history.week(on=mine[0].on) if mine else None
    if week is None or not within_weeks(days=operated, on=mine[0].on, weeks=INFECTION_WEEKS):
        return
    lines = _newest_lines(mine)
    worst = max(lines, key=lambda line: _value(line[0]))
    if _value(worst[0]) < TWO and all(_rise(line) < 1 for line in lines):
        return
    day = mine[0].on
    signs = []
    pain, flexion = _mine(history, "pain_worst_24h"), _mine(history, "knee_flexion")
    if pain and pain[0].on == day and _rise(pain) >= PAIN_STEP:
        signs.append("pain up")
    if day in hot_on:
        signs.append("hot, leaking or unwell")
    if flexion and flexion[0].on == day and -_rise(flexion) >= FLEXION_STEP:
        signs.append("flexion down")
    if signs:
        yield _reason(
            code="infection_signs",
            rank=90,
            size=Decimal(day.toordinal()),
            seen=worst[:1],
            facts={"signs": ", ".join(signs), "week": str(week)},
        )


def _pain(history: History) -> Iterator[Reason]:
    """Worst pain in 24 hours up by 2 points or more since the visit before."""
    mine = _mine(history, "pain_worst_24h")
    if _rise(mine) >= PAIN_STEP:
        yield _reason(
            code="pain_rising",
            rank=50,
            size=_value(mine[0]),
            seen=mine[:2],
            facts={
                "before": plain(value=_value(mine[1])),
                "after": plain(value=_value(mine[0])),
                "before_on": mine[1].on.isoformat(),
            },
        )


def _front_of_knee(history: History) -> Iterator[Reason]:
    """Front-of-knee pain above 3 with a graft from the extensor tendons, or an unknown one."""
    mine = _mine(history, "pain_front_of_knee")
    if mine and _value(mine[0]) > FRONT_PAIN and history.facts.graft in EXTENSOR_GRAFTS:
        yield _reason(
            code="front_of_knee_pain",
            rank=48,
            size=_value(mine[0]),
            seen=mine[:1],
            facts={"pain": plain(value=_value(mine[0])), "graft": history.facts.graft},
        )


def _flexion(history: History, restrictions: Sequence[Restriction]) -> Iterator[Reason]:
    """Flexion under 90 degrees from week 6; runs from two weeks after a range limit has ended."""
    mine = _mine(history, "knee_flexion")
    week = history.week(on=mine[0].on) if mine else None
    if week is None or week < FLEXION_WEEK or _value(mine[0]) >= FLEXION:
        return
    day = mine[0].on
    for limit in restrictions:
        over = limit.until is not None and day >= limit.until + AFTER_RANGE_LIMIT
        if limit.kind == "range" and limit.since <= day and not over:
            return
    yield _reason(
        code="flexion_low",
        rank=68,
        size=FLEXION - _value(mine[0]),
        seen=mine[:1],
        facts={"degrees": plain(value=_value(mine[0])), "week": str(week)},
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Point:
    """One value of a course: the symmetry index, or this limb's own torque."""

    value: Fraction
    on: date
    key: str
    seen: tuple[Reading, ...]


def _quadriceps(history: History) -> Iterator[Reason]:
    """Symmetry down by 15 points or more under one key, or down twice in a row.

    Where the other limb is no fair reference, this limb's own torque by 15 % or twice in a row.
    """
    if QUADRICEPS not in history.codes:
        return
    own = not is_other_limb_fair(facts=history.facts)
    line = _course(history, _torques(history) if own else _indices(history))
    if len(line) < 2:
        return
    fall = _fall(line[0], line[1], own=own)
    twice = len(line) > 2 and fall > 0 and line[2].value > line[1].value
    if fall < SETBACK and not twice:
        return
    since = line[2] if twice else line[1]
    measure = history.catalogue[QUADRICEPS]
    yield _reason(
        code="quadriceps_fall" if own else "quadriceps_setback",
        rank=55,
        size=Decimal(_fall(line[0], since, own=own).__round__()),
        seen=[*line[0].seen, *since.seen],
        facts={
            "index": _cut(line[0].value, decimals=measure.decimals),
            "before": _cut(since.value, decimals=measure.decimals),
            "before_on": since.on.isoformat(),
            "twice": "yes" if twice else "",
        },
    )


def _fall(now: _Point, before: _Point, *, own: bool) -> Fraction:
    """Points of the index, or per cent of the earlier torque."""
    fall = before.value - now.value
    return fall if not own or not before.value else fall / before.value * 100


def _cut(value: Fraction, *, decimals: int) -> str:
    """Cut, never rounded up: no index is shown on a threshold that it does not reach."""
    return shown(value=Fraction(floor(value * 10**decimals), 10**decimals), decimals=decimals)


def _indices(history: History) -> Iterator[_Point]:
    for one in history.symmetries(code=QUADRICEPS):
        seen = tuple(r for r in (one.pair.left, one.pair.right) if r is not None)
        yield _Point(value=one.value, on=one.pair.on, key=one.pair.key, seen=seen)


def _torques(history: History) -> Iterator[_Point]:
    for reading in history.measured(code=QUADRICEPS, limb=history.facts.knee):
        yield _Point(
            value=Fraction(_value(reading)), on=reading.on, key=reading.key, seen=(reading,)
        )


def _course(history: History, points: Iterator[_Point]) -> list[_Point]:
    """The newest point and at most two before it: one key, one side of the index date."""
    now = next(points, None)
    if now is None or not history.bears_on_today(on=now.on):
        return []
    earlier = (
        one for one in points if one.key == now.key and history.same_side(one=one.on, other=now.on)
    )
    return [now, *islice(earlier, 2)]


def _pelvis(history: History, code: str) -> Iterator[Reason]:
    """A marked drop on either leg, or a grade apart between the legs; not two moderate alike."""
    measure = history.catalogue.get(code)
    mine = _mine(history, code)
    if measure is None or not mine:
        return
    others = history.valued(code=code, limb=history.facts.knee.opposite)
    other = next((r for r in others if (r.on, r.key) == (mine[0].on, mine[0].key)), None)
    seen = [reading for reading in (mine[0], other) if reading is not None]
    worse = max(seen, key=_value)
    fair = is_other_limb_fair(facts=history.facts)
    apart = abs(_value(seen[0]) - _value(seen[-1])) if fair else Decimal(0)
    if _value(worse) < MARKED and apart < 1:
        return
    better = next((reading for reading in seen if reading is not worse), None)
    yield _reason(
        code=f"{code}_uneven",
        rank=40,
        size=_value(worse) + apart,
        seen=seen,
        facts={
            "task": code.removeprefix("pelvic_drop_").replace("_", " "),
            "grade": seen_grade(measure=measure, reading=worse),
            "standing": worse.limb.value,
            "other_grade": "" if better is None else seen_grade(measure=measure, reading=better),
        },
    )
