"""Limb against limb: pairs of readings and their symmetry, exact or not assessable."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Final

from outcomes.core.readings import conditions_of
from outcomes.core.values import (
    Basis,
    Better,
    EntryKind,
    EpisodeFacts,
    Limb,
    Measure,
    NotAssessable,
    Pair,
    Reading,
    ReadingStatus,
    Symmetry,
    SymmetryForm,
    Why,
)

Number = Decimal | Fraction

SILENT: Final = (ReadingStatus.DECLINED, ReadingStatus.SURGEONS_LIMIT)
"""Tests that were not tried: they say nothing of the limb."""


BEYOND_AGREED: Final = Decimal(-5)
"""Degrees beyond straight up to which the other knee is the target."""


def is_other_limb_fair(*, facts: EpisodeFacts) -> bool:
    """Whether the other limb may serve as the reference.

    Not when the graft came from it, when it is followed for its own injury, or unless it is
    recorded as healthy: "not asked yet" is not healthy.
    """
    return why_other_limb_is_not_fair(facts=facts) is None


def why_other_limb_is_not_fair(*, facts: EpisodeFacts) -> str | None:
    """The reason as a code (``graft_from_other_limb``, ``other_knee_followed`` or the state)."""
    if facts.graft_from == "other_limb":
        return "graft_from_other_limb"
    if facts.other_knee_followed:
        return "other_knee_followed"
    return None if facts.other_limb == "healthy" else facts.other_limb or "not_stated"


def shortfall(*, measure: Measure, involved: Decimal, other: Decimal) -> Fraction:
    """How far the involved limb falls short of the other, in the unit; below zero it is ahead.

    In extension the other knee is the target only up to 5 degrees beyond straight: further only
    if the surgeon agrees (setting of this house).
    """
    if measure.better is Better.HIGHER:
        return Fraction(other) - Fraction(involved)
    target = max(other, BEYOND_AGREED) if measure.entry is EntryKind.EXTENSION else other
    return Fraction(involved) - Fraction(target)


def ratio_index(*, involved: Number, other: Number, better: Better) -> Fraction | None:
    """Limb symmetry index in per cent, exact: below 100 the involved limb is always the worse.

    Involved over other where higher is better, other over involved where lower is better (timed
    tests). None where the other limb is zero, or the involved one where lower is better: no index,
    never 0 or 100. The values are not negative and in one unit. Source: definition as used by
    Gokeler 2017, PMC5315711; the inversion is common practice, no source.

    >>> ratio_index(involved=Decimal("18.9"), other=Decimal("21.0"), better=Better.HIGHER)
    Fraction(90, 1)
    """
    if not other or (better is Better.LOWER and not involved):
        return None
    over, under = (other, involved) if better is Better.LOWER else (involved, other)
    return Fraction(over) / Fraction(under) * 100


def pre_injury_capacity(
    *, involved_now: Number, reference_before: Number, better: Better
) -> Fraction | None:
    """The involved limb now as per cent of what stood for it before it was injured or operated.

    The reference is the other limb before surgery, or the knee's own value from before its
    injury: a limb that has weakened since cannot flatter it. Inverted where lower is better; None
    as for ``ratio_index``. Source: Wellsandt 2017, doi 10.2519/jospt.2017.7285.

    >>> pre_injury_capacity(
    ...     involved_now=Decimal(129), reference_before=Decimal(172), better=Better.HIGHER
    ... )
    Fraction(75, 1)
    """
    return ratio_index(involved=involved_now, other=reference_before, better=better)


def side_difference(*, involved: Number, other: Number) -> Fraction:
    """Involved minus other limb in the unit, with its sign, exact.

    For angles, girth, reach and laxity, where a ratio changes with the zero point.

    >>> side_difference(involved=Decimal("48.5"), other=Decimal("51.0"))
    Fraction(-5, 2)
    """
    return Fraction(involved) - Fraction(other)


def pairs_of(*, measure: Measure, readings: Sequence[Reading]) -> tuple[Pair, ...]:
    """All pairs of both limbs under one key on one date, newest first.

    On the same date the pair that was recorded last comes first. A limb read twice under one key
    on one date counts with the later row.
    """
    found: dict[tuple[object, str], dict[Limb, Reading]] = {}
    for reading in sorted(readings, key=lambda r: r.ref):
        if reading.measure == measure.code and reading.limb is not Limb.NONE:
            found.setdefault((reading.on, reading.key), {})[reading.limb] = reading
    pairs = [
        Pair(
            measure=measure.code,
            on=limbs[Limb.LEFT].on,
            key=limbs[Limb.LEFT].key,
            left=limbs[Limb.LEFT],
            right=limbs[Limb.RIGHT],
        )
        for limbs in found.values()
        if len(limbs) == 2
    ]
    return tuple(sorted(pairs, key=_recency, reverse=True))


def _recency(pair: Pair) -> tuple[object, int, str]:
    refs = [reading.ref for reading in (pair.left, pair.right) if reading is not None]
    return pair.on, max(refs), pair.key


def telling_of(*, pairs: Sequence[Pair]) -> Pair | None:
    """Of pairs sorted newest first, the first in which both tests were tried; else the first.

    A test that was declined or held back by the surgeon says nothing of the limb, so it does not
    hide an older pair. One stopped by pain or not possible does.
    """
    return next((pair for pair in pairs if not _silent(pair)), next(iter(pairs), None))


def _silent(pair: Pair) -> bool:
    return any(r is not None and r.status in SILENT for r in (pair.left, pair.right))


def symmetry(
    *, measure: Measure, pair: Pair, involved: Limb, other_limb_fair: bool
) -> Symmetry | NotAssessable:
    """The symmetry of a pair, exact, in the form the measure names.

    ``ratio``: involved / other x 100; ``inverted_ratio`` (lower is better): other / involved x
    100, so that below 100 is still worse; ``difference``: involved - other in the unit. Not
    assessable, with the reason, when a value is missing, the other limb is no fair reference, pain
    limited a test, the reference is zero or both limbs reached the cap.
    """
    refused = _refused(measure=measure, involved=involved, other_limb_fair=other_limb_fair)
    mine, theirs = pair.of(limb=involved), pair.of(limb=involved.opposite)
    refused = refused or unusable(reading=mine, missing=Why.INVOLVED_NOT_TESTED)
    refused = refused or unusable(reading=theirs, missing=Why.OTHER_LIMB_NOT_TESTED)
    if refused is not None:
        return refused
    if mine is None or theirs is None or mine.value is None or theirs.value is None:
        raise AssertionError("an unusable reading was let through")
    if measure.cap is not None and min(mine.value, theirs.value) >= measure.cap:
        return NotAssessable(why=Why.BOTH_AT_CAP)
    if measure.symmetry is SymmetryForm.DIFFERENCE:
        difference = side_difference(involved=mine.value, other=theirs.value)
        return _symmetry(measure=measure, value=difference, pair=pair)
    inverted = measure.symmetry is SymmetryForm.INVERTED_RATIO
    better = Better.LOWER if inverted else Better.HIGHER
    index = ratio_index(involved=mine.value, other=theirs.value, better=better)
    if index is None:
        return NotAssessable(why=Why.ZERO_REFERENCE)
    return _symmetry(measure=measure, value=index, pair=pair)


def _symmetry(*, measure: Measure, value: Fraction, pair: Pair) -> Symmetry:
    difference = measure.symmetry is SymmetryForm.DIFFERENCE
    of = Basis.DIFFERENCE if difference else Basis.SYMMETRY
    error = measure.error_of(of=of, conditions=conditions_of(key=pair.key))
    return Symmetry(
        form=measure.symmetry, value=value, sem=None if error is None else error.sem, pair=pair
    )


def _refused(*, measure: Measure, involved: Limb, other_limb_fair: bool) -> NotAssessable | None:
    if measure.symmetry is SymmetryForm.NONE:
        return NotAssessable(why=Why.NO_RATIO)
    if involved is Limb.NONE:
        return NotAssessable(why=Why.NO_INVOLVED_LIMB)
    return None if other_limb_fair else NotAssessable(why=Why.OTHER_LIMB_NOT_FAIR)


def unusable(*, reading: Reading | None, missing: Why = Why.NO_READING) -> NotAssessable | None:
    """Why nothing can be worked out from a reading, or None where something can."""
    if reading is None:
        return NotAssessable(why=missing)
    if reading.status is ReadingStatus.STOPPED_BY_PAIN:
        return NotAssessable(why=Why.LIMITED_BY_PAIN, detail=reading.limb.value)
    if reading.status is not ReadingStatus.MEASURED or reading.value is None:
        return NotAssessable(why=Why.NOT_DONE, detail=reading.status.value)
    return None
