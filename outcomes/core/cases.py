"""The tests a criterion could be judged on, newest first, each with its number or the reason."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from outcomes.core.strength import per_body_mass
from outcomes.core.symmetry import SILENT, is_other_limb_fair, shortfall, symmetry
from outcomes.core.values import (
    Criterion,
    EpisodeFacts,
    Form,
    Limb,
    Measure,
    NotAssessable,
    Pair,
    Reading,
    ReadingStatus,
    Why,
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Case:
    """One test of the involved limb (and its pair) as a criterion sees it.

    ``silent``: it says nothing of the limb (declined, held back, no reading of the other limb).
    ``spoiled``: a detail with which the value meets nothing, or a missing one. ``alike``: whether
    the other limb shows the same grade; None where that is not known.
    """

    on: date
    key: str
    refs: tuple[int, ...]
    outcome: Fraction | NotAssessable
    silent: bool
    spoiled: NotAssessable | None = None
    alike: bool | None = False


def cases_of(
    *,
    criterion: Criterion,
    measure: Measure,
    readings: Sequence[Reading],
    facts: EpisodeFacts,
    body_mass: Reading | None,
) -> Iterator[Case]:
    """The cases of a criterion under its comparison key, newest first, made as they are asked."""
    limb = facts.knee if measure.per_limb else Limb.NONE
    opposite = None if limb is Limb.NONE else limb.opposite
    mine = [r for r in readings if r.limb is limb and criterion.key in ("", r.key)]
    compared = criterion.form in (Form.SYMMETRY, Form.SHORT_OF_OTHER)
    asked = readings if compared or criterion.alike_to is not None else ()
    others = {(r.on, r.key): r for r in sorted(asked, key=lambda r: r.ref) if r.limb is opposite}
    for reading in sorted(mine, key=lambda r: (r.on, r.ref, r.key), reverse=True):
        other = others.get((reading.on, reading.key))
        if compared:
            case = _paired(
                criterion=criterion, measure=measure, reading=reading, other=other, facts=facts
            )
            if other is None and any(day == reading.on for day, _ in others):
                case = _different_key(case=case, reading=reading, others=others)
        else:
            case = _single(
                criterion=criterion,
                measure=measure,
                reading=reading,
                other=other,
                facts=facts,
                body_mass=body_mass,
            )
        yield case


def keys_elsewhere(*, criterion: Criterion, readings: Sequence[Reading], limb: Limb) -> str:
    """The newest key under which the limb was tested instead of the criterion's; else empty."""
    found = [r for r in readings if r.limb is limb and r.key != criterion.key]
    return max(found, key=lambda r: (r.on, r.ref)).key if found and criterion.key else ""


def _paired(
    *,
    criterion: Criterion,
    measure: Measure,
    reading: Reading,
    other: Reading | None,
    facts: EpisodeFacts,
) -> Case:
    left, right = (reading, other) if reading.limb is Limb.LEFT else (other, reading)
    pair = Pair(measure=measure.code, on=reading.on, key=reading.key, left=left, right=right)
    found = symmetry(
        measure=measure,
        pair=pair,
        involved=facts.knee,
        other_limb_fair=is_other_limb_fair(facts=facts),
    )
    both = [r for r in (reading, other) if r is not None]
    outcome = found if isinstance(found, NotAssessable) else found.value
    if criterion.form is Form.SHORT_OF_OTHER and isinstance(outcome, Fraction):
        outcome = _short(measure=measure, reading=reading, other=other)
    return Case(
        on=reading.on,
        key=reading.key,
        refs=tuple(ref for r in both for ref in r.refs),
        outcome=outcome,
        silent=other is None or any(r.status in SILENT for r in both),
        spoiled=_spoiled(measure=measure, reading=reading),
    )


def _short(*, measure: Measure, reading: Reading, other: Reading | None) -> Fraction:
    if other is None or other.value is None or reading.value is None:
        raise AssertionError("a pair without both values was let through")
    return shortfall(measure=measure, involved=reading.value, other=other.value)


def _different_key(
    *, case: Case, reading: Reading, others: dict[tuple[date, str], Reading]
) -> Case:
    if not isinstance(case.outcome, NotAssessable) or (
        case.outcome.why is not Why.OTHER_LIMB_NOT_TESTED
    ):
        return case
    key = next(key for day, key in others if day == reading.on)
    return Case(
        on=case.on,
        key=case.key,
        refs=case.refs,
        outcome=NotAssessable(why=Why.DIFFERENT_KEY, detail=key),
        silent=True,
    )


def _single(
    *,
    criterion: Criterion,
    measure: Measure,
    reading: Reading,
    other: Reading | None,
    facts: EpisodeFacts,
    body_mass: Reading | None,
) -> Case:
    alike = _alike(criterion=criterion, reading=reading, other=other, facts=facts)
    seen = [reading] if criterion.alike_to is None or other is None else [reading, other]
    if criterion.form is Form.PER_BODY_MASS and body_mass is not None:
        seen.append(body_mass)
    return Case(
        on=reading.on,
        key=reading.key,
        refs=tuple(ref for r in seen for ref in r.refs),
        outcome=_number(criterion=criterion, reading=reading, body_mass=body_mass),
        silent=reading.status in SILENT,
        spoiled=_spoiled(measure=measure, reading=reading),
        alike=alike,
    )


def _number(
    *, criterion: Criterion, reading: Reading, body_mass: Reading | None
) -> Fraction | NotAssessable:
    if reading.status is ReadingStatus.STOPPED_BY_PAIN:
        return NotAssessable(why=Why.LIMITED_BY_PAIN, detail=reading.limb.value)
    if reading.status is not ReadingStatus.MEASURED or reading.value is None:
        return NotAssessable(why=Why.NOT_DONE, detail=reading.status.value)
    if criterion.form is not Form.PER_BODY_MASS:
        return Fraction(reading.value)
    if body_mass is None or not body_mass.value:
        return NotAssessable(why=Why.NO_BODY_MASS)
    return per_body_mass(value=reading.value, body_mass=body_mass.value)


def _spoiled(*, measure: Measure, reading: Reading) -> NotAssessable | None:
    for detail in measure.details:
        code = reading.details.get(detail.code, "")
        if detail.spoils and not code:
            return NotAssessable(why=Why.DETAIL_MISSING, detail=detail.code)
        if code in detail.spoils:
            return NotAssessable(why=Why.KEPT_LEVEL_BY, detail=code)
    return None


def _alike(
    *, criterion: Criterion, reading: Reading, other: Reading | None, facts: EpisodeFacts
) -> bool | None:
    """Whether both limbs show the same grade, up to the grade that counts when alike.

    False where the criterion has no such rule, the grade lies above it or the other limb is no
    fair reference; unknown where the other limb was not graded.
    """
    most: Decimal | None = criterion.alike_to
    if most is None or reading.value is None or reading.value > most:
        return False
    if not is_other_limb_fair(facts=facts):
        return False
    if other is None or other.value is None or other.status is not ReadingStatus.MEASURED:
        return None
    return other.value == reading.value
