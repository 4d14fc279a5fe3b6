"""A graded drop with the record it is seen in: newest values and pairs of both limbs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from outcomes.core.history import History
from outcomes.core.readings import conditions_of
from outcomes.core.symmetry import is_other_limb_fair
from outcomes.core.values import EpisodeFacts, Limb, Measure, Pair, Reading, ReadingStatus


@dataclass(frozen=True, kw_only=True, slots=True)
class Finding:
    """One thing that was found, as data. ``facts`` are exact texts, ``refs`` the readings."""

    code: str
    facts: Mapping[str, str] = field(default_factory=dict)
    refs: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Drop:
    """One graded heel touch of a standing limb, with the record it is seen in.

    ``lateral_hip_pain`` is what was asked: pain at the side of the hip of the standing leg.
    """

    reading: Reading
    facts: EpisodeFacts
    catalogue: Mapping[str, Measure]
    readings: Sequence[Reading]
    on: date
    lateral_hip_pain: bool | None = None
    history: History = field(init=False, repr=False)

    def __post_init__(self) -> None:
        history = History(
            facts=self.facts, catalogue=self.catalogue, readings=self.readings, on=self.on
        )
        object.__setattr__(self, "history", history)

    @property
    def standing(self) -> Limb:
        """The limb that is stood on; the other side of the pelvis drops."""
        return self.reading.limb

    @property
    def comparable(self) -> bool:
        """Whether two sides may be compared at all."""
        return is_other_limb_fair(facts=self.facts)

    def newest(self, *, code: str, limb: Limb, **conditions: str) -> Reading | None:
        """The newest usable value that is not out of date, under these conditions."""
        found = self.lately(code=code, limb=limb)
        return next((one for one in found if _under(one, conditions)), None)

    def lately(self, *, code: str, limb: Limb) -> list[Reading]:
        """Usable values that are not out of date, newest first."""
        found = self.history.measured(code=code, limb=limb)
        return [one for one in found if self._recent(code, one.on)]

    def pair(self, *, code: str) -> Pair | None:
        """The newest pair of both limbs, measured and not out of date, if they may be compared."""
        if not self.comparable or code not in self.catalogue:
            return None
        for pair in self.history.pairs(code=code):
            both = [one for one in (pair.left, pair.right) if one is not None]
            measured = all(one.status is ReadingStatus.MEASURED for one in both)
            if measured and self._recent(code, pair.on):
                return pair
        return None

    def _recent(self, code: str, day: date) -> bool:
        age = self.catalogue[code].maximum_age_days
        recent = age is None or day >= self.on - timedelta(days=age)
        return recent and self.history.bears_on_today(on=day)


def _under(reading: Reading, conditions: Mapping[str, str]) -> bool:
    found = conditions_of(key=reading.key)
    return all(found.get(code) == value for code, value in conditions.items())
