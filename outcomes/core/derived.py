"""Measures that are worked out from others of one limb and day: never typed, never stored."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Final

from outcomes.core.quantities import EXACT, plain
from outcomes.core.reach import reach_composite
from outcomes.core.readings import conditions_of
from outcomes.core.relative import carried_limb
from outcomes.core.symmetry import unusable
from outcomes.core.values import (
    Derivation,
    Formula,
    Limb,
    Measure,
    NotAssessable,
    Reading,
    ReadingStatus,
    Why,
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Derived:
    """One derived value of a limb on a day, exact, or why there is none; with its inputs.

    ``inputs`` are in the order of the formula, without those that are missing.
    """

    measure: str
    limb: Limb
    on: date
    key: str
    outcome: Fraction | NotAssessable
    inputs: tuple[Reading, ...]

    @property
    def reading(self) -> Reading | None:
        """It as a reading that any rule may judge, or None without a value.

        The value has 60 digits. Inputs have at most 15, so that it lies on the same side of every
        threshold of six places as the exact one. ``details`` carry each input's value, and the day
        of one that is older.
        """
        if isinstance(self.outcome, NotAssessable):
            return None
        details = {used.measure: plain(value=used.value or Decimal(0)) for used in self.inputs}
        testers = {used.tester for used in self.inputs if used.on == self.on}
        for used in self.inputs:
            if used.on != self.on:
                details[f"{used.measure}_on"] = used.on.isoformat()
        return Reading(
            measure=self.measure,
            limb=self.limb,
            value=EXACT.divide(Decimal(self.outcome.numerator), Decimal(self.outcome.denominator)),
            on=self.on,
            key=self.key,
            details=details,
            ref=max(used.ref for used in self.inputs),
            made_from=tuple(used.ref for used in self.inputs),
            tester=testers.pop() if len(testers) == 1 else 0,
        )


def derived_of(
    *, measure: Measure, catalogue: Mapping[str, Measure], readings: Sequence[Reading]
) -> tuple[Derived, ...]:
    """Every value that a derived measure has in a record, newest day first.

    A limb has one for each day on which all inputs that must be fresh were tested, and for each
    set of conditions that they share. Without shared conditions, without a carried input that is
    young enough, with a test stopped by pain or a zero to divide by it is not assessable, and says
    why. Raises ``ValueError`` for a measure that is typed.
    """
    if measure.derived is None:
        raise ValueError(f"{measure.code} is typed, not derived")
    work = _Work(measure=measure, rule=measure.derived, catalogue=catalogue, readings=readings)
    limbs = (Limb.LEFT, Limb.RIGHT) if measure.per_limb else (Limb.NONE,)
    found = [one for limb in limbs for one in work.of(limb)]
    return tuple(sorted(found, key=lambda one: (one.on, one.key), reverse=True))


def all_derived(
    *, catalogue: Mapping[str, Measure], readings: Sequence[Reading]
) -> tuple[Derived, ...]:
    """What every derived measure of the catalogue gives; nothing where no input was tested."""
    read = {reading.measure for reading in readings}
    return tuple(
        one
        for measure in catalogue.values()
        if measure.derived is not None and read.issuperset(measure.derived.fresh)
        for one in derived_of(measure=measure, catalogue=catalogue, readings=readings)
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Work:
    """One derived measure over one record."""

    measure: Measure
    rule: Derivation
    catalogue: Mapping[str, Measure]
    readings: Sequence[Reading]

    def of(self, limb: Limb) -> Iterator[Derived]:
        """The values of a limb, day by day."""
        fresh = self.rule.fresh
        days: dict[date, dict[str, dict[str, Reading]]] = {}
        for reading in sorted(self.readings, key=lambda one: one.ref):
            if reading.measure in fresh and reading.limb is limb:
                day = days.setdefault(reading.on, {})
                day.setdefault(reading.measure, {})[self._shared(reading)] = reading
        for on, by_code in days.items():
            if len(by_code) == len(fresh):
                yield from self._day(on, limb, [by_code[code] for code in fresh])

    def _shared(self, reading: Reading) -> str:
        """The part of a comparison key that must be alike, as a key of the derived measure."""
        found = conditions_of(key=reading.key)
        return ";".join(
            f"{code}={found[code]}" for code in sorted(self.rule.alike) if code in found
        )

    def _day(
        self, on: date, limb: Limb, by_key: Sequence[Mapping[str, Reading]]
    ) -> Iterator[Derived]:
        common = set.intersection(*(set(keys) for keys in by_key))
        if not common:
            why = NotAssessable(why=Why.INPUTS_DIFFER)
            used = tuple(list(keys.values())[-1] for keys in by_key)
            yield self._derived(on, limb, "", why, used)
        for key in sorted(common):
            yield self._one(on, limb, key, {k[key].measure: k[key] for k in by_key})

    def _one(self, on: date, limb: Limb, key: str, found: dict[str, Reading]) -> Derived:
        for code in self.rule.carried:
            older = self._carried(code, on, carried_limb(code=code, limb=limb, key=key))
            if older is not None:
                found[code] = older
        used = tuple(found[code] for code in self.rule.inputs if code in found)
        missing = next((code for code in self.rule.inputs if code not in found), "")
        if missing:
            lacks = NotAssessable(why=Why.INPUT_NOT_TESTED, detail=missing)
            return self._derived(on, limb, key, lacks, used)
        refused = next((why for r in used if (why := unusable(reading=r)) is not None), None)
        return self._derived(on, limb, key, refused or self._formula(used), used)

    def _carried(self, code: str, on: date, limb: Limb) -> Reading | None:
        measure = self.catalogue.get(code)
        if measure is None:
            return None
        age = measure.maximum_age_days
        oldest = date.min if age is None else on - timedelta(days=age)
        limb = limb if measure.per_limb else Limb.NONE
        found = [
            reading
            for reading in self.readings
            if (reading.measure, reading.limb, reading.status)
            == (code, limb, ReadingStatus.MEASURED)
            and oldest <= reading.on <= on
        ]
        return max(found, key=lambda reading: (reading.on, reading.ref), default=None)

    def _formula(self, used: Sequence[Reading]) -> Fraction | NotAssessable:
        values = [reading.value or Decimal(0) for reading in used]
        found = _FORMULAS[self.rule.formula](values)
        return NotAssessable(why=Why.ZERO_REFERENCE) if found is None else found

    def _derived(
        self,
        on: date,
        limb: Limb,
        key: str,
        outcome: Fraction | NotAssessable,
        used: tuple[Reading, ...],
    ) -> Derived:
        return Derived(
            measure=self.measure.code, limb=limb, on=on, key=key, outcome=outcome, inputs=used
        )


def _ratio(values: Sequence[Decimal]) -> Fraction | None:
    over, under = values
    return Fraction(over) / Fraction(under) if under else None


def _reach_composite(values: Sequence[Decimal]) -> Fraction | None:
    anterior, posteromedial, posterolateral, leg_length = values
    if not leg_length:
        return None
    return reach_composite(
        anterior=anterior,
        posteromedial=posteromedial,
        posterolateral=posterolateral,
        leg_length=leg_length,
    )


_FORMULAS: Final[Mapping[Formula, Callable[[Sequence[Decimal]], Fraction | None]]] = {
    Formula.RATIO: _ratio,
    Formula.REACH_COMPOSITE: _reach_composite,
}
