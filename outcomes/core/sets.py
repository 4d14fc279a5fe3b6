"""What a visit asks for: the protocol's set of the week, and when another measure is usual."""

from __future__ import annotations

from outcomes.core.values import MeasureSet, Protocol


def set_of(*, protocol: Protocol, week: int | None) -> MeasureSet | None:
    """The set of a week after the index date; None as the week is before surgery.

    A protocol that was read has exactly one for every week; one without sets gives None.

    >>> from outcomes.core.values import MeasureSet, Protocol
    >>> before = MeasureSet(label="Before", first=None, last=None, measures=("body_mass",))
    >>> week_1 = MeasureSet(label="Week 1", first=0, last=1, measures=("effusion",))
    >>> later = MeasureSet(label="Later", first=2, last=None, measures=("single_hop",))
    >>> sets = (before, week_1, later)
    >>> made = Protocol(code="own@1", label="Own", milestones=(), last_by_goal={}, sets=sets)
    >>> [set_of(protocol=made, week=week).label for week in (None, 0, 1, 2, 90)]
    ['Before', 'Week 1', 'Week 1', 'Later', 'Later']
    """
    return next((one for one in protocol.sets if one.holds(week=week)), None)


def asked(*, protocol: Protocol, week: int | None, kind: str) -> frozenset[str]:
    """The measures that a visit of that week asks for, for an episode of that kind.

    >>> from outcomes.core.values import MeasureSet, Protocol
    >>> both = ("effusion", "wound_closed")
    >>> one = MeasureSet(label="1", first=0, last=None, measures=both, operated=both[1:])
    >>> made = Protocol(code="own@1", label="Own", milestones=(), last_by_goal={}, sets=(one,))
    >>> sorted(asked(protocol=made, week=0, kind="reconstruction"))
    ['effusion', 'wound_closed']
    >>> sorted(asked(protocol=made, week=0, kind="without_surgery"))
    ['effusion']
    """
    found = set_of(protocol=protocol, week=week)
    if found is None:
        return frozenset()
    left_out = found.operated if kind == "without_surgery" else ()
    return frozenset(found.measures).difference(left_out)


def usual_from(*, protocol: Protocol, code: str, week: int | None) -> int | None:
    """The first week ahead in which a measure is asked for; None where none is ahead.

    Before surgery every week after it is ahead.

    >>> from outcomes.core.values import MeasureSet, Protocol
    >>> week_1 = MeasureSet(label="Week 1", first=0, last=1, measures=("effusion",))
    >>> later = MeasureSet(label="Later", first=2, last=None, measures=("single_hop",))
    >>> sets = (week_1, later)
    >>> made = Protocol(code="own@1", label="Own", milestones=(), last_by_goal={}, sets=sets)
    >>> usual_from(protocol=made, code="single_hop", week=1)
    2
    >>> usual_from(protocol=made, code="effusion", week=1) is None
    True
    """
    now = -1 if week is None else week
    starts = [
        one.first
        for one in protocol.sets
        if one.first is not None and one.first > now and code in one.measures
    ]
    return min(starts, default=None)
