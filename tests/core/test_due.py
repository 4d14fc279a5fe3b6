"""What a visit asks beyond the set of its week, to the day."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from outcomes.core.due import Because, Due, for_step, out_of_date, to_look_again, to_recheck
from outcomes.core.judge import judge_protocol
from outcomes.core.values import Reason
from outcomes.protocols.progression_seeds import load_progressions
from tests.core.builders import CATALOGUE, L, R, after, both, facts, reading
from tests.core.criterion_rows import PROTOCOLS
from tests.core.tables import every_case

HIP = load_progressions(CATALOGUE)["hip_control"]
DAY = after(weeks=20)
HOP = "single_hop"


def competition(readings, on):
    """The last milestone, judged on that day."""
    return judge_protocol(
        protocol=PROTOCOLS["starter@2"], catalogue=CATALOGUE, readings=readings, facts=facts(),
        restrictions=(), on=on,
    )[-1]  # fmt: skip


@every_case(("days", "asked"), [(42, False), (43, True)])
def test_a_test_is_asked_from_the_first_day_on_which_it_does_not_count(days, asked):
    found = out_of_date(milestone=competition(both(HOP, 130, 128, DAY), DAY + timedelta(days=days)))
    label = "Competition"
    since = DAY + timedelta(days=43)
    due = Due(measure=HOP, because=Because.OUT_OF_DATE, on=since, of=label)
    assert found == ((due,) if asked else ())


def test_a_member_of_a_group_that_is_met_is_not_needed():
    judged = PROTOCOLS["composite@1"]
    groups = [
        (milestone, criterion)
        for milestone in judged.milestones
        for criterion in milestone.criteria
        if criterion.of and criterion.value < len(criterion.of)
    ]
    milestone, group = groups[0]
    assert group.of
    found = judge_protocol(
        protocol=replace(judged, milestones=(milestone,), last_by_goal={}),
        catalogue=CATALOGUE, readings=(), facts=facts(), restrictions=(), on=DAY,
    )[0]  # fmt: skip
    asked: dict[str, Any] = {
        "milestone": found, "readings": (), "planned_on": DAY, "again_on": DAY,
    }  # fmt: skip
    members = {one.measure for one in milestone.criteria if one.code in group.of}
    open_ones = {due.measure for due in to_recheck(**asked)}
    assert members <= open_ones
    met = [
        replace(one, result=type(one.result).MET) if one.criterion == group else one
        for one in found.criteria
    ]
    asked["milestone"] = replace(found, criteria=tuple(met))
    others = {
        one.measure
        for one in milestone.criteria
        if one.code not in group.of and one.subject == "measure"
    }
    assert {due.measure for due in to_recheck(**asked)} == others


PLAN = date(2026, 7, 6)


@every_case(
    ("level", "begun", "days", "read", "asked"),
    [
        ("side_plank", 0, 0, None, []),
        ("side_plank", 0, 1, None, ["side_plank_hold"]),
        ("side_plank", 0, 1, 0, ["side_plank_hold"]),
        ("side_plank", 0, 3, 1, []),
        ("standing_hip_hold", 0, 13, None, []),
        ("standing_hip_hold", 0, 14, None, ["standing_hip_hold"]),
        ("standing_hip_hold", 7, 6, None, []),
        ("standing_hip_hold", 7, 7, None, ["standing_hip_hold"]),
        ("standing_hip_hold", 30, 0, None, []),
        ("lateral_heel_touch", 0, 9, None, ["pelvic_drop_lateral_heel_touch"]),
        ("moving_hip_hold", 0, 9, None, []),
    ],
)
def test_a_step_of_the_plan_asks_for_what_the_next_step_needs(level, begun, days, read, asked):
    given = next(one for one in HIP.levels if one.code == level)
    readings = (
        []
        if read is None
        else [reading("side_plank_hold", L, 50, PLAN + timedelta(days=read), key="support=feet")]
    )
    found = for_step(
        level=given, of=HIP.label, facts=facts(), readings=readings,
        since=PLAN - timedelta(days=begun), planned_on=PLAN, on=PLAN + timedelta(days=days),
    )  # fmt: skip
    assert [(due.measure, due.on, due.of) for due in found] == [
        (code, PLAN, HIP.label) for code in asked
    ]


def test_a_reason_asks_for_each_measure_that_it_rests_on_until_it_is_measured_again():
    old, other = both("quadriceps_torque", 150, 100, DAY)
    reason = Reason(
        code="quadriceps_setback", rank=50, size=Decimal(20), since=DAY, facts={}, alarm=False,
        refs=(old.ref, other.ref),
    )  # fmt: skip
    again = DAY + timedelta(days=21)

    def asked(*more):
        found = to_look_again(
            reason=reason, readings=[old, other, *more], planned_on=DAY, again_on=again, of="plan"
        )
        return [due.measure for due in found]

    early = reading("quadriceps_torque", R, 101, again - timedelta(days=1))
    late = reading("quadriceps_torque", R, None, again)
    assert (asked(), asked(early), asked(late)) == (["quadriceps_torque"],) * 2 + ([],)
