"""The tests a criterion could be judged on, newest first, each with its number or the reason."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

from outcomes.core.evidence import Evidence, Tests
from outcomes.core.normalised import body_of, normalised
from outcomes.core.over_time import change_of, pre_injury_of
from outcomes.core.symmetry import SILENT, is_other_limb_fair, shortfall, symmetry, unusable
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
    the other limb shows the same grade; None where that is not known. ``body`` is the measurement
    of the body that the value is relative to.
    """

    on: date
    key: str
    refs: tuple[int, ...]
    outcome: Fraction | NotAssessable
    silent: bool
    spoiled: NotAssessable | None = None
    alike: bool | None = False
    body: Reading | None = None


def limb_of(*, measure: Measure, facts: EpisodeFacts) -> Limb:
    """Whose readings a criterion looks at: the involved limb's, or the person's."""
    return facts.knee if measure.per_limb else Limb.NONE


def cases_of(*, criterion: Criterion, measure: Measure, evidence: Evidence) -> Iterator[Case]:
    """The cases of a criterion under its comparison key, newest first, made as they are asked."""
    facts, since = evidence.facts, evidence.since(criterion=criterion)
    limb = limb_of(measure=measure, facts=facts)
    compared = criterion.form.compares_limbs
    others: Tests = {}
    if limb is not Limb.NONE and (compared or criterion.alike_to is not None):
        others = evidence.tests(code=measure.code, limb=limb.opposite, since=since)
    for reading in evidence.line(code=measure.code, limb=limb, since=since):
        if criterion.key not in ("", reading.key):
            continue
        other = others.get((reading.on, reading.key))
        if not compared:
            yield _single(
                criterion=criterion, measure=measure, reading=reading, other=other,
                evidence=evidence,
            )  # fmt: skip
            continue
        case = _paired(
            criterion=criterion, measure=measure, reading=reading, other=other, facts=facts
        )
        if other is None and any(day == reading.on for day, _ in others):
            case = _different_key(case=case, reading=reading, others=others)
        yield case


def keys_elsewhere(*, criterion: Criterion, readings: Sequence[Reading]) -> str:
    """The newest key under which the limb was tested instead of the criterion's; else empty."""
    found = [reading for reading in readings if reading.key != criterion.key]
    return found[0].key if found and criterion.key else ""


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


def _different_key(*, case: Case, reading: Reading, others: Tests) -> Case:
    if not isinstance(case.outcome, NotAssessable) or (
        case.outcome.why is not Why.OTHER_LIMB_NOT_TESTED
    ):
        return case
    key = next(key for day, key in others if day == reading.on)
    return replace(case, outcome=NotAssessable(why=Why.DIFFERENT_KEY, detail=key), silent=True)


def _single(
    *,
    criterion: Criterion,
    measure: Measure,
    reading: Reading,
    other: Reading | None,
    evidence: Evidence,
) -> Case:
    seen = [reading] if criterion.alike_to is None or other is None else [reading, other]
    body = body_of(form=criterion.form, reading=reading, evidence=evidence)
    outcome, beside = _number(
        criterion=criterion, measure=measure, reading=reading, body=body, evidence=evidence
    )
    seen += [one for one in (body, beside) if one is not None]
    return Case(
        on=reading.on,
        key=reading.key,
        refs=tuple(ref for r in seen for ref in r.refs),
        outcome=outcome,
        silent=reading.status in SILENT,
        spoiled=_spoiled(measure=measure, reading=reading),
        alike=_alike(criterion=criterion, reading=reading, other=other, facts=evidence.facts),
        body=body,
    )


def _number(
    *,
    criterion: Criterion,
    measure: Measure,
    reading: Reading,
    body: Reading | None,
    evidence: Evidence,
) -> tuple[Fraction | NotAssessable, Reading | None]:
    """The number of one limb and, where it is held against an earlier test, that one."""
    refused = unusable(reading=reading)
    if refused is not None or reading.value is None:
        return refused or NotAssessable(why=Why.NOT_DONE), None
    form = criterion.form
    if form.is_change:
        return change_of(form=form, reading=reading, evidence=evidence)
    if form is Form.PRE_INJURY:
        return pre_injury_of(measure=measure, reading=reading, evidence=evidence)
    return normalised(form=form, value=reading.value, body=body), None


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
