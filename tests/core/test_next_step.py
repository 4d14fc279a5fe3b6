"""The next step: order, time, requirements, sides, loads, limits, grafts, one step a visit."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from outcomes.core.next_step import next_step, next_steps
from outcomes.core.progressions import Effect, Move, Proposal, Standing, Variable
from outcomes.core.values import Reading, ReadingStatus, Unconfirmed
from tests.core.builders import (
    CATALOGUE,
    FORWARD,
    LATERAL,
    NONE,
    L,
    after,
    both,
    facts,
    reading,
)
from tests.core.steps import (
    CODES,
    HOLD,
    SINCE,
    TODAY,
    ago,
    deciding,
    good,
    heel_touch,
    limit,
    outcome,
    proposed,
    rules,
    spoken,
    with_weight,
    without,
)
from tests.core.test_progressions import HIP, LANDING, QUADRICEPS

UP = [
    ("side_lying_leg_raise", None, "side_plank", "exercise"),
    ("side_plank", None, HOLD, "exercise"),
    (HOLD, None, "standing_hip_hold", "exercise"),
    ("standing_hip_hold", None, "standing_hip_hold_with_weight", "exercise"),
    ("moving_hip_hold", None, "lateral_heel_touch", "exercise"),
    ("lateral_heel_touch", None, "forward_heel_touch", "exercise"),
    ("forward_heel_touch", None, "forward_heel_touch_with_weight", "exercise"),
    ("forward_heel_touch_with_weight", None, "forward_heel_touch_with_weight", "load"),
    ("quad_set_and_leg_raise", None, "isometric_knee_extension", "exercise"),
    ("isometric_knee_extension", "30", "isometric_knee_extension", "effort"),
    ("isometric_knee_extension", "70", "two_leg_squat_or_press", "exercise"),
    ("two_leg_squat_or_press", None, "open_chain_knee_extension", "exercise"),
    ("open_chain_knee_extension", None, "split_squat_and_step_up", "exercise"),
    ("split_squat_and_step_up", "15", "split_squat_and_step_up", "height"),
    ("split_squat_and_step_up", "20", "one_leg_press_or_squat", "exercise"),
    ("one_leg_press_or_squat", None, "heavy_one_leg_strength", "exercise"),
    ("drop_to_two_leg_hold", None, "two_leg_drop_landing", "exercise"),
    ("two_leg_drop_landing", "10", "two_leg_drop_landing", "height"),
    ("two_leg_drop_landing", "20", "two_leg_jump", "exercise"),
    ("two_leg_jump", None, "small_hop_to_one_leg", "exercise"),
]


LATE = [
    ("heavy_one_leg_strength", None, "explosive_strength", "exercise"),
    ("small_hop_to_one_leg", None, "one_leg_hop_below_best", "exercise"),
    ("one_leg_hop_below_best", "70", "one_leg_hop_below_best", "distance"),
    ("one_leg_hop_below_best", "80", "repeated_one_leg_hops", "exercise"),
    ("repeated_one_leg_hops", None, "hop_tests", "exercise"),
    ("hop_tests", None, "reactive_work", "exercise"),
]


@pytest.mark.parametrize(("level", "at", "there", "variable"), UP)
def test_with_everything_good_each_level_goes_up_one_step_in_one_variable(
    level: str, at: str | None, there: str, variable: str
) -> None:
    found = proposed(level, at=at)
    assert (outcome(found), found.variable, deciding(found)) == (
        ("progress", there), Variable(variable), set(),
    )  # fmt: skip


@pytest.mark.parametrize(("level", "at", "there", "variable"), LATE)
def test_late_levels_wait_for_their_week_and_then_go_up(
    level: str, at: str | None, there: str, variable: str
) -> None:
    early = proposed(level, at=at)
    if variable == "exercise":
        assert (outcome(early), deciding(early)) == (("stay", level), {"too_early"})
    later = proposed(level, at=at, index_date=after(weeks=-16), kind="reconstruction")
    assert (outcome(later), later.variable) == (("progress", there), Variable(variable))


@pytest.mark.parametrize("level", ["explosive_strength", "reactive_work"])
def test_the_last_level_has_no_step_up(level: str) -> None:
    found = proposed(level, index_date=after(weeks=-16))
    assert (outcome(found), deciding(found)) == (("stay", level), {"last_level"})


def test_two_weeks_at_the_hold_before_load_is_added() -> None:
    for level in (HOLD, "standing_hip_hold"):
        early = proposed(level, since=ago(13))
        assert (outcome(early), deciding(early)) == (("stay", level), {"too_soon_at_level"})
        assert proposed(level, since=ago(14)).move is Move.PROGRESS


def test_the_hold_is_not_before_week_6_after_an_operation() -> None:
    for weeks, move in ((5, Move.STAY), (6, Move.PROGRESS)):
        found = proposed("side_plank", index_date=TODAY - timedelta(weeks=weeks), graft="hamstring")
        assert found.move is move
    without_surgery = proposed(
        "side_plank", index_date=TODAY - timedelta(weeks=5), kind="without_surgery"
    )
    assert without_surgery.move is Move.PROGRESS
    revision = proposed("side_plank", index_date=TODAY - timedelta(weeks=9), kind="revision")
    assert deciding(revision) == {"too_early"}


def test_the_hold_needs_standing_on_one_leg() -> None:
    rows = without("single_leg_stance", "standing_hip_hold")
    assert deciding(proposed("side_plank", readings=rows)) == {"enter_open"}
    short = [*rows, reading("single_leg_stance", L, "3", TODAY)]
    assert proposed("side_plank", readings=short).move is Move.STAY
    pain = reading("single_leg_stance", L, "9", TODAY, status=ReadingStatus.STOPPED_BY_PAIN)
    assert proposed("side_plank", readings=[*rows, pain]).move is Move.STAY
    stands = [*rows, reading("single_leg_stance", L, "5", TODAY)]
    assert proposed("side_plank", readings=stands).move is Move.PROGRESS


LATERAL_ENTRY = [
    ("knee_flexion", L, "119"), ("knee_flexion", L, None), ("gait_without_limp", NONE, "no"),
    ("effusion", L, "1+"), ("pain_front_of_knee", L, "3"), ("gait_without_limp", NONE, None),
]  # fmt: skip


@pytest.mark.parametrize(("measure", "limb", "value"), LATERAL_ENTRY)
def test_a_lateral_heel_touch_is_not_proposed_without_its_conditions(
    measure: str, limb: Any, value: str | None
) -> None:
    rows = without(measure)
    if value is not None:
        rows.append(reading(measure, limb, value, TODAY))
    found = proposed("moving_hip_hold", readings=rows)
    assert (outcome(found), "enter_open" in deciding(found)) == (
        ("stay", "moving_hip_hold"), True,
    )  # fmt: skip


def test_weak_quadriceps_hold_no_hip_work_and_are_shown() -> None:
    rows = [*without("quadriceps_torque"), *both("quadriceps_torque", "80", "200", ago(7))]
    found = proposed("moving_hip_hold", readings=rows)
    (shown,) = [one for one in found.reasons_against if one.rule == "advice_open"]
    assert (found.move, shown.facts["value"]) == (Move.PROGRESS, "40")
    assert outcome(proposed("one_leg_press_or_squat", readings=rows))[0] == "stay"


LEVELS = [
    ("level", "level", "progress"), ("slight", "slight", "progress"),
    ("level", "slight", "progress"), ("slight", "level", "stay"),
    ("moderate", "moderate", "progress"), ("moderate", "slight", "stay"),
    ("marked", "marked", "regress"), ("marked", "level", "regress"),
]  # fmt: skip


@pytest.mark.parametrize(("left", "right", "move"), LEVELS)
def test_what_counts_is_that_both_sides_look_alike(left: str, right: str, move: str) -> None:
    found = proposed("lateral_heel_touch", readings=heel_touch(LATERAL, left, right))
    assert found.move.value == move


def test_an_unfair_other_side_is_told_and_this_side_judged_alone() -> None:
    for left, move in (("slight", "progress"), ("moderate", "stay")):
        rows = heel_touch(LATERAL, left, "level")
        found = proposed("lateral_heel_touch", readings=rows, other_limb="earlier_surgery")
        assert (found.move.value, rules(found)["alike_not_comparable"]) == (move, Effect.TOLD)


@pytest.mark.parametrize("trick", ["trunk_leans", "hand_used", "free_side_hitched"])
def test_level_by_a_trick_meets_nothing(trick: str) -> None:
    rows = heel_touch(LATERAL, "level", "level", kept_level_by=trick)
    found = proposed("lateral_heel_touch", readings=rows)
    assert (found.move, {"advance_open", "alike_by_trick"} <= deciding(found)) == (Move.STAY, True)
    marked = heel_touch(LATERAL, "marked", "level", kept_level_by=trick)
    assert proposed("lateral_heel_touch", readings=marked).move is Move.REGRESS


@pytest.mark.parametrize(
    ("level", "move", "there", "effect"),
    [
        ("forward_heel_touch", "regress", "standing_hip_hold", Effect.TAKES_BACK),
        ("lateral_heel_touch", "regress", "standing_hip_hold", Effect.TAKES_BACK),
        ("moving_hip_hold", "stay", "moving_hip_hold", Effect.HOLDS),
        (HOLD, "progress", "standing_hip_hold", Effect.TOLD),
    ],
)
def test_a_drop_at_the_first_movement_calls_for_hip_work_before_more_step_downs(
    level: str, move: str, there: str, effect: Effect
) -> None:
    rows = heel_touch(FORWARD, "slight", "slight", when="first_movement")
    found = proposed(level, readings=rows)
    assert (outcome(found), rules(found)["drop_at_first_movement"]) == ((move, there), effect)
    deep = heel_touch(FORWARD, "slight", "slight", when="only_at_depth")
    assert "drop_at_first_movement" not in rules(proposed(level, readings=deep))


def test_heights_go_up_one_at_a_time_from_the_height_last_tested() -> None:
    for height, there in ((10, "15"), (15, "20")):
        rows = heel_touch(LATERAL, "slight", "slight", height=height)
        found = proposed("lateral_heel_touch", readings=rows)
        assert (outcome(found), found.variable) == (
            ("progress", "lateral_heel_touch"), Variable.HEIGHT,
        )  # fmt: skip
        assert found.dose is not None
        assert found.dose.at == Decimal(there)
    pain = [*heel_touch(LATERAL, "slight", "slight"), reading("pain_rest", L, "6", TODAY)]
    back = proposed("lateral_heel_touch", readings=pain)
    assert (outcome(back), back.variable) == (("regress", "lateral_heel_touch"), Variable.HEIGHT)


@pytest.mark.parametrize(
    ("load", "mass", "there", "kilograms"),
    [
        ("2", "70", "standing_hip_hold_with_weight", "4.0"),
        ("6", "70", "standing_hip_hold_with_weight", "7.0"),
        ("7", "70", "moving_hip_hold", "0.0"),
        ("1.5", "62", "standing_hip_hold_with_weight", "3.0"),
    ],
)
def test_load_goes_up_in_steps_of_kilograms_rounded_to_half(
    load: str, mass: str, there: str, kilograms: str
) -> None:
    found = proposed("standing_hip_hold_with_weight", readings=with_weight(load, mass=mass))
    assert found.dose is not None
    assert (outcome(found), str(found.dose.load_kg)) == (("progress", there), kilograms)


def test_a_hold_that_is_too_short_at_its_load_stays_and_without_body_mass_no_load_is_named() -> (
    None
):
    short = proposed("standing_hip_hold_with_weight", readings=with_weight("4", seconds="19"))
    assert (short.move, deciding(short)) == (Move.STAY, {"advance_open", "enter_open"})
    assert short.dose is not None
    assert str(short.dose.load_kg) == "4.0"
    nothing = proposed("standing_hip_hold", readings=without("body_mass"))
    assert (nothing.move, deciding(nothing)) == (Move.STAY, {"no_body_mass"})


def test_a_limit_on_the_next_exercise_stays_and_on_this_one_goes_back_below_it() -> None:
    bend = limit("loaded_flexion")
    ahead = proposed("standing_hip_hold_with_weight", at="7", readings=with_weight("7"),
                     restrictions=[bend])  # fmt: skip
    assert (outcome(ahead), ahead.blocked_by) == (
        ("stay", "standing_hip_hold_with_weight"), (bend,),
    )  # fmt: skip
    now = proposed("forward_heel_touch", restrictions=[bend])
    assert (outcome(now), now.blocked_by) == (
        ("regress", "standing_hip_hold_with_weight"), (bend,),
    )  # fmt: skip
    over = limit("loaded_flexion", until=-1)
    assert proposed("forward_heel_touch", restrictions=[over]).blocked_by == ()
    first = proposed("drop_to_two_leg_hold", restrictions=[limit("impact")])
    assert (outcome(first), rules(first)["first_level"]) == (
        ("stay", "drop_to_two_leg_hold"), Effect.TOLD,
    )  # fmt: skip
    other = proposed(HOLD, restrictions=[limit("impact")])
    assert (other.move, other.blocked_by) == (Move.PROGRESS, ())


def test_a_procedure_without_confirmed_limits_holds_what_its_limits_speak_of() -> None:
    root = Unconfirmed(words="meniscal root repair", kinds=("loaded_flexion", "impact"))
    now = proposed("forward_heel_touch", unconfirmed=[root])
    assert (outcome(now), now.blocked_by) == (
        ("regress", "standing_hip_hold_with_weight"), (root,),
    )  # fmt: skip
    assert "Surgeon's limits not confirmed (meniscal root repair): ask before loading" in (
        spoken(now)
    )
    bend = limit("loaded_flexion")
    both = proposed("forward_heel_touch", unconfirmed=[root], restrictions=[bend])
    assert both.blocked_by == (root, bend)
    other = proposed(HOLD, unconfirmed=[root])
    assert (other.move, other.blocked_by) == (Move.PROGRESS, ())


@pytest.mark.parametrize(
    ("graft", "pain", "move", "warned"),
    [
        ("patellar_tendon", "2", "progress", True), ("patellar_tendon", "3", "stay", True),
        ("patellar_tendon", None, "stay", True), ("unknown", None, "stay", True),
        ("quadriceps_tendon", None, "stay", True), ("hamstring", None, "progress", False),
    ],
)  # fmt: skip
def test_a_tendon_graft_needs_a_quiet_front_of_the_knee_before_loaded_knee_bend(
    graft: str, pain: str | None, move: str, warned: bool
) -> None:
    rows = [one for one in with_weight("7") if one.measure != "pain_front_of_knee"]
    rows += [] if pain is None else [reading("pain_front_of_knee", L, pain, TODAY)]
    found = proposed("standing_hip_hold_with_weight", readings=rows, graft=graft)
    assert (found.move.value, "graft_caution" in rules(found)) == (move, warned)


def test_a_hamstring_graft_is_warned_of_load_on_seated_extension_until_week_12() -> None:
    for weeks, warned in ((11, True), (12, False)):
        start = TODAY - timedelta(weeks=weeks)
        found = proposed("two_leg_squat_or_press", index_date=start)
        assert ("graft_caution" in rules(found)) is warned


def test_a_progression_that_is_not_begun_is_begun_or_waits() -> None:
    def begin(progression: Any, readings: list[Reading]) -> Proposal:
        return next_step(
            standing=Standing(progression=progression, level="", since=TODAY),
            facts=facts(), catalogue=CATALOGUE, readings=readings,
            restrictions=[], events=[], on=TODAY,
        )  # fmt: skip

    first = begin(HIP, good())
    assert outcome(first) == ("progress", "side_lying_leg_raise")
    assert {"variable": "exercise", "from": "", "to": first.level} in [
        dict(one.facts) for one in first.reasons_for
    ]
    waits = begin(LANDING, without("ten_level_step_downs_20cm"))
    assert (outcome(waits), waits.dose) == (("stay", ""), None)
    swollen = [reading("effusion", L, "3+", TODAY), reading("pain_worst_24h", L, "6", TODAY)]
    assert outcome(begin(HIP, swollen)) == ("stay", "")
    assert outcome(begin(QUADRICEPS, swollen)) == ("progress", "quad_set_and_leg_raise")


def test_at_most_one_step_up_over_all_progressions() -> None:
    def all_of(*begun: tuple[str, date], step_taken: bool = False) -> list[tuple[str, str]]:
        found = next_steps(
            standings=[
                Standing(progression=CODES[code], level=code, since=since) for code, since in begun
            ],
            facts=facts(), catalogue=CATALOGUE, readings=good(), restrictions=[], events=[],
            on=TODAY, step_taken=step_taken,
        )  # fmt: skip
        return [outcome(one) for one in found]

    three = ((HOLD, SINCE), ("two_leg_squat_or_press", SINCE), ("two_leg_jump", ago(28)))
    assert all_of(*three) == [
        ("stay", HOLD), ("stay", "two_leg_squat_or_press"), ("progress", "small_hop_to_one_leg"),
    ]  # fmt: skip
    assert all_of(*three[:2])[0] == ("progress", "standing_hip_hold")
    assert {move for move, _ in all_of(*three, step_taken=True)} == {"stay"}


def test_an_unknown_level_is_refused() -> None:
    with pytest.raises(KeyError):
        next_step(
            standing=Standing(progression=HIP, level="nothing", since=SINCE),
            facts=facts(), catalogue=CATALOGUE, readings=[], restrictions=[], events=[], on=TODAY,
        )  # fmt: skip


def test_reasons_are_read_out_in_plain_sentences() -> None:
    rows = [*good(), reading("pain_rest", L, "5", TODAY)]
    found = proposed("moving_hip_hold", readings=rows, restrictions=[limit("brace")])
    assert {
        "Pain at rest 5 of 10: from 5 on stop, go back a step and review (8 Jun 2026)",
        "Surgeon's limit, brace until 8 Jul 2026",
        "Flexion at least 120°: 135° (1 Jun 2026)",
        "Quadriceps symmetry at least 70 %: 95 % (1 Jun 2026)",
        "Week 14, earliest week 8",
        "To be seen at the visit: Three sets of ten with the pelvis level",
    } <= set(spoken(found))
    leaning = heel_touch(LATERAL, "level", "level", kept_level_by="trunk_leans")
    said = spoken(proposed("lateral_heel_touch", readings=leaning))
    assert any(one.endswith(": level, by leaning (8 Jun 2026)") for one in said)
