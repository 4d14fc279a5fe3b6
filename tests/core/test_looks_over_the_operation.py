"""Reasons to look never compare a knee with what it was before its operation."""

from outcomes.core.values import RedFlag, Tier
from tests.core.builders import LATERAL, SURGERY, L, after, both, reading
from tests.core.tables import every_case
from tests.core.test_looks import FLEX, QUAD, codes


def knee_after(week: int, *, torque: str, effusion: str, pain: str, flexion: str):
    """One visit: torque of both limbs, effusion, worst pain and flexion of the left knee."""
    day = after(weeks=week)
    return [
        *both(QUAD, left=torque, right="150", on=day),
        reading("effusion", L, effusion, on=day),
        reading("pain_worst_24h", L, pain, on=day),
        reading(FLEX, L, flexion, on=day),
    ]


WORSE = {"torque": "80", "effusion": "1+", "pain": "5", "flexion": "95"}


def test_the_operation_itself_is_no_setback():
    before = knee_after(-4, torque="130", effusion="zero", pain="1", flexion="140")
    assert codes([*before, *knee_after(1, **WORSE)]) == []


def test_the_same_change_after_the_operation_is_one():
    earlier = knee_after(1, torque="130", effusion="zero", pain="1", flexion="140")
    assert codes([*earlier, *knee_after(2, **WORSE)]) == [
        "infection_signs",
        "quadriceps_setback",
        "effusion_hold_impact",
        "pain_rising",
    ]


def test_the_day_of_the_operation_is_compared_with_no_other_day():
    """Its values may be from before the operation or from a numb knee: absolute limits hold."""
    first = knee_after(0, torque="130", effusion="zero", pain="1", flexion="140")
    assert codes([*first, *knee_after(1, **WORSE)]) == []
    flags = [RedFlag(code="hot_knee", tier=Tier.TODAY, on=SURGERY)]
    swollen = [reading("effusion", L, "2+", SURGERY)]
    assert codes(swollen, flags=flags) == [
        "red_flag_hot_knee",
        "infection_signs",
        "effusion_regress",
    ]


def test_what_was_found_before_the_operation_is_no_reason_after_it():
    before = [
        *knee_after(-8, torque="140", effusion="zero", pain="1", flexion="140"),
        *knee_after(-2, torque="90", effusion="2+", pain="6", flexion="80"),
        *both(LATERAL, "marked", "level", after(weeks=-2)),
        reading("pain_front_of_knee", L, "6", after(weeks=-2)),
    ]
    waiting = codes(before, graft="patellar_tendon")
    assert waiting == [
        "effusion_regress",
        "quadriceps_setback",
        "pain_rising",
        "front_of_knee_pain",
        f"{LATERAL}_uneven",
    ]
    for day in (SURGERY, after(days=3)):
        assert codes(before, on=day, graft="patellar_tendon") == []


@every_case(
    ("torques", "raised"),
    [
        (["150", "127.5"], True),
        (["150", "127.6"], False),
        (["150", "148", "147"], True),
        (["150", "151", "149"], False),
        (["0", "0"], False),
    ],
)
@every_case(
    "unfair", [{"graft_from": "other_limb"}, {"other_knee_followed": True}], ids=["graft", "both"]
)
def test_without_a_fair_other_limb_the_own_history_of_torque_counts(torques, raised, unfair):
    rows = []
    for number, torque in enumerate(torques):
        rows += both(QUAD, torque, "100", after(weeks=20 + 4 * number))
    assert codes(rows, **unfair) == (["quadriceps_fall"] if raised else [])


def test_the_own_history_does_not_reach_back_over_the_operation():
    rows = [*both(QUAD, "150", "160", after(weeks=-3)), *both(QUAD, "80", "160", after(weeks=12))]
    assert codes(rows, graft_from="other_limb") == []
