"""Conditions, trials, limits, the extension entry and the warning about swapped sides."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.core.quantities import TypedError
from outcomes.core.readings import (
    check_value,
    comparison_key,
    conditions_of,
    extension_value,
    summarise,
    swap_suspected,
)
from outcomes.core.values import Better, Summary
from tests.core.builders import CATALOGUE, R, after, both, facts, few, newest
from tests.core.tables import every_case

QUAD, HOLD = CATALOGUE["quadriceps_torque"], CATALOGUE["standing_hip_hold"]
HOP, TIMED = CATALOGUE["single_hop"], CATALOGUE["timed_hop_6m"]
D = Decimal


@every_case(
    ("conditions", "key"),
    [
        ({"device": "fixed", "knee_angle": "90"}, "device=fixed;knee_angle=90"),
        ({"knee_angle": "90.0", "device": "fixed"}, "device=fixed;knee_angle=90"),
        ({"device": "fixed", "knee_angle": "9E1"}, "device=fixed;knee_angle=90"),
        ({"device": "fixed", "knee_angle": " 62.50 "}, "device=fixed;knee_angle=62.5"),
        ({"device": "fixed", "knee_angle": "0.0"}, "device=fixed;knee_angle=0"),
        (
            {"speed": "60", "knee_angle": "90", "device": "isokinetic"},
            "device=isokinetic;knee_angle=90;speed=60",
        ),
        ({"device": "fixed", "knee_angle": "90", "speed": ""}, "device=fixed;knee_angle=90"),
    ],
)
def test_one_text_for_the_same_conditions(conditions, key):
    assert comparison_key(measure=QUAD, conditions=conditions) == key
    assert comparison_key(measure=QUAD, conditions=conditions_of(key=key)) == key


def test_the_order_in_which_conditions_are_declared_does_not_matter():
    turned = replace(QUAD, conditions=QUAD.conditions[::-1])
    given_ = {"device": "fixed", "knee_angle": "90"}
    assert comparison_key(measure=turned, conditions=given_) == comparison_key(
        measure=QUAD, conditions=given_
    )


def test_no_conditions_make_an_empty_key():
    assert comparison_key(measure=CATALOGUE["knee_flexion"], conditions={}) == ""
    assert conditions_of(key="") == {}


@every_case(
    ("conditions", "code", "message"),
    [
        ({"device": "fixed"}, "condition_missing", "Choose or type: knee angle"),
        ({"device": "fixed", "knee_angle": ""}, "condition_missing", "Choose or type: knee angle"),
        (
            {"device": "hand", "knee_angle": "90"},
            "condition_choice",
            "Choose device: fixed dynamometer, hand-held dynamometer, isokinetic dynamometer.",
        ),
        (
            {"device": "fixed", "knee_angle": "right"},
            "condition_number",
            "Type knee angle (isokinetic: where the movement starts) as a number in °.",
        ),
        ({"device": "fixed", "knee_angle": "-90"}, "condition_number", "Type knee angle"),
        ({"device": "fixed", "knee_angle": "NaN"}, "condition_number", "Type knee angle"),
        ({"shoes": "worn"}, "condition_unknown", "Quadriceps strength"),
    ],
)
def test_conditions_that_are_refused(conditions, code, message):
    with pytest.raises(TypedError) as refused:
        comparison_key(measure=QUAD, conditions=conditions)
    assert refused.value.code == code
    assert refused.value.message.startswith(message)


@every_case(
    ("measure", "trials", "value"),
    [
        (HOP, ["120", "131.5", "128"], "131.5"),
        (TIMED, ["2.31", "2.05", "2.20"], "2.05"),
        (replace(HOP, summary=Summary.MEAN), ["120", "121", "121"], "120.666667"),
        (replace(HOP, summary=Summary.MEDIAN), ["120", "131", "121", "122"], "121.5"),
        (replace(HOP, better=Better.TOWARD_ZERO), ["3", "-2", "4"], "-2"),
        (HOLD, ["20"], "20"),
    ],
)
def test_trials_become_one_value(measure, trials, value):
    assert summarise(measure=measure, trials=[D(trial) for trial in trials]) == D(value)


@every_case(("trials", "code"), [([], "no_trials"), ([D(1), D(2)], "one_trial")])
def test_trials_that_are_refused(trials, code):
    with pytest.raises(TypedError) as refused:
        summarise(measure=HOLD, trials=trials)
    assert refused.value.code == code


@few
@given(st.lists(st.decimals(min_value=1, max_value=300, places=1), min_size=1, max_size=5))
def test_the_order_of_trials_does_not_matter(trials):
    for measure in (HOP, TIMED, replace(HOP, summary=Summary.MEAN)):
        assert summarise(measure=measure, trials=trials) == summarise(
            measure=measure, trials=trials[::-1]
        )


@every_case(
    ("code", "value", "hard", "soft"),
    [
        ("single_hop", "142", None, None),
        ("single_hop", "0", None, "0.0 cm is outside what is usual (20.0 to 230.0 cm)."),
        ("single_hop", "300", None, "300.0 cm is outside what is usual (20.0 to 230.0 cm)."),
        ("single_hop", "300.1", "Type a value from 0.0 to 300.0 cm.", "300.1 cm is outside"),
        ("single_hop", "-1", "Type a value from 0.0 to 300.0 cm.", "-1.0 cm is outside"),
        ("standing_hip_hold", "45", None, None),
        ("standing_hip_hold", "45.1", "The test is stopped at 45.0 s: type that", "45.1 s is"),
        ("pelvic_drop_lateral_heel_touch", "0", None, None),
        ("pelvic_drop_lateral_heel_touch", "3", None, None),
        ("pelvic_drop_lateral_heel_touch", "4", "Choose one of: level, slight, moderate", "4 is"),
        ("effusion", "0.5", "Choose one of: zero, trace, 1+, 2+, 3+.", None),
        ("knee_extension", "-20", None, "-20° is outside what is usual (-12 to 20°)."),
        ("pain_worst_24h", "10", None, "10 is outside what is usual (0 to 8)."),
        ("pain_worst_24h", "11", "Type a value from 0 to 10.", "11 is outside"),
    ],
)
def test_limits_refuse_or_warn_in_a_sentence(code, value, hard, soft):
    found = check_value(measure=CATALOGUE[code], value=D(value))
    for said, expected in zip(found, (hard, soft), strict=True):
        assert (said is None) is (expected is None)
        assert (said or "").startswith(expected or "")


@every_case(
    ("choice", "degrees", "value"),
    [
        ("lacks", "5", "5"),
        ("straight", None, "0"),
        ("straight", "0", "0"),
        ("beyond", "3", "-3"),
    ],
)
def test_extension_is_chosen_not_signed(choice, degrees, value):
    typed = None if degrees is None else D(degrees)
    assert extension_value(choice=choice, degrees=typed) == D(value)


@every_case(
    ("choice", "degrees", "code"),
    [
        ("lacks", "-5", "typed_sign"),
        ("beyond", "-5", "typed_sign"),
        ("straight", "2", "straight_is_zero"),
        ("lacks", None, "degrees_missing"),
        ("lacks", "0", "degrees_missing"),
        ("beyond", None, "degrees_missing"),
    ],
)
def test_extension_entries_that_are_refused(choice, degrees, code):
    with pytest.raises(TypedError) as refused:
        extension_value(choice=choice, degrees=None if degrees is None else D(degrees))
    assert refused.value.code == code


def suspected(measure, typed, before=None, **changes):
    def pair(values, week):
        left, right = values
        return newest(measure, both(measure.code, left, right, after(weeks=week)))

    said = swap_suspected(
        measure=measure,
        pair=pair(typed, 30),
        facts=facts(**changes),
        previous_pair=pair(before, 24) if before else None,
    )
    return said is not None


@every_case(
    ("case", "warned"),
    [
        ((HOP, ("131", "100")), True),
        ((HOP, ("130", "100")), False),
        ((HOP, ("100", "131")), False),
        ((TIMED, ("2.0", "2.7")), True),
        ((TIMED, ("2.7", "2.0")), False),
        ((HOP, ("160", "120"), ("115", "158")), True),
        ((HOP, ("160", "120"), ("150", "110")), False),
        ((HOP, ("100", "160"), ("158", "104")), True),
        ((CATALOGUE["knee_flexion"], ("150", "100")), False),
        ((CATALOGUE["effusion"], ("2+", "zero")), False),
    ],
)
def test_a_swap_is_suspected_over_130_per_cent_and_against_the_own_last_pair(case, warned):
    assert suspected(*case) is warned


def test_a_test_without_a_value_suspects_no_swap():
    readings = both("single_hop", "140", "100", after(weeks=30))
    pair = newest(HOP, [readings[0], replace(readings[1], value=None)])
    for typed in (pair, replace(pair, right=None), replace(pair, left=None)):
        said = swap_suspected(measure=HOP, pair=typed, facts=facts(), previous_pair=None)
        assert said is None
    whole = newest(HOP, readings)
    assert swap_suspected(measure=HOP, pair=whole, facts=facts(), previous_pair=pair) is not None


def test_a_graft_from_the_other_limb_is_compared_with_its_own_last_pair_only():
    crossed = {"graft_from": "other_limb"}
    assert not suspected(HOP, ("140", "100"), **crossed)
    assert suspected(HOP, ("140", "100"), ("98", "139"), **crossed)
    assert not suspected(HOP, ("140", "100"), ("139", "98"), **crossed)


def test_the_involved_limb_is_the_one_that_is_expected_to_lag():
    assert suspected(HOP, ("100", "140"), knee=R)
    assert not suspected(HOP, ("140", "100"), knee=R)


def test_a_pair_under_another_key_is_no_help():
    typed = newest(HOP, both("single_hop", "140", "100", after(weeks=30)))
    other = both("single_hop", "139", "99", after(weeks=24), key="brace=yes;hands=free;shoes=worn")
    previous = newest(HOP, other)
    said = swap_suspected(measure=HOP, pair=typed, facts=facts(), previous_pair=previous)
    assert said == "Left and right swapped? Look at both values again."
