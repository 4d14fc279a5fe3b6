"""What a limb is compared with, also when the other limb is no fair reference."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from outcomes.core.dates import age_on
from outcomes.core.evidence import Evidence
from outcomes.core.normalised import normalised
from outcomes.core.over_time import change_of, pre_injury_of
from outcomes.core.symmetry import why_other_limb_is_not_fair
from outcomes.core.thresholds import ADULT
from outcomes.core.values import (
    Criterion,
    EpisodeFacts,
    Fallback,
    Form,
    Measure,
    Reading,
    ReadingStatus,
    Reference,
    Subject,
    SymmetryForm,
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Known:
    """What the record holds of one measure under one comparison key, besides today's value.

    ``own_before``: this limb from before its injury; ``other_before``: the other limb from before
    this operation; ``own_earlier``: an earlier value of this limb since.
    """

    own_before: bool = False
    other_before: bool = False
    body_mass: bool = False
    own_earlier: bool = False


def reference_for(*, measure: Measure, facts: EpisodeFacts, on: date, known: Known) -> Reference:
    """What to compare the involved limb with: the best that the record holds, by name.

    The other limb where it is fair and the measure compares limbs; else the knee's own value from
    before its injury; the other limb before surgery, if it was spoilt only by giving the graft;
    the value by body mass, for adults, where the measure has one; the limb's own history; nothing.
    The order is a setting of this house.

    >>> from outcomes.catalogue.seeds import load_catalogue
    >>> from outcomes.core.values import Limb
    >>> facts = EpisodeFacts(
    ...     knee=Limb.LEFT, kind="reconstruction", index_date=date(2026, 3, 2), graft="hamstring",
    ...     graft_from="other_limb", other_limb="healthy", sex="female",
    ...     birth_date=date(2000, 5, 5), goal="pivoting",
    ... )
    >>> reference_for(
    ...     measure=load_catalogue()["quadriceps_torque"], facts=facts, on=date(2026, 9, 1),
    ...     known=Known(other_before=True, body_mass=True),
    ... ).value
    'other_before_surgery'
    """
    unfair = why_other_limb_is_not_fair(facts=facts)
    compares = measure.symmetry is not SymmetryForm.NONE
    if compares and unfair is None:
        return Reference.OTHER_LIMB
    if known.own_before:
        return Reference.OWN_BEFORE_INJURY
    if compares and known.other_before and unfair == "graft_from_other_limb":
        return Reference.OTHER_BEFORE_SURGERY
    adult = age_on(birth_date=facts.birth_date, on=on) >= ADULT
    if measure.per_body_mass and known.body_mass and adult:
        return Reference.BODY_MASS
    return Reference.OWN_HISTORY if known.own_earlier else Reference.NOTHING


def fallback_for(*, criterion: Criterion, evidence: Evidence) -> Fallback | None:
    """What to look at instead where the other limb is no fair reference; None for other criteria.

    It meets nothing by itself: the criterion stays not assessable. The newest usable value of the
    involved limb under the criterion's key is what is compared.
    """
    if criterion.subject is not Subject.MEASURE or not criterion.form.compares_limbs:
        return None
    measure, facts = evidence.catalogue[criterion.measure], evidence.facts
    if why_other_limb_is_not_fair(facts=facts) is None:
        return None
    line = evidence.line(
        code=measure.code, limb=facts.knee, since=evidence.since(criterion=criterion)
    )
    now = next((one for one in line if _usable(one, criterion.key)), None)
    if now is None or now.value is None:
        return Fallback(reference=Reference.NOTHING)
    before, _ = pre_injury_of(measure=measure, reading=now, evidence=evidence)
    change, _ = change_of(form=Form.CHANGE_SINCE_LAST, reading=now, evidence=evidence)
    known = Known(
        other_before=isinstance(before, Fraction),
        body_mass=evidence.body_mass is not None,
        own_earlier=isinstance(change, Fraction),
    )
    found = reference_for(measure=measure, facts=facts, on=evidence.on, known=known)
    if found is Reference.OTHER_BEFORE_SURGERY and isinstance(before, Fraction):
        return Fallback(reference=found, value=before, unit="%")
    if found is Reference.BODY_MASS:
        each = normalised(form=Form.PER_BODY_MASS, value=now.value, body=evidence.body_mass)
        value = each if isinstance(each, Fraction) else None
        return Fallback(reference=found, value=value, unit="N.m/kg")
    if found is Reference.OWN_HISTORY and isinstance(change, Fraction):
        return Fallback(reference=found, value=change, unit=measure.unit)
    return Fallback(reference=found)


def _usable(reading: Reading, key: str) -> bool:
    return (
        reading.status is ReadingStatus.MEASURED
        and reading.value is not None
        and key in ("", reading.key)
    )
