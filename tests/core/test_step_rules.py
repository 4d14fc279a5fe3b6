"""Rules for every progression, one truth table each: pain, effusion, soreness, setbacks, events."""

from datetime import timedelta
from typing import Any

from outcomes.core.progressions import Effect, Move
from outcomes.core.values import Event, Reading
from tests.core.builders import (
    CATALOGUE,
    NONE,
    L,
    R,
    both,
    reading,
)
from tests.core.steps import (
    HOLD,
    SINCE,
    TODAY,
    ago,
    deciding,
    good,
    outcome,
    proposed,
    rules,
    without,
)
from tests.core.tables import every_case

PAIN = [
    ("pain_worst_24h", "0", "progress"), ("pain_worst_24h", "2", "progress"),
    ("pain_worst_24h", "3", "stay"), ("pain_worst_24h", "4", "stay"),
    ("pain_worst_24h", "5", "regress"), ("pain_worst_24h", "10", "regress"),
    ("pain_front_of_knee", "2", "progress"), ("pain_front_of_knee", "3", "stay"),
    ("pain_front_of_knee", "5", "regress"), ("pain_rest", "3", "stay"),
    ("pain_during_test", "3", "stay"), ("pain_during_test", "5", "regress"),
]  # fmt: skip


@every_case(("measure", "value", "move"), PAIN)
def test_pain_to_2_goes_on_3_and_4_hold_5_takes_back(measure: str, value: str, move: str) -> None:
    found = proposed(HOLD, readings=[*without(measure), *_with(measure, value)])
    assert found.move.value == move


def _with(measure: str, value: str, **changes: Any) -> list[Reading]:
    more = [] if measure in ("pain_worst_24h",) else [reading("pain_worst_24h", L, "1", ago(7))]
    first = reading("pain_worst_24h", L, "1", ago(7))
    return [first, *more, reading(measure, L, value, TODAY, **changes)]


EFFUSION = [
    (["zero", "zero"], HOLD, "progress", "effusion_low"),
    (["zero", "trace"], HOLD, "progress", "effusion_low"),
    (["trace", "1+"], HOLD, "progress", "effusion_one"),
    (["1+", "1+"], "two_leg_jump", "stay", "effusion_holds_impact"),
    (["trace", "2+"], HOLD, "regress", "effusion_high"),
    (["3+", "3+"], HOLD, "regress", "effusion_high"),
    (["zero", "trace", "1+"], HOLD, "regress", "effusion_up_twice"),
    (["trace", "trace", "1+"], HOLD, "progress", "effusion_one"),
    ([], HOLD, "stay", "effusion_not_known"),
]


@every_case(("grades", "level", "move", "rule"), EFFUSION)
def test_effusion(grades: list[str], level: str, move: str, rule: str) -> None:
    days = [TODAY - timedelta(days=7 * n) for n in range(len(grades))][::-1]
    rows = [reading("effusion", L, word, day) for word, day in zip(grades, days, strict=True)]
    found = proposed(level, readings=[*without("effusion"), *rows])
    assert (found.move.value, rule in rules(found)) == (move, True)


def test_what_nobody_asked_for_fourteen_days_is_not_known() -> None:
    late = TODAY + timedelta(days=15)
    found = proposed(HOLD, on=late)
    assert deciding(found) == {"pain_not_known", "effusion_not_known"}
    kept = proposed(HOLD, on=TODAY + timedelta(days=14))
    assert kept.move is Move.PROGRESS


SORE = [
    ("none", "progress", 0), ("warm-up then gone", "stay", 0), ("stayed", "regress", 2),
    ("came back", "regress", 2), ("next day", "stay", 1),
]  # fmt: skip


@every_case(("word", "move", "days_off"), SORE)
def test_soreness_codes(word: str, move: str, days_off: int) -> None:
    rows = [*without("soreness_after_session"), reading("soreness_after_session", L, word, TODAY)]
    found = proposed("standing_hip_hold", readings=rows)
    assert (found.move.value, found.days_off) == (move, days_off)


def test_soreness_of_the_level_before_takes_nothing_back_again() -> None:
    rows = [
        *without("soreness_after_session"),
        reading("soreness_after_session", L, "stayed", SINCE),
    ]
    found = proposed("standing_hip_hold", readings=rows, on=SINCE + timedelta(days=10))
    assert (found.move, rules(found)["soreness_stayed"]) == (Move.STAY, Effect.HOLDS)


def test_pain_that_had_not_settled_next_morning_holds_or_takes_back_where_the_level_says_so() -> (
    None
):
    rows = [*good(), reading("task_pain_settled_next_morning", L, "no", TODAY)]
    assert outcome(proposed(HOLD, readings=rows)) == ("stay", HOLD)
    assert outcome(proposed("moving_hip_hold", readings=rows)) == (
        "regress", "standing_hip_hold_with_weight",
    )  # fmt: skip


SETBACKS = [
    ([("knee_extension", "0"), ("knee_extension", "5")], "knee_extension_lost"),
    ([("knee_flexion", "135"), ("knee_flexion", "125")], "knee_flexion_lost"),
    ([("gait_without_limp", "yes"), ("gait_without_limp", "no")], "limp_back"),
]


@every_case(("rows", "rule"), SETBACKS)
def test_setbacks_since_the_level_take_back(rows: list[tuple[str, str]], rule: str) -> None:
    code = rows[0][0]
    limb = L if CATALOGUE[code].per_limb else NONE
    read = [
        reading(code, limb, value, day)
        for (_, value), day in zip(rows, (ago(10), TODAY), strict=True)
    ]
    found = proposed(HOLD, readings=[*without(code), *read])
    assert (found.move, rules(found)[rule]) == (Move.REGRESS, Effect.TAKES_BACK)
    earlier = proposed(HOLD, readings=[*without(code), *read], since=TODAY)
    assert rule not in rules(earlier)


def test_a_quadriceps_setback_takes_back() -> None:
    rows = [*without("quadriceps_torque"), *both("quadriceps_torque", "190", "200", ago(10))]
    slight = [*rows, *both("quadriceps_torque", "162", "200", TODAY)]
    assert "quadriceps_setback" not in rules(proposed(HOLD, readings=slight))
    much = [*rows, *both("quadriceps_torque", "160", "200", TODAY)]
    assert proposed(HOLD, readings=much).move is Move.REGRESS


EVENTS = [
    ("giving_way", 3, L, "regress"), ("giving_way", 3, R, "progress"),
    ("giving_way", 21, L, "progress"), ("new_injury", 3, L, "regress"),
    ("infection", 3, L, "regress"), ("clot", 3, L, "regress"), ("fracture", 3, L, "regress"),
    ("graft_rupture", 3, L, "regress"), ("infection", 25, L, "stay"),
    ("infection", 21, L, "stay"), ("clot", 80, L, "stay"),
    ("reoperation", 3, L, "stay"), ("reoperation", 25, L, "progress"),
    ("return_to_running", 3, NONE, "progress"), ("giving_way", 0, L, "regress"),
    ("reoperation", 21, L, "stay"), ("reoperation", 22, L, "progress"),
    ("giving_way", -3, L, "progress"),
]  # fmt: skip


@every_case(("code", "days", "limb", "move"), EVENTS)
def test_events(code: str, days: int, limb: Any, move: str) -> None:
    found = proposed(HOLD, events=[Event(code=code, limb=limb, on=ago(days))])
    assert found.move.value == move


def test_giving_way_on_the_day_the_level_began_holds_for_fourteen_days() -> None:
    event = Event(code="giving_way", limb=L, on=ago(14))
    found = proposed("standing_hip_hold", events=[event], since=ago(14))
    assert (found.move, rules(found)["giving_way"]) == (Move.STAY, Effect.HOLDS)


SESSIONS = [
    ([7, 0], "progress"), ([3, 0], "progress"), ([2, 0], "stay"), ([0], "stay"), ([7], "stay"),
    ([20, 7], "progress"), ([21, 20], "stay"), ([21, 0], "stay"),
]  # fmt: skip


@every_case(("days", "move"), SESSIONS)
def test_two_good_sessions_at_least_three_days_apart(days: list[int], move: str) -> None:
    symptoms = ("pain_worst_24h", "pain_front_of_knee", "soreness_after_session", "effusion")
    rows = [*without(*symptoms), reading("effusion", L, "trace", ago(min(days)))]
    rows += [reading("pain_worst_24h", L, "1", ago(day)) for day in days]
    found = proposed(HOLD, readings=rows)
    old = {"pain_not_known", "effusion_not_known"} if min(days) > 14 else set()
    held = {"sessions_missing"} | old
    assert (found.move.value, deciding(found)) == (move, held if move == "stay" else set())


def test_a_session_that_was_not_good_starts_the_count_anew() -> None:
    bad = reading("pain_rest", L, "3", ago(3))
    rows = [*good(), bad, reading("pain_rest", L, "0", TODAY)]
    assert deciding(proposed(HOLD, readings=rows)) == {"sessions_missing"}


def test_pain_that_had_settled_speaks_for_a_step() -> None:
    rows = [*good(), reading("task_pain_settled_next_morning", L, "yes", TODAY)]
    found = proposed(HOLD, readings=rows)
    assert (found.move, rules(found)["settled"]) == (Move.PROGRESS, Effect.FOR)
    bad = [*good(), reading("task_pain_settled_next_morning", L, "no", TODAY)]
    assert rules(proposed(HOLD, readings=bad))["not_settled"] is Effect.HOLDS


def test_a_limp_that_never_went_is_not_back_and_a_setback_of_the_day_it_began_is_answered() -> None:
    rows = without("gait_without_limp")
    rows += [reading("gait_without_limp", NONE, "no", day) for day in (ago(10), TODAY)]
    assert "limp_back" not in rules(proposed(HOLD, readings=rows))
    down = [*without("quadriceps_torque"), *both("quadriceps_torque", "190", "200", ago(30))]
    down += both("quadriceps_torque", "150", "200", SINCE)
    assert "quadriceps_setback" not in rules(proposed(HOLD, readings=down))
    found = proposed(HOLD, readings=down, since=SINCE - timedelta(days=1))
    assert rules(found)["quadriceps_setback"] is Effect.TAKES_BACK


def test_two_good_sessions_after_one_that_was_not_are_enough() -> None:
    settled = "task_pain_settled_next_morning"
    rows = good() + [
        reading("pain_rest", L, value, ago(day)) for value, day in (("3", 12), ("0", 7))
    ]
    rows += [reading(settled, L, value, ago(day)) for value, day in (("no", 12), ("yes", 7))]
    rows += [reading("pain_rest", L, "0", TODAY), reading(settled, L, "yes", TODAY)]
    assert proposed(HOLD, readings=rows).move is Move.PROGRESS
    one = [*good(), reading(settled, L, "no", ago(3)), reading(settled, L, "yes", TODAY)]
    assert deciding(proposed(HOLD, readings=one)) == {"sessions_missing"}


def test_own_torque_speaks_where_the_other_side_is_no_fair_reference() -> None:
    down = [*without("quadriceps_torque"), reading("quadriceps_torque", L, "190", ago(15))]
    down.append(reading("quadriceps_torque", L, "160", TODAY))
    found = proposed(HOLD, readings=down, other_limb="current_problem")
    assert (found.move, rules(found)["quadriceps_fall"]) == (Move.REGRESS, Effect.TAKES_BACK)


def test_signs_of_infection_take_back() -> None:
    rows = [*without("effusion", "pain_worst_24h")]
    rows += [reading("effusion", L, word, day) for word, day in (("zero", ago(7)), ("1+", TODAY))]
    rows += [reading("pain_worst_24h", L, n, day) for n, day in (("0", ago(7)), ("2", TODAY))]
    found = proposed(HOLD, readings=rows, index_date=TODAY - timedelta(weeks=10))
    assert (found.move, rules(found)["infection_signs"]) == (Move.REGRESS, Effect.TAKES_BACK)


def test_a_step_taken_at_this_visit_holds_the_others() -> None:
    found = proposed(HOLD, step_taken=True)
    assert (found.move, deciding(found)) == (Move.STAY, {"one_step_a_visit"})
