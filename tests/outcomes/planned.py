"""A record on which the next hip hold is proposed."""

from datetime import timedelta
from decimal import Decimal

from tests.cast import TODAY, Cast
from tests.factories.outcomes import ReadingFactory, both_limbs, signed_visit


def good(cast: Cast, **changes: int) -> None:
    """Two good sessions a week apart; hold, stance, heel touches and thighs even."""
    given = {
        "pain_worst_24h": 1, "pain_front_of_knee": 1, "effusion": 1, "soreness_after_session": 0,
    } | changes  # fmt: skip
    for days in (7, 0):
        visit = signed_visit(
            patient=cast.ines, site=cast.harbour, by=cast.clinician,
            on=TODAY - timedelta(days=days),
        )  # fmt: skip
        for code, value in given.items():
            ReadingFactory(visit=visit, measure=code, limb="right", value=Decimal(value))
    both_limbs(visit=visit, measure="standing_hip_hold", left=40, right=32)
    both_limbs(visit=visit, measure="quadriceps_torque", left=158, right=121)
    ReadingFactory(visit=visit, measure="body_mass", limb="none", value="62.5")
