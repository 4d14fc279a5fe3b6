"""A changed tester: the error is then one between testers, and the words say so."""

from dataclasses import replace

from outcomes.core.history import History
from outcomes.core.status import Change, MeasureStatus, measure_status
from outcomes.core.values import Limb, Reading
from outcomes.core.wording import change_words, index_change_words
from tests.core.builders import CATALOGUE, L, R, after, facts, reading
from tests.core.tables import every_case

FIRST, THEN = after(weeks=4), after(weeks=6)
GONIOMETER = "device=goniometer"
HELD = "device=handheld;knee_angle=90"
FIXED = "device=fixed;knee_angle=90"


def by(tester: int, code: str, limb: Limb, value: str, on, key: str) -> Reading:
    return replace(reading(code, limb, value, on, key=key), tester=tester)


def status(code: str, readings: list[Reading]) -> MeasureStatus:
    history = History(facts=facts(), catalogue=CATALOGUE, readings=readings, on=after(weeks=7))
    return measure_status(history=history, code=code)


def extension(first: int, then: int, *, key: str = GONIOMETER) -> Change:
    rows = [by(first, "knee_extension", L, "9", FIRST, key)]
    rows += [by(then, "knee_extension", L, "4", THEN, key)]
    found = status("knee_extension", rows).change_left
    assert found is not None
    return found


@every_case(
    ("first", "then", "key", "real", "told"),
    [
        # One tester: MDC95 3.5 degrees. Two with a goniometer: 10.4; with an inclinometer: 3.7.
        (1, 1, GONIOMETER, True, "5° more extension"),
        (1, 2, GONIOMETER, False, "5° more extension, another tester: no real change"),
        (1, 2, "device=inclinometer", True, "5° more extension, another tester"),
        (1, 2, "", None, "5° more extension, another tester, error not known"),
        (0, 2, GONIOMETER, True, "5° more extension"),
        (1, 0, GONIOMETER, True, "5° more extension"),
    ],
)
def test_five_degrees_are_a_change_for_one_tester_and_not_for_two(first, then, key, real, told):
    change = extension(first, then, key=key)
    assert change.real is real
    assert change_words(measure=CATALOGUE["knee_extension"], change=change) == told


@every_case(
    ("key", "then", "real", "told"),
    [
        # Hand-held, in points of the index: MDC95 30.8 by one tester, 37.4 by two.
        (HELD, 1, True, "up 34"),
        (HELD, 2, False, "up 34, another tester: no real change"),
        (FIXED, 2, True, "up 34"),
    ],
)
def test_a_hand_held_index_depends_on_the_tester_and_a_fixed_one_does_not(key, then, real, told):
    code = "quadriceps_torque"
    rows = [by(1, code, L, "60", FIRST, key), by(1, code, R, "100", FIRST, key)]
    rows += [by(then, code, L, "94", THEN, key), by(then, code, R, "100", THEN, key)]
    found = status(code, rows).change_symmetry
    assert found is not None
    assert found.real is real
    assert index_change_words(change=found) == told


def test_a_grade_of_another_eye_is_told_and_a_count_is_not():
    drop, raises = "pelvic_drop_lateral_heel_touch", "heel_raise"
    rows = [by(1, drop, L, "marked", FIRST, "step_height=20")]
    rows += [by(2, drop, L, "slight", THEN, "step_height=20")]
    rows += [by(1, raises, L, "10", FIRST, "k=1"), by(2, raises, L, "20", THEN, "k=1")]
    graded, counted = status(drop, rows).change_left, status(raises, rows).change_left
    assert graded is not None
    assert counted is not None
    said = change_words(measure=CATALOGUE[drop], change=graded)
    assert said == "two grades less, another tester"
    assert change_words(measure=CATALOGUE[raises], change=counted) == "10 reps more"
