"""What a step says, how far it goes and how long evidence counts: goal, limits, ages, order."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

from outcomes.core.next_step import next_step
from outcomes.core.progressions import Effect, Move, Proposal, Standing
from outcomes.core.step_places import prescription
from outcomes.core.step_words import dose_words
from outcomes.core.values import Event, ReadingStatus
from tests.core.builders import CATALOGUE, FORWARD, LATERAL, UPRIGHT, L, both, facts, reading
from tests.core.steps import (
    CODES,
    HOLD,
    SINCE,
    TODAY,
    ago,
    deciding,
    every_reason,
    good,
    heel_touch,
    limit,
    outcome,
    proposed,
    rules,
    spoken,
    with_weight,
    without,
)  # fmt: skip
from tests.core.tables import every_case
from tests.core.test_progressions import HIP

GOALS = [
    ("drop_to_two_leg_hold", "no_sport", "stay"),
    ("drop_to_two_leg_hold", "not_stated", "progress"),
    ("one_leg_hop_below_best", "straight_line", "stay"),
    ("one_leg_hop_below_best", "sideways", "progress"), ("hop_tests", "sideways", "stay"),
    ("hop_tests", "pivoting", "progress"), ("heavy_one_leg_strength", "no_sport", "stay"),
    ("heavy_one_leg_strength", "straight_line", "progress"), (HOLD, "no_sport", "progress"),
]  # fmt: skip


@every_case(("level", "goal", "move"), GOALS)
def test_a_progression_stops_at_the_goal(level: str, goal: str, move: str) -> None:
    found = proposed(level, goal=goal, at="80", index_date=TODAY - timedelta(weeks=40))
    assert (found.move.value, deciding(found)) == (
        move, {"beyond_goal"} if move == "stay" else set(),
    )  # fmt: skip


def one_of(found: Proposal, rule: str) -> Mapping[str, str]:
    """The facts of the only reason with that rule."""
    (reason,) = [one for one in every_reason(found) if one.rule == rule]
    return reason.facts


def test_a_step_says_what_changes_and_from_where_to_where() -> None:
    up = proposed("lateral_heel_touch", readings=heel_touch(LATERAL, "slight", "slight", height=10))
    assert one_of(up, "one_step_up") == {"variable": "height", "from": "10", "to": "15"}
    sore = [*good(), reading("pain_rest", L, "6", TODAY)]
    back = proposed("side_plank", readings=sore)
    assert one_of(back, "step_down") == {
        "variable": "exercise", "from": "side_plank", "to": "side_lying_leg_raise",
    }  # fmt: skip
    down = proposed("standing_hip_hold_with_weight", readings=[*sore, *with_weight("6")], at="6")
    assert one_of(down, "step_down") == {"variable": "load", "from": "6", "to": "4"}
    assert "one_step_up" not in rules(proposed(HOLD, readings=sore))
    first = proposed("side_lying_leg_raise")
    assert one_of(first, "one_step_up")["from"] == "side_lying_leg_raise"
    stays = proposed(HOLD, since=ago(3))
    assert {"one_step_up", "step_down"} & set(rules(stays)) == set()


def test_reasons_speak_for_what_is_proposed_and_the_deciding_ones_come_first() -> None:
    up = proposed(HOLD)
    assert {one.effect for one in up.reasons_for} == {Effect.FOR}
    assert Effect.FOR not in {one.effect for one in up.reasons_against}
    sore = [*good(), reading("pain_rest", L, "6", TODAY)]
    back = proposed("standing_hip_hold", readings=sore, since=ago(10))
    assert [one.effect for one in back.reasons_for][:2] == [Effect.TAKES_BACK, Effect.HOLDS]
    assert {one.effect for one in back.reasons_against} == {Effect.FOR}


def test_the_first_level_is_judged_like_every_other() -> None:
    found = proposed("side_lying_leg_raise", readings=without("pain_worst_24h"))
    assert "two_good_sessions" in rules(found)
    soon = proposed("side_lying_leg_raise", since=TODAY)
    assert deciding(soon) == {"sessions_missing"}
    sore = proposed(
        "quad_set_and_leg_raise", readings=[*good(), reading("pain_rest", L, "6", TODAY)]
    )
    assert (sore.move, "pain_high" in rules(sore)) == (Move.STAY, True)


def test_limits_that_leave_nothing_below_stay_and_the_last_one_below_is_found() -> None:
    weight = proposed("standing_hip_hold", restrictions=[limit("weight_bearing")])
    assert outcome(weight) == ("regress", "side_plank")
    more = [limit("weight_bearing"), limit("brace")]
    assert outcome(proposed("standing_hip_hold", restrictions=more)) == (
        "regress", "side_lying_leg_raise",
    )  # fmt: skip


def test_a_drop_at_the_first_movement_counts_for_six_weeks() -> None:
    seen = reading(
        FORWARD, L, "slight", ago(42), key="step_height=20",
        details={**UPRIGHT, "when": "first_movement"},
    )  # fmt: skip
    rows = [*without(FORWARD), seen]
    assert rules(proposed(HOLD, readings=rows))["drop_at_first_movement"] is Effect.TOLD
    rules_later = rules(proposed(HOLD, readings=rows, on=TODAY + timedelta(days=1)))
    assert "drop_at_first_movement" not in rules_later
    level_day = proposed("lateral_heel_touch", readings=rows, since=ago(42))
    assert rules(level_day)["drop_at_first_movement"] is Effect.HOLDS


def test_both_sides_are_compared_with_a_test_of_the_last_six_weeks_only() -> None:
    for days, move in ((42, "alike"), (43, "alike_not_tested")):
        rows = without(LATERAL) + both(LATERAL, "slight", "slight", ago(days))
        assert move in rules(proposed("lateral_heel_touch", readings=rows, since=ago(50)))
    pain = both(LATERAL, "slight", "slight", TODAY, status=ReadingStatus.STOPPED_BY_PAIN)
    stopped = proposed("lateral_heel_touch", readings=[*without(LATERAL), *pain])
    assert "alike_not_tested" in rules(stopped)
    one_side = [*without(LATERAL), reading(LATERAL, L, "slight", TODAY)]
    assert "alike_not_tested" in rules(proposed("lateral_heel_touch", readings=one_side))


def test_a_quadriceps_tendon_graft_has_no_week_of_the_hamstring_graft() -> None:
    for graft, move in (("quadriceps_tendon", "progress"), ("hamstring", "stay")):
        found = proposed(
            "one_leg_press_or_squat", graft=graft, index_date=TODAY - timedelta(weeks=11)
        )
        assert found.move.value == move


def test_a_first_level_with_steps_goes_up_and_down_within_itself() -> None:
    loaded = replace(HIP, levels=HIP.levels[4:])
    sore = [*with_weight("4"), reading("pain_rest", L, "6", TODAY)]
    for rows, move, load in ((with_weight("4"), Move.PROGRESS, "6.0"), (sore, Move.REGRESS, "2.0")):
        found = next_step(
            standing=Standing(progression=loaded, level=loaded.levels[0].code, since=SINCE),
            facts=facts(), catalogue=CATALOGUE, readings=rows, restrictions=[], events=[],
            on=TODAY,
        )  # fmt: skip
        assert found.dose is not None
        assert (found.move, str(found.dose.load_kg)) == (move, load)


def test_a_day_with_effusion_alone_is_a_session_and_a_swollen_one_is_not_good() -> None:
    symptoms = ("pain_worst_24h", "pain_front_of_knee", "soreness_after_session", "effusion")
    for grade, move in (("1+", Move.PROGRESS), ("2+", Move.STAY)):
        rows = [*without(*symptoms), reading("effusion", L, grade, ago(5))]
        rows += [reading("pain_worst_24h", L, "1", TODAY), reading("effusion", L, "1+", TODAY)]
        assert proposed(HOLD, readings=rows).move is move


def test_below_the_first_step_comes_the_level_before() -> None:
    sore = [*good(), reading("pain_rest", L, "6", TODAY)]
    found = proposed("lateral_heel_touch", readings=sore, at="10")
    assert (outcome(found), found.variable) == (("regress", "moving_hip_hold"), "exercise")


def test_a_load_that_is_no_half_kilogram_is_rounded_and_a_height_is_not() -> None:
    rows = with_weight("2.3")
    up = proposed("standing_hip_hold_with_weight", readings=rows, at="2.3")
    assert up.dose is not None
    assert (one_of(up, "one_step_up")["to"], str(up.dose.load_kg)) == ("4.5", "4.5")
    steps = heel_touch(LATERAL, "slight", "slight", height=12)
    tall = proposed("lateral_heel_touch", readings=steps, at="12")
    assert one_of(tall, "one_step_up") == {"variable": "height", "from": "12", "to": "17"}


def test_the_step_is_the_one_last_tested_since_the_level_was_begun() -> None:
    for since, start in ((TODAY, "15"), (ago(-1), "10")):
        rows = heel_touch(LATERAL, "slight", "slight", height=15)
        sore = [*rows, reading("pain_rest", L, "6", TODAY)]
        found = proposed("lateral_heel_touch", readings=sore, since=since)
        change = one_of(found, "step_down")
        assert change["from"] == (start if start == "15" else "lateral_heel_touch")


def test_one_criterion_asked_twice_is_told_once_and_says_why_the_other_side_is_not_fair() -> None:
    found = proposed("one_leg_press_or_squat", other_limb="earlier_surgery")
    said = [one for one in spoken(found) if one.startswith("Quadriceps")]
    assert said == [
        "Quadriceps symmetry at least 70 %: the other side had earlier surgery (1 Jun 2026)"
    ]
    warned = proposed("moving_hip_hold", graft="patellar_tendon", events=[
        Event(code="reoperation", limb=L, on=ago(2)), Event(code="clot", limb=L, on=ago(2)),
    ])  # fmt: skip
    assert {"operated_since", "ask_the_surgeon", "graft_caution"} <= set(rules(warned))


DOSES = [
    (HOLD, None, "3 to 5 sets of 15 to 20 s, 3 to 4 days a week"),
    ("standing_hip_hold_with_weight", "2.5",
     "3 to 5 sets of 15 to 20 s, 2.5 kg, 3 to 4 days a week"),
    ("lateral_heel_touch", "15", "3 sets of 8 to 10 repetitions, height 15 cm, 3 to 4 days a week"),
    ("quad_set_and_leg_raise", None, "3 sets of 10 repetitions, every day"),
    ("hop_tests", None, "4 sets of 3 repetitions, one day a week"),
    ("isometric_knee_extension", "50",
     "5 sets of 30 to 45 s, 50 % of the hardest push, 3 to 4 days a week"),
    ("one_leg_hop_below_best", "60",
     "5 sets of 8 repetitions, 60 % of the best distance, 2 to 3 days a week"),
]  # fmt: skip


@every_case(("code", "at", "said"), DOSES)
def test_a_dose_is_said_in_one_line(code: str, at: str | None, said: str) -> None:
    progression = CODES[code]
    level = progression.levels[progression.place(code=code)]
    found = prescription(level=level, at=None if at is None else Decimal(at))
    assert dose_words(level=level, dose=found) == said


@every_case(
    ("kind", "graft", "warned"),
    [
        ("reconstruction", "", True), ("revision", "unknown", True),
        ("reconstruction", "other", False), ("without_surgery", "", False),
        ("without_surgery", "unknown", False), ("repair", "", False),
    ],
)  # fmt: skip
def test_a_graft_that_is_not_stated_has_the_most_cautious_rule_and_no_graft_has_none(
    kind: str, graft: str, warned: bool
) -> None:
    rows = [one for one in with_weight("7") if one.measure != "pain_front_of_knee"]
    found = proposed("standing_hip_hold_with_weight", readings=rows, kind=kind, graft=graft)
    assert ("graft_caution" in rules(found), found.move is Move.STAY) == (warned, warned)
    early = proposed(
        "one_leg_press_or_squat", kind=kind, graft=graft, index_date=TODAY - timedelta(weeks=11)
    )
    assert ("too_early" in rules(early)) is warned or kind == "revision"
