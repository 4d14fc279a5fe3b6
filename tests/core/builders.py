"""Short ways to write an invented record down for a test of the core."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta
from decimal import Decimal
from itertools import count
from typing import Any

from hypothesis import settings

from outcomes.catalogue.seeds import load_catalogue
from outcomes.core.holds import KINDS
from outcomes.core.readings import conditions_of
from outcomes.core.symmetry import pairs_of
from outcomes.core.values import (
    Basis,
    EpisodeFacts,
    Limb,
    Measure,
    Pair,
    Reading,
    Unconfirmed,
    VisitFacts,
)
from outcomes.protocols.seeds import load_protocols

CATALOGUE = load_catalogue()
PROTOCOL = load_protocols(CATALOGUE)["starter@1"]
few = settings(max_examples=15)
"""Enough examples for a law that is cheap to break; the suite has a time limit."""
SURGERY = date(2026, 3, 2)
L, R, NONE = Limb.LEFT, Limb.RIGHT, Limb.NONE

KEYS = {
    "quadriceps_torque": "device=fixed;knee_angle=90",
    "single_hop": "brace=no;hands=free;shoes=worn",
    "timed_hop_6m": "brace=no;hands=free;shoes=worn",
    "standing_hip_hold": "added_load=0;hand_support=no",
    "pelvic_drop_lateral_heel_touch": "step_height=20",
    "pelvic_drop_forward_heel_touch": "step_height=20",
    "effusion": "moment=before",
    "pain_during_test": "during=single_hop",
}
LATERAL = "pelvic_drop_lateral_heel_touch"
FORWARD = "pelvic_drop_forward_heel_touch"
UPRIGHT = {"kept_level_by": "upright"}
_numbers: Iterator[int] = count(1)


def after(*, weeks: int = 0, days: int = 0) -> date:
    """A day after the invented operation of 2 March 2026."""
    return SURGERY + timedelta(weeks=weeks, days=days)


def facts(**changes: Any) -> EpisodeFacts:
    """A woman of 25, left knee, hamstring graft, the other knee healthy, pivoting sport."""
    usual: dict[str, Any] = {
        "knee": L,
        "kind": "reconstruction",
        "index_date": SURGERY,
        "graft": "hamstring",
        "graft_from": "same_limb",
        "other_limb": "healthy",
        "sex": "female",
        "birth_date": date(2000, 5, 5),
        "goal": "pivoting",
    }
    return EpisodeFacts(**{**usual, **changes})


def reading(measure: str, limb: Limb, value: object, on: date, **changes: Any) -> Reading:
    """One reading; a grade by its word, anything else by its number as text."""
    rank = None
    if value is not None:
        of = CATALOGUE[measure]
        rank = of.rank(word=str(value)) if of.grades else Decimal(str(value))
    usual: dict[str, Any] = {
        "key": KEYS.get(measure, ""),
        "ref": next(_numbers),
        "details": UPRIGHT if measure in (LATERAL, FORWARD) else {},
    }
    return Reading(measure=measure, limb=limb, value=rank, on=on, **{**usual, **changes})


def both(measure: str, left: object, right: object, on: date, **changes: Any) -> list[Reading]:
    """Both limbs of one test on one day."""
    return [reading(measure, L, left, on, **changes), reading(measure, R, right, on, **changes)]


def newest(measure: Measure, readings: Sequence[Reading]) -> Pair:
    """The newest pair, which there is."""
    return pairs_of(measure=measure, readings=readings)[0]


def sem_of(code: str, of: str) -> Decimal:
    """The published error of a measure, which there is."""
    conditions = conditions_of(key=KEYS.get(code, ""))
    error = CATALOGUE[code].error_of(of=Basis(of), conditions=conditions)
    assert error is not None
    return error.sem


def visits(*, limits_to_confirm: Iterable[str] = (), **changes: Any) -> VisitFacts:
    """Nothing booked, nothing unsigned, no visit known; procedures in words hold every kind."""
    asked = tuple(Unconfirmed(words=words, kinds=KINDS) for words in limits_to_confirm)
    return VisitFacts(unconfirmed=asked, **changes)
