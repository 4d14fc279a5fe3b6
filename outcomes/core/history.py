"""Readings of an episode by measure and limb, newest first: what reasons and changes look at."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from outcomes.core.dates import weeks_since
from outcomes.core.symmetry import is_other_limb_fair, pairs_of, symmetry
from outcomes.core.values import (
    EpisodeFacts,
    Limb,
    Measure,
    NotAssessable,
    Pair,
    Reading,
    ReadingStatus,
    Symmetry,
)


@dataclass(frozen=True, kw_only=True)
class History:
    """What was read up to a day, sorted once. ``readings`` are of one patient, both limbs.

    ``unworked`` says why a derived measure has no value for a limb.
    """

    facts: EpisodeFacts
    catalogue: Mapping[str, Measure]
    readings: Sequence[Reading]
    on: date
    unworked: Mapping[tuple[str, Limb], NotAssessable] = field(default_factory=dict)
    _sorted: dict[tuple[str, Limb], list[Reading]] = field(init=False, repr=False)

    _pairs: dict[str, tuple[Pair, ...]] = field(init=False, repr=False, default_factory=dict)

    def __post_init__(self) -> None:
        found: dict[tuple[str, Limb], list[Reading]] = defaultdict(list)
        past = [reading for reading in self.readings if reading.on <= self.on]
        for reading in sorted(past, key=lambda r: (r.on, r.ref), reverse=True):
            found[reading.measure, reading.limb].append(reading)
        object.__setattr__(self, "_sorted", found)

    @property
    def codes(self) -> tuple[str, ...]:
        """The measures that were read at all or lack a value, in the order of the catalogue."""
        read = {code for code, _ in (*self._sorted, *self.unworked)}
        return tuple(code for code in self.catalogue if code in read)

    def all_of(self, *, code: str, limb: Limb) -> list[Reading]:
        """Every reading of a limb, newest first, whatever became of the test."""
        return list(self._sorted.get((code, limb), ()))

    def valued(self, *, code: str, limb: Limb) -> list[Reading]:
        """Readings of a limb that have a value, also those stopped by pain: for alarms."""
        return [r for r in self.all_of(code=code, limb=limb) if r.value is not None]

    def measured(self, *, code: str, limb: Limb) -> list[Reading]:
        """Readings of a limb that may be compared."""
        found = self.valued(code=code, limb=limb)
        return [reading for reading in found if reading.status is ReadingStatus.MEASURED]

    def both(self, *, code: str) -> list[Reading]:
        """Every reading of both limbs of a measure."""
        return [
            reading
            for limb in (Limb.LEFT, Limb.RIGHT)
            for reading in self.all_of(code=code, limb=limb)
        ]

    def pairs(self, *, code: str) -> tuple[Pair, ...]:
        """Every pair of a measure, newest first, sorted once."""
        if code not in self._pairs:
            self._pairs[code] = pairs_of(
                measure=self.catalogue[code], readings=self.both(code=code)
            )
        return self._pairs[code]

    def symmetries(self, *, code: str) -> Iterator[Symmetry]:
        """The symmetries that can be assessed, newest first, made as they are asked."""
        measure = self.catalogue[code]
        fair = is_other_limb_fair(facts=self.facts)
        found = (
            symmetry(measure=measure, pair=pair, involved=self.facts.knee, other_limb_fair=fair)
            for pair in self.pairs(code=code)
        )
        return (one for one in found if isinstance(one, Symmetry))

    def week(self, *, on: date) -> int | None:
        """Completed weeks since the index date on that day; None before it."""
        return weeks_since(index_date=self.facts.index_date, on=on)

    def same_side(self, *, one: date, other: date) -> bool:
        """Whether both days lie before the index date, both after it, or both are that day.

        An operation changes a knee by itself: what is worse than before it is no setback. The day
        itself is compared with no other: a value of it may be from before the operation, or from
        a knee that is still numb (common practice, no source).
        """
        return self._side(one) == self._side(other)

    def bears_on_today(self, *, on: date) -> bool:
        """Whether a day lies on today's side of the index date, that date being after.

        What was read before an operation is no reason to look at the knee after it.
        """
        return (self.week(on=on) is None) == (self.week(on=self.on) is None)

    def _side(self, day: date) -> int:
        index = self.facts.index_date
        return -1 if index is None else (day > index) - (day < index)
