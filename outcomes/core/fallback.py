"""What a limb is compared with, also when the other limb is no fair reference."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final

from outcomes.core.dates import age_on
from outcomes.core.symmetry import why_other_limb_is_not_fair
from outcomes.core.values import EpisodeFacts, Measure, SymmetryForm

ADULT: Final = 18


class Reference(StrEnum):
    """What a value is compared with."""

    OTHER_LIMB = "other_limb"
    OWN_BEFORE_INJURY = "own_before_injury"
    OTHER_BEFORE_SURGERY = "other_before_surgery"
    BODY_MASS = "body_mass"
    OWN_HISTORY = "own_history"
    NOTHING = "nothing"


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
