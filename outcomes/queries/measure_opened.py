"""One measure, opened: what its number, its change and its share of the body were made from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Final

from clinic import words
from outcomes.core.quantities import shown
from outcomes.core.relative import BODY, DECIMALS, SIGN, body_for, relative_value
from outcomes.core.status import Change
from outcomes.core.values import (
    EpisodeFacts,
    Limb,
    Measure,
    NotAssessable,
    Reading,
    Summary,
    Symmetry,
    SymmetryForm,
)
from outcomes.core.wording import Cuts, cut_words, number_words, value_words
from outcomes.queries.opened import Opened, open_derived, open_symmetry, open_value

TRIALS: Final[Mapping[Summary, str]] = {
    Summary.BEST: "The best",
    Summary.MEAN: "The mean",
    Summary.MEDIAN: "The median",
}


@dataclass(frozen=True, kw_only=True, slots=True)
class Told:
    """What is said of one measure on a day and has to open.

    ``changes`` are how each limb, or the person, moved; ``index_change`` how the symmetry did.
    ``body`` are the readings that a value may be set against; thresholds are never rounded across.
    """

    measure: Measure
    readings: Sequence[Reading]
    facts: EpisodeFacts
    measures: Mapping[str, Measure]
    on: date
    symmetry: Symmetry | NotAssessable | None = None
    index_change: Change | None = None
    changes: Mapping[Limb, Change] = field(default_factory=dict)
    body: Sequence[Reading] = ()
    cuts: Cuts = ()
    body_cuts: Cuts = ()


def open_measure(*, told: Told) -> Opened:
    """Inputs with dates, formula, change, error, sources and version."""
    measure = told.measure
    worked = measure.derived is not None
    if worked:
        opened = open_derived(measure=measure, readings=told.readings, measures=told.measures)
    else:
        opened = open_value(measure=measure, readings=told.readings)
    if isinstance(told.symmetry, Symmetry):
        compared = open_symmetry(
            measure=measure, symmetry=told.symmetry, facts=told.facts, cuts=told.cuts
        )
        first = opened.parts[:2] if worked else compared.parts[:1]
        opened = Opened(parts=(*first, *compared.parts[1:]))
    more = [("Each value", tuple(_summed(told))), *_by_body(told), ("Change", tuple(_moved(told)))]
    place = 1 if not worked else 2
    parts = (*opened.parts[:place], *(part for part in more if part[1]), *opened.parts[place:])
    return Opened(parts=parts)


def _summed(told: Told) -> Iterator[str]:
    """How one value came from several trials or items."""
    measure = told.measure
    if measure.summary in TRIALS:
        yield f"{TRIALS[measure.summary]} of up to {measure.trials} trials."
    for reading in told.readings:
        found = [
            f"{item.label} {points}"
            for item in measure.items
            if (points := item.score(code=reading.details.get(item.code, ""))) is not None
        ]
        if found:
            value = value_words(measure=measure, value=reading.value)
            yield f"{reading.limb.capitalize()}: {' + '.join(found)} = {value}"


def _by_body(told: Told) -> list[tuple[str, tuple[str, ...]]]:
    relative = told.measure.relative
    if relative is None:
        return []
    lines = []
    for reading in told.readings:
        body = body_of(told=told, reading=reading)
        if body is None or reading.value is None:
            continue
        mine = value_words(measure=told.measure, value=reading.value)
        against = value_words(measure=told.measures[body.measure], value=body.value)
        lines.append(
            f"{reading.limb.capitalize()} {mine} ÷ {against} ({words.day(body.on)}) = "
            f"{relative_words(told=told, reading=reading)}"
        )
    return [(f"By {BODY[relative].replace('_', ' ')}", tuple(lines))]


def body_of(*, told: Told, reading: Reading) -> Reading | None:
    """What a value is set against: the mass, height or leg length that was recent enough."""
    if told.measure.relative is None:
        return None
    return body_for(
        relative=told.measure.relative,
        reading=reading,
        catalogue=told.measures,
        readings=told.body,
        on=told.on,
    )


def relative_words(*, told: Told, reading: Reading) -> str:
    """The value relative to the body, where that is on record and recent: "1.92 N·m/kg"."""
    relative, body = told.measure.relative, body_of(told=told, reading=reading)
    if relative is None or body is None or body.value is None or reading.value is None:
        return ""
    found = relative_value(relative=relative, value=reading.value, body=body.value)
    number = cut_words(value=found, decimals=DECIMALS[relative], cuts=told.body_cuts)
    return f"{number} {SIGN[relative]}"


def _moved(told: Told) -> Iterator[str]:
    """From what to what, since when."""
    if told.index_change is not None:
        change = told.index_change
        before, after = (_index(told.measure, value) for value in (change.before, change.after))
        yield f"Symmetry from {before} ({words.day(change.since)}) to {after}."
    for limb, change in told.changes.items():
        before, after = (_value(told.measure, value) for value in (change.before, change.after))
        side = "From" if limb is Limb.NONE else f"{limb.capitalize()} from"
        yield f"{side} {before} ({words.day(change.since)}) to {after}."


def _index(measure: Measure, value: Fraction) -> str:
    if measure.symmetry is SymmetryForm.DIFFERENCE:
        return number_words(measure=measure, value=value).replace("-", "−")
    return f"{shown(value=value, decimals=2)} %"


def _value(measure: Measure, value: Fraction) -> str:
    exact = Decimal(value.numerator) / Decimal(value.denominator)
    return value_words(measure=measure, value=exact)
