"""Reasons to look at an episode: raw values decide, measurement error never silences one.

Steps and limits are settings of this house unless a source stands beside them; see the protocol
and the sentences for their marks. The higher the rank, the more pressing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Final

from outcomes.core.events import PROCEDURES
from outcomes.core.history import History
from outcomes.core.holds import SOON, ending
from outcomes.core.looks_at_events import event_reasons
from outcomes.core.looks_at_tests import test_reasons
from outcomes.core.values import (
    EpisodeFacts,
    Event,
    Measure,
    Reading,
    Reason,
    RedFlag,
    Restriction,
    Tier,
    VisitFacts,
)

MOST: Final = 7
"""How many reasons are shown at once."""

NOTE: Final = 30
"""A reason under this rank is a note: shown with the patient, but no list calls for a look."""

FLAG_RANKS: Final = {Tier.NOW: 100, Tier.TODAY: 95, Tier.THIS_WEEK: 70}
OVERDUE: Final = ((6, 10), (12, 21), (26, 35), (52, 60))
"""Days without a visit that are too many, for a last visit before that week (house setting)."""

BASELINE_WEEKS: Final = (1, 3)
BASELINE_MEASURE: Final = "quadriceps_torque"
OPERATED: Final = ("reconstruction", "revision", "repair")
JUDGED_ON: Final = (
    "effusion", "knee_extension", "knee_flexion", "pain_worst_24h", "pain_front_of_knee",
    "quadriceps_torque", "pelvic_drop_lateral_heel_touch", "pelvic_drop_forward_heel_touch",
)  # fmt: skip
"""The measures without whose readings some reasons stay silent."""
HOT: Final = ("hot_knee", "short_hot_knee")
"""A short yes stands like its own question until that is answered."""
UNSIGNED_DAYS: Final = 2
WITH_TESTS: Final = ("active",)
WITH_DUTIES: Final = ("active", "on_hold", "follow_up_only")


def reasons_to_look(
    *,
    facts: EpisodeFacts,
    catalogue: Mapping[str, Measure],
    readings: Sequence[Reading],
    restrictions: Sequence[Restriction],
    visits: VisitFacts,
    red_flags: Sequence[RedFlag],
    on: date,
    events: Sequence[Event] = (),
) -> tuple[Reason, ...]:
    """Every reason on that day, the most pressing first; show at most ``MOST`` of them.

    An active episode has all; one on hold or in follow-up only has red flags, events and visits;
    one that has ended has none. Before the operation (or injury) there are no weeks, and what is
    judged by week is left out.
    """
    history = History(facts=facts, catalogue=catalogue, readings=readings, on=on)
    return reasons_from(
        history=history,
        restrictions=restrictions,
        visits=visits,
        red_flags=red_flags,
        events=events,
    )


def reasons_from(
    *,
    history: History,
    restrictions: Sequence[Restriction],
    visits: VisitFacts,
    red_flags: Sequence[RedFlag],
    events: Sequence[Event] = (),
) -> tuple[Reason, ...]:
    """The same from a history that is sorted already."""
    facts, on = history.facts, history.on
    found: list[Reason] = []
    if facts.care_state in WITH_DUTIES:
        found += _red_flags(red_flags=red_flags, on=on)
        found += _unsigned(visits=visits, on=on)
        found += _late(visits=visits)
        found += event_reasons(facts=facts, events=events, red_flags=red_flags, on=on)
    if facts.care_state in WITH_TESTS:
        found += test_reasons(
            history=history,
            restrictions=restrictions,
            hot_on={flag.on for flag in red_flags if flag.code in HOT and flag.on <= on},
            operated=[
                *_day_0(facts),
                *(e.on for e in events if e.code in PROCEDURES and e.on <= on),
            ],
        )
        found += _limits(visits=visits)
        found += _ending(restrictions=restrictions, on=on)
        found += _baseline(history=history)
        found += _no_visit(facts=facts, visits=visits, on=on)
    return tuple(sorted(found, key=lambda r: (-r.rank, -r.size, r.code)))


def _day_0(facts: EpisodeFacts) -> list[date]:
    return [facts.index_date] if facts.index_date else []


def is_answered(*, reason: Reason, answer_size: Decimal, look_again_on: date, on: date) -> bool:
    """Whether an answer still silences a reason: it returns only if worse or due."""
    return reason.size <= answer_size and on < look_again_on


def _event(day: date) -> Decimal:
    """Size of something that happened: a later one is a new matter, so it is larger."""
    return Decimal(day.toordinal())


def _moment(at: datetime) -> Decimal:
    """The same of something that came at a moment: a later one of the same day is larger too."""
    seconds = at.hour * 3600 + at.minute * 60 + at.second
    return _event(at.date()) + round(Decimal(seconds) / 86400, 6)


def _red_flags(*, red_flags: Sequence[RedFlag], on: date) -> list[Reason]:
    newest: dict[str, RedFlag] = {}
    for flag in sorted(red_flags, key=lambda f: (f.on, f.ref)):
        if flag.on <= on:
            newest[flag.code] = flag
    return [
        Reason(
            code=f"red_flag_{flag.code}",
            rank=FLAG_RANKS[flag.tier],
            size=_event(flag.on),
            since=flag.on,
            facts={"flag": flag.code, "tier": flag.tier.value, "on": flag.on.isoformat()},
            alarm=True,
            refs=(flag.ref,) if flag.ref else (),
        )
        for flag in newest.values()
    ]


def unsigned_from(*, visits: VisitFacts) -> date | None:
    """The first day on which an open visit has been unsigned for 48 hours."""
    if visits.unsigned_since is None:
        return None
    return visits.unsigned_since + timedelta(days=UNSIGNED_DAYS)


def _unsigned(*, visits: VisitFacts, on: date) -> list[Reason]:
    start = unsigned_from(visits=visits)
    if visits.unsigned_since is None or start is None or on < start:
        return []
    return [
        Reason(
            code="unsigned_visit",
            rank=42,
            size=_event(visits.unsigned_since),
            since=start,
            facts={"on": visits.unsigned_since.isoformat()},
            alarm=False,
        )
    ]


def _late(*, visits: VisitFacts) -> list[Reason]:
    """It ends once it has been read and entered where it belongs; a later text is a new matter."""
    late = visits.late_typing
    if late is None:
        return []
    typed = Reason(
        code="late_typing",
        rank=60,
        size=_event(late.came_on),
        since=late.oldest_on,
        facts={"on": late.oldest_on.isoformat(), "more": str(late.visits - 1)},
        alarm=False,
    )
    if late.flagged_on is None or late.flag_came_at is None:
        return [typed]
    return [_late_flag(on=late.flagged_on, came_at=late.flag_came_at), typed]


def _late_flag(*, on: date, came_at: datetime) -> Reason:
    """How urgent it is nobody has worked out yet: it counts as the most urgent. Each one that comes
    is a new matter, also on the day on which another one was answered."""
    return Reason(
        code="late_red_flag",
        rank=FLAG_RANKS[Tier.NOW],
        size=_moment(came_at),
        since=on,
        facts={"on": on.isoformat()},
        alarm=True,
    )


def _limits(*, visits: VisitFacts) -> list[Reason]:
    if not visits.limits_to_confirm:
        return []
    since = visits.followed_since or visits.last_on or date.min
    named, more = visits.limits_to_confirm[:2], len(visits.limits_to_confirm) - 2
    return [
        Reason(
            code="limits_not_confirmed",
            rank=72,
            size=Decimal(len(visits.limits_to_confirm)),
            since=since,
            facts={"procedures": ", ".join(named) + (f" and {more} more" if more > 0 else "")},
            alarm=True,
        )
    ]


def _ending(*, restrictions: Sequence[Restriction], on: date) -> list[Reason]:
    """One reason for all limits that end within a week; one more that does is a new matter."""
    found = sorted(
        (limit.until, limit.since, limit.kind, limit.limit)
        for limit in ending(restrictions=restrictions, on=on)
        if limit.until is not None
    )
    if not found:
        return []
    until, since, kind, said = found[0]
    return [
        Reason(
            code="limit_ends",
            rank=44,
            size=_event(found[-1][0]),
            since=max(since, until - SOON),
            facts={
                "kind": kind,
                "limit": said,
                "until": until.isoformat(),
                "more": str(len(found) - 1),
            },
            alarm=False,
        )
    ]


def baseline_window(*, facts: EpisodeFacts) -> tuple[date, date] | None:
    """First and last day on which a missing baseline of the other leg is asked for."""
    if facts.index_date is None or facts.kind not in OPERATED:
        return None
    first, last = BASELINE_WEEKS
    start = facts.index_date + timedelta(weeks=first)
    return start, facts.index_date + timedelta(weeks=last + 1) - timedelta(days=1)


def _baseline(*, history: History) -> list[Reason]:
    facts, window = history.facts, baseline_window(facts=history.facts)
    if window is None or not window[0] <= history.on <= window[1]:
        return []
    other = history.measured(code=BASELINE_MEASURE, limb=facts.knee.opposite)
    if other or facts.other_limb != "healthy" or facts.graft_from == "other_limb":
        return []
    return [
        Reason(
            code="no_baseline",
            rank=58,
            size=Decimal(1),
            since=window[0],
            facts={"measure": BASELINE_MEASURE},
            alarm=False,
        )
    ]


def overdue_from(*, facts: EpisodeFacts, visits: VisitFacts) -> date | None:
    """The first day on which the next visit is overdue, booked or not.

    Counted from the last visit, the index date or the day the clinic took the episode on,
    whichever is latest; the number of days follows the week of that day. None before the
    operation and when that day lies a year or more after it.
    """
    known = (facts.index_date, visits.last_on, visits.followed_since)
    start = max((day for day in known if day is not None), default=None)
    if start is None or facts.index_date is None:
        return None
    week = (start - facts.index_date).days // 7
    days = next((days for before, days in OVERDUE if week < before), None)
    return None if days is None else start + timedelta(days=days + 1)


def _no_visit(*, facts: EpisodeFacts, visits: VisitFacts, on: date) -> list[Reason]:
    start = overdue_from(facts=facts, visits=visits)
    booked = visits.booked_on is not None and visits.booked_on >= on
    if start is None or on < start or booked:
        return []
    last = visits.last_on.isoformat() if visits.last_on else ""
    return [
        Reason(
            code="no_visit",
            rank=44,
            size=_event(start),
            since=start,
            facts={"last": last, "overdue_from": start.isoformat()},
            alarm=False,
        )
    ]
