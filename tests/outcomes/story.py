"""Ines Marlow's record up to week 15, as the patient page and decisions are tested with it."""

from datetime import date
from typing import Any

from clinic.models.care import Restriction, Visit
from tests.cast import MOMENT, TODAY, Cast
from tests.factories.outcomes import ReadingFactory, both_limbs, signed_visit

WEEK_6, WEEK_12 = date(2026, 9, 23), date(2026, 11, 4)


def signed(cast: Cast, on: date, *, patient: Any = None, **values: Any) -> Visit:
    """A signed visit: ``quadriceps_torque=(158, 121)`` is left and right, None left out."""
    visit = signed_visit(
        patient=patient or cast.ines, site=cast.harbour, by=cast.clinician, on=on
    )  # fmt: skip
    for measure, (left, right) in values.items():
        both_limbs(visit=visit, measure=measure, left=left, right=right)
    return visit


def week_15(cast: Cast) -> None:
    """Three visits; today everything that step-down work asks for is recorded as met."""
    signed(cast, WEEK_6, quadriceps_torque=(152, 91), knee_extension=(0, 8), effusion=(None, 3))
    signed(cast, WEEK_12, quadriceps_torque=(156, 109), knee_extension=(0, 2), effusion=(None, 1))
    today = signed(
        cast,
        TODAY,
        quadriceps_torque=(158, 121),
        knee_extension=(0, 1),
        knee_flexion=(142, 134),
        effusion=(None, 1),
        pain_front_of_knee=(None, 2),
    )
    ReadingFactory(visit=today, measure="body_mass", limb="none", value="62.5")


def set_aside(cast: Cast, **changes: Any) -> Restriction:
    """What a clinician has set aside from today on: a gate, or the limit it supersedes."""
    given = {"kind": "set_aside", "limit": "agreed on the phone", "since": TODAY, "until": None}
    return limit(cast, **{**given, "origin": "clinician", "told_by": "", **changes})


def limit(cast: Cast, **changes: Any) -> Restriction:
    """A surgeon's limit in force."""
    given = {
        "kind": "impact", "limit": "no impact", "since": date(2026, 8, 12),
        "until": date(2026, 12, 9), "origin": "surgeon", "told_by": "letter",
    }  # fmt: skip
    who = {"episode": cast.episode, "recorded_by": cast.clinician, "recorded_at": MOMENT}
    return Restriction.objects.create(**{**who, **given, **changes})
