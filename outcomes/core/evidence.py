"""What a criterion may be judged on, up to a day: sorted once, looked up many times."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Final

from outcomes.core.values import (
    Criterion,
    EpisodeFacts,
    Event,
    Limb,
    Measure,
    Reading,
    ReadingStatus,
    Score,
)

BODY_MASS: Final = "body_mass"
Tests = Mapping[tuple[date, str], Reading]
"""The readings of one limb by day and comparison key."""


@dataclass(kw_only=True)
class Evidence:
    """The record of one episode's patient as it stood on a day. ``readings`` are of both limbs.

    ``body_mass`` is the one that values for each kg are worked out with, None without any.
    """

    facts: EpisodeFacts
    catalogue: Mapping[str, Measure]
    readings: Iterable[Reading]
    on: date
    scores: Sequence[Score] = ()
    events: Sequence[Event] = ()
    body_mass: Reading | None = None
    _rows: dict[tuple[str, Limb], list[Reading]] = field(init=False, repr=False)
    _lines: dict[tuple[str, Limb, date], list[Reading]] = field(init=False, repr=False)
    _tests: dict[tuple[str, Limb, date], Tests] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        self._lines, self._tests = {}, {}
        self._rows = defaultdict(list)
        on = self.on
        for reading in self.readings:
            if reading.on <= on:
                self._rows[reading.measure, reading.limb].append(reading)

    def since(self, *, criterion: Criterion) -> date:
        """The first day whose tests count: of the knee as it is, from the criterion's own week."""
        index = self.facts.index_date
        if index is None or index > self.on:
            return date.min
        return index + timedelta(weeks=criterion.earliest_week or 0)

    def line(self, *, code: str, limb: Limb, since: date = date.min) -> list[Reading]:
        """Every reading of a limb from that day on, newest first."""
        key = (code, limb, since)
        if key not in self._lines:
            rows = [row for row in self._rows.get((code, limb), ()) if row.on >= since]
            rows.sort(key=lambda row: (row.on, row.ref, row.key), reverse=True)
            self._lines[key] = rows
        return self._lines[key]

    def tests(self, *, code: str, limb: Limb, since: date) -> Tests:
        """The same by day and comparison key; of two under one key the later row counts."""
        key = (code, limb, since)
        if key not in self._tests:
            rows = self.line(code=code, limb=limb, since=since)
            self._tests[key] = {(row.on, row.key): row for row in reversed(rows)}
        return self._tests[key]

    def of(self, *, code: str) -> list[Reading]:
        """Every reading of a measure, of either limb or of none."""
        return [row for limb in Limb for row in self._rows.get((code, limb), ())]


def evidence_of(
    *,
    facts: EpisodeFacts,
    catalogue: Mapping[str, Measure],
    readings: Sequence[Reading],
    on: date,
    scores: Sequence[Score] = (),
    events: Sequence[Event] = (),
) -> Evidence:
    """The evidence of a day, with the newest body mass that is not out of date on it."""
    return Evidence(
        facts=facts,
        catalogue=catalogue,
        readings=readings,
        on=on,
        scores=scores,
        events=events,
        body_mass=latest_body_mass(catalogue=catalogue, readings=readings, on=on),
    )


def latest_body_mass(
    *, catalogue: Mapping[str, Measure], readings: Iterable[Reading], on: date
) -> Reading | None:
    """The newest body mass that is not out of date on that day, or None."""
    age = catalogue[BODY_MASS].maximum_age_days if BODY_MASS in catalogue else None
    oldest = date.min if age is None else on - timedelta(days=age)
    found = [
        reading
        for reading in readings
        if reading.measure == BODY_MASS
        and reading.status is ReadingStatus.MEASURED
        and oldest <= reading.on <= on
    ]
    return max(found, key=lambda r: (r.on, r.ref), default=None)
