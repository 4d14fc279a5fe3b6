"""The next day on which a judgement can change although nothing new was recorded."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta

from outcomes.core.dates import add_months, birthday
from outcomes.core.evidence import BODY_MASS
from outcomes.core.holds import SOON
from outcomes.core.judge import milestones_for
from outcomes.core.looks import baseline_window, overdue_from, unsigned_from
from outcomes.core.looks_at_events import days_of_change
from outcomes.core.normalised import RELATIVE
from outcomes.core.relative import BODY
from outcomes.core.thresholds import ADULT
from outcomes.core.values import (
    Criterion,
    EpisodeFacts,
    Event,
    Gate,
    Measure,
    Protocol,
    Reading,
    RedFlag,
    Restriction,
    Score,
    Subject,
    VisitFacts,
)

ONE_DAY = timedelta(days=1)


def next_change(
    *,
    facts: EpisodeFacts,
    catalogue: Mapping[str, Measure],
    protocol: Protocol,
    readings: Sequence[Reading],
    restrictions: Sequence[Restriction],
    visits: VisitFacts,
    red_flags: Sequence[RedFlag],
    on: date,
    events: Sequence[Event] = (),
    scores: Sequence[Score] = (),
) -> date | None:
    """The first such day after ``on``, or None when time alone changes nothing any more.

    A reading or a score gets out of date, a gate opens, a limit starts or ends, a visit gets
    overdue or unsigned for too long, an event old, a window of weeks opens or closes, or the
    person turns 18 or as old as a threshold asks. It may come too early (the judgement is then
    the same), never too late.
    """
    days = [
        *_readings(facts=facts, catalogue=catalogue, protocol=protocol, readings=readings),
        *_gates(facts=facts, protocol=protocol),
        *_criteria(facts=facts, protocol=protocol, scores=scores, events=events),
        *_limits(restrictions=restrictions),
        *_visits(facts=facts, visits=visits),
        *(flag.on for flag in red_flags),
        *days_of_change(events=events),
    ]
    return min((day for day in days if day > on), default=None)


def _readings(
    *,
    facts: EpisodeFacts,
    catalogue: Mapping[str, Measure],
    protocol: Protocol,
    readings: Sequence[Reading],
) -> Iterator[date]:
    ages: dict[str, set[int]] = {}
    bodies = {BODY_MASS}
    for milestone in milestones_for(protocol=protocol, goal=facts.goal):
        for criterion in milestone.criteria:
            ages.setdefault(criterion.measure, set()).add(criterion.maximum_age_days)
            if criterion.form in RELATIVE:
                bodies.add(BODY[RELATIVE[criterion.form]])
    for code in bodies:
        body = catalogue.get(code)
        if body is not None and body.maximum_age_days is not None:
            ages.setdefault(code, set()).add(body.maximum_age_days)
    for reading in readings:
        yield reading.on
        for age in ages.get(reading.measure, ()):
            yield reading.on + timedelta(days=age) + ONE_DAY


def _criteria(
    *,
    facts: EpisodeFacts,
    protocol: Protocol,
    scores: Sequence[Score],
    events: Sequence[Event],
) -> Iterator[date]:
    for milestone in milestones_for(protocol=protocol, goal=facts.goal):
        for criterion in milestone.criteria:
            yield from _own_days(criterion=criterion, facts=facts)
            if criterion.subject is Subject.SCORE:
                days = [score.on for score in scores if score.code == criterion.measure]
                yield from _from_to(days=days, last=criterion.maximum_age_days)
            if criterion.subject is Subject.EVENT:
                days = [event.on for event in events if event.code == criterion.measure]
                yield from _from_to(days=days, last=criterion.within_days or 0)


def _from_to(*, days: Sequence[date], last: int) -> Iterator[date]:
    """From when something counts, and from when it does not any more."""
    for day in days:
        yield day
        yield day + timedelta(days=last) + ONE_DAY


def _own_days(*, criterion: Criterion, facts: EpisodeFacts) -> Iterator[date]:
    """The earliest week of a criterion, and the birthdays at which its threshold changes."""
    if criterion.earliest_week is not None and facts.index_date is not None:
        yield facts.index_date + timedelta(weeks=criterion.earliest_week)
    if criterion.since is not None:
        yield criterion.since
    for band in criterion.bands:
        for age in (band.from_age, band.below_age):
            if age is not None:
                yield birthday(birth_date=facts.birth_date, age=age)


def _gates(*, facts: EpisodeFacts, protocol: Protocol) -> Iterator[date]:
    yield birthday(birth_date=facts.birth_date, age=ADULT)
    if facts.index_date is None:
        return
    yield facts.index_date
    for milestone in protocol.milestones:
        yield from _gate(gate=milestone.gate, start=facts.index_date)


def _gate(*, gate: Gate, start: date) -> Iterator[date]:
    if gate.weeks is not None:
        yield start + timedelta(weeks=gate.weeks)
    for months in (gate.months, *(later for _, later in gate.later)):
        if months is not None:
            yield add_months(start=start, months=months)


def _limits(*, restrictions: Sequence[Restriction]) -> Iterator[date]:
    for limit in restrictions:
        yield limit.since
        if limit.until is not None:
            yield limit.until - SOON
            yield limit.until + ONE_DAY


def _visits(*, facts: EpisodeFacts, visits: VisitFacts) -> Iterator[date]:
    window = baseline_window(facts=facts)
    if window is not None:
        yield window[0]
        yield window[1] + ONE_DAY
    if visits.booked_on is not None:
        yield visits.booked_on + ONE_DAY
    for day in (unsigned_from(visits=visits), overdue_from(facts=facts, visits=visits)):
        if day is not None:
            yield day
