"""A criterion's value against an earlier one: its change, or what stood for it before surgery."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

from outcomes.core.evidence import Evidence
from outcomes.core.symmetry import pre_injury_capacity, why_other_limb_is_not_fair
from outcomes.core.values import (
    Better,
    Form,
    Limb,
    Measure,
    NotAssessable,
    Reading,
    ReadingStatus,
    SymmetryForm,
    Why,
)

Found = tuple[Fraction | NotAssessable, Reading | None]


def change_of(*, form: Form, reading: Reading, evidence: Evidence) -> Found:
    """The value less an earlier one of the same limb under the same key, and that one.

    The earlier one is the first since the index date, or the one before. What was measured before
    the operation is another knee and is not subtracted.
    """
    index = evidence.facts.index_date
    since = index if index is not None and index <= reading.on else date.min
    line = evidence.line(code=reading.measure, limb=reading.limb, since=since)
    earlier = [
        one
        for one in line
        if one.key == reading.key
        and one.on < reading.on
        and one.status is ReadingStatus.MEASURED
        and one.value is not None
    ]
    if not earlier:
        return NotAssessable(why=Why.NO_EARLIER_VALUE), None
    before = earlier[-1] if form is Form.CHANGE_SINCE_SURGERY else earlier[0]
    if reading.value is None or before.value is None:
        raise AssertionError("a reading without a value was let through")
    return Fraction(reading.value) - Fraction(before.value), before


def pre_injury_of(*, measure: Measure, reading: Reading, evidence: Evidence) -> Found:
    """The involved limb now as per cent of the other limb before surgery, and that reading.

    Under the same key, the newest before the index date. A graft taken from the other limb since
    does not spoil what it did before; an injury or operation of its own does.
    """
    unfair = why_other_limb_is_not_fair(facts=evidence.facts)
    if unfair not in (None, "graft_from_other_limb") or evidence.facts.other_limb != "healthy":
        return NotAssessable(why=Why.OTHER_LIMB_NOT_FAIR), None
    index = evidence.facts.index_date
    other = reading.limb.opposite
    line = [] if other is Limb.NONE else evidence.line(code=reading.measure, limb=other)
    before = [
        one
        for one in line
        if index is not None
        and one.on < index
        and one.status is ReadingStatus.MEASURED
        and one.value is not None
    ]
    same = next((one for one in before if one.key == reading.key), None)
    if same is None or same.value is None or reading.value is None:
        why = Why.DIFFERENT_KEY if before else Why.NO_VALUE_BEFORE_SURGERY
        return NotAssessable(why=why, detail=before[0].key if before else ""), None
    lower = measure.symmetry is SymmetryForm.INVERTED_RATIO
    found = pre_injury_capacity(
        involved_now=reading.value,
        reference_before=same.value,
        better=Better.LOWER if lower else Better.HIGHER,
    )
    return (NotAssessable(why=Why.ZERO_REFERENCE) if found is None else found), same
