"""Reasons to look that come from events: judged on what is on record, never on an error.

How long each holds is a setting of this house, to be confirmed by the clinic's lead; none of it
is published. Two givings-way are a reason to talk to the surgeon, never a verdict on the knee.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal
from types import MappingProxyType
from typing import Final

from outcomes.core.events import BY_CODE
from outcomes.core.values import EpisodeFacts, Event, Reason, RedFlag

PREFIX: Final = "event_"
GIVING_WAY: Final = "giving_way"
AGAIN: Final = "giving_way_again"
ONCE: Final = timedelta(weeks=6)
LONG: Final = timedelta(weeks=12)
UNTIL_SEEN_TO: Final = timedelta(weeks=26)
HOLDS: Final[Mapping[str, tuple[int, timedelta]]] = MappingProxyType(
    {
        "graft_rupture": (92, UNTIL_SEEN_TO),
        "infection": (91, ONCE),
        "clot": (91, LONG),
        "fracture": (91, LONG),
        "other_knee_acl_injury": (73, UNTIL_SEEN_TO),
        "new_injury": (71, ONCE),
    }
)
"""Rank, and how long after its day an event is a reason to look (house setting)."""
TWICE_RANK: Final = 74
ONCE_RANK: Final = 70
UNTOLD: Final = ("other", "not_known")


def event_reasons(
    *, facts: EpisodeFacts, events: Sequence[Event], red_flags: Sequence[RedFlag], on: date
) -> Iterator[Reason]:
    """Every reason that rests on events, on that day. An event counts on today's side of day 0."""
    seen = [one for one in events if _counts(facts=facts, event=one, on=on)]
    yield from _giving_way(events=seen, red_flags=red_flags, on=on)
    for code, (rank, holds) in HOLDS.items():
        days = [one for one in seen if one.code == code and on < one.on + holds]
        if days and not _seen_to(code=code, facts=facts):
            newest = max(days, key=lambda one: (one.on, one.ref))
            yield _reason(code=code, rank=rank, event=newest)


def told_for(*, code: str) -> timedelta:
    """How long a reason is told, from the day of its event (house setting).

    >>> told_for(code="event_clot").days
    84
    >>> told_for(code="event_giving_way_again").days
    182
    """
    kind = code.removeprefix(PREFIX)
    spans = {GIVING_WAY: ONCE, AGAIN: UNTIL_SEEN_TO}
    return spans[kind] if kind in spans else HOLDS[kind][1]


def _counts(*, facts: EpisodeFacts, event: Event, on: date) -> bool:
    """Not what lies ahead, and not what an operation has come after since."""
    start = facts.index_date
    return event.on <= on and (start is None or on < start or event.on >= start)


def _seen_to(*, code: str, facts: EpisodeFacts) -> bool:
    """The other knee is followed: its own episode speaks for it."""
    return code == "other_knee_acl_injury" and facts.other_knee_followed


def _giving_way(
    *, events: Sequence[Event], red_flags: Sequence[RedFlag], on: date
) -> Iterator[Reason]:
    """Once: this week, unless a red flag of that day or later says so already. Twice: the surgeon.

    Each day counts once. The first is told for six weeks, from the second on for half a year.
    """
    mine = sorted({one.on: one for one in events if one.code == GIVING_WAY}.items())
    if not mine:
        return
    day, newest = mine[-1]
    if len(mine) > 1 and on < day + UNTIL_SEEN_TO:
        yield _reason(code=AGAIN, rank=TWICE_RANK, event=newest, times=str(len(mine)))
        return
    flagged = any(flag.code == GIVING_WAY and day <= flag.on <= on for flag in red_flags)
    if on < day + ONCE and not flagged:
        yield _reason(code=GIVING_WAY, rank=ONCE_RANK, event=newest)


def _reason(*, code: str, rank: int, event: Event, times: str = "") -> Reason:
    """A later event is a new matter: its size is its day."""
    return Reason(
        code=f"{PREFIX}{code}",
        rank=rank,
        size=Decimal(event.on.toordinal()),
        since=event.on,
        facts={
            "on": event.on.isoformat(),
            "limb": event.limb.value,
            "detail": "" if event.detail in UNTOLD else _detail(event),
            "times": times,
        },
        alarm=True,
    )


def _detail(event: Event) -> str:
    return BY_CODE[event.code].details.get(event.detail, "")


def days_of_change(*, events: Sequence[Event]) -> Iterator[date]:
    """The days on which one of these reasons can begin or end by itself."""
    for event in events:
        yield event.on
        if event.code == GIVING_WAY:
            yield event.on + ONCE
            yield event.on + UNTIL_SEEN_TO
        elif event.code in HOLDS:
            yield event.on + HOLDS[event.code][1]
