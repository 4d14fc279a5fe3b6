"""Pairs and their symmetry: exact, the right way round, or not assessable with the reason."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

from hypothesis import strategies as st

from outcomes.core.symmetry import (
    is_other_limb_fair,
    pairs_of,
    symmetry,
    telling_of,
    why_other_limb_is_not_fair,
)
from outcomes.core.values import (
    Limb,
    NotAssessable,
    Pair,
    ReadingStatus,
    Symmetry,
    SymmetryForm,
    Why,
)
from tests.core.builders import CATALOGUE, KEYS, L, R, after, both, facts, newest, reading
from tests.core.tables import every_case

HOP, TIMED, EXT = (CATALOGUE[c] for c in ("single_hop", "timed_hop_6m", "knee_extension"))
HOLD, PAIN = CATALOGUE["standing_hip_hold"], CATALOGUE["pain_worst_24h"]
DAY = after(weeks=30)
POSITIVE = st.decimals(min_value="0.1", max_value=300, places=1)


def assess(measure, left, right, *, knee=L, fair=True, **changes):
    pair = newest(measure, both(measure.code, left, right, DAY, **changes))
    return symmetry(measure=measure, pair=pair, involved=knee, other_limb_fair=fair)


@every_case(
    ("measure", "left", "right", "value"),
    [
        (HOP, "142", "160", Fraction(355, 4)),
        (HOP, "18.9", "21.0", Fraction(90)),
        (TIMED, "2.10", "1.95", Fraction(1300, 14)),
        (EXT, "4", "-2", Fraction(6)),
        (EXT, "-2", "4", Fraction(-6)),
        (CATALOGUE["knee_flexion"], "128", "142", Fraction(-14)),
    ],
)
def test_left_is_the_involved_limb(measure, left, right, value):
    assert assess(measure, left, right).value == value


def test_the_published_error_comes_with_it():
    assert assess(HOP, "142", "160").sem == Decimal("5.59")
    assert assess(EXT, "4", "0").sem == Decimal("1.79")
    assert assess(HOLD, "20", "30").sem is None


@every_case(
    ("measure", "left", "right", "changes", "why"),
    [
        (PAIN, "2", "0", {}, Why.NO_RATIO),
        (HOP, "142", "160", {"fair": False}, Why.OTHER_LIMB_NOT_FAIR),
        (EXT, "4", "0", {"fair": False}, Why.OTHER_LIMB_NOT_FAIR),
        (HOP, "142", "160", {"knee": Limb.NONE}, Why.NO_INVOLVED_LIMB),
        (HOP, "142", "0", {}, Why.ZERO_REFERENCE),
        (TIMED, "0", "1.9", {}, Why.ZERO_REFERENCE),
        (HOLD, "45", "45", {}, Why.BOTH_AT_CAP),
        (HOP, "1", "2", {"status": ReadingStatus.STOPPED_BY_PAIN}, Why.LIMITED_BY_PAIN),
        (HOP, None, None, {"status": ReadingStatus.DECLINED}, Why.NOT_DONE),
        (HOP, None, None, {"status": ReadingStatus.UNABLE}, Why.NOT_DONE),
        (HOP, None, None, {"status": ReadingStatus.SURGEONS_LIMIT}, Why.NOT_DONE),
    ],
)
def test_not_assessable(measure, left, right, changes, why):
    found = assess(measure, left, right, **changes)
    assert isinstance(found, NotAssessable)
    assert found.why is why


def test_one_limb_at_the_cap_is_assessable():
    assert assess(HOLD, "40.5", "45").value == 90


def test_zero_of_the_involved_limb_is_a_number():
    assert assess(HOP, "0", "160").value == 0


@every_case(
    ("missing", "why"),
    [({"left": None}, Why.INVOLVED_NOT_TESTED), ({"right": None}, Why.OTHER_LIMB_NOT_TESTED)],
)
def test_a_limb_that_was_not_tested_is_named(missing: Any, why):
    left, right = both("single_hop", "142", "160", DAY)
    pair = replace(Pair(measure=HOP.code, on=DAY, key="", left=left, right=right), **missing)
    found = symmetry(measure=HOP, pair=pair, involved=L, other_limb_fair=True)
    assert found == NotAssessable(why=why)


def test_pain_in_one_limb_names_the_limb():
    pair = Pair(
        measure=HOP.code,
        on=DAY,
        key="",
        left=reading("single_hop", L, "100", DAY),
        right=reading("single_hop", R, "150", DAY, status=ReadingStatus.STOPPED_BY_PAIN),
    )
    found = symmetry(measure=HOP, pair=pair, involved=L, other_limb_fair=True)
    assert found == NotAssessable(why=Why.LIMITED_BY_PAIN, detail="right")


@every_case(
    ("changes", "reason"),
    [
        ({}, None),
        ({"graft_from": "other_limb"}, "graft_from_other_limb"),
        ({"other_knee_followed": True}, "other_knee_followed"),
        ({"other_limb": "earlier_surgery"}, "earlier_surgery"),
        ({"other_limb": "current_problem"}, "current_problem"),
        ({"other_limb": "not_stated"}, "not_stated"),
        ({"graft": "unknown", "graft_from": "unknown"}, None),
    ],
)
def test_only_a_limb_recorded_as_healthy_is_a_fair_reference(changes, reason):
    assert why_other_limb_is_not_fair(facts=facts(**changes)) == reason
    assert is_other_limb_fair(facts=facts(**changes)) is (reason is None)


def test_a_pair_is_one_day_and_one_key():
    other_key = KEYS["single_hop"].replace("worn", "none")
    readings = [
        *both("single_hop", "120", "150", after(weeks=20)),
        reading("single_hop", L, "130", after(weeks=24)),
        reading("single_hop", R, "150", after(weeks=24), key=other_key),
        reading("single_hop", L, "131", after(weeks=25)),
        *both("timed_hop_6m", "2.5", "2.0", after(weeks=26)),
    ]
    pair = newest(HOP, readings)
    assert (pair.on, pair.left, pair.right) == (after(weeks=20), readings[0], readings[1])
    assert pairs_of(measure=HOP, readings=readings[2:]) == ()


def test_of_two_keys_on_one_day_the_later_row_comes_first():
    low = both("pelvic_drop_lateral_heel_touch", "slight", "level", DAY, key="step_height=10")
    high = both("pelvic_drop_lateral_heel_touch", "marked", "level", DAY, key="step_height=20")
    measure = CATALOGUE["pelvic_drop_lateral_heel_touch"]
    assert newest(measure, [*high, *low]).key == "step_height=20"


def telling(readings):
    pair = telling_of(pairs=pairs_of(measure=HOP, readings=readings))
    return pair and pair.on


def test_a_declined_test_does_not_hide_an_older_pair_but_one_stopped_by_pain_does():
    older = both("single_hop", "120", "150", after(weeks=20))
    for status, on in [
        (ReadingStatus.DECLINED, after(weeks=20)),
        (ReadingStatus.SURGEONS_LIMIT, after(weeks=20)),
        (ReadingStatus.STOPPED_BY_PAIN, after(weeks=24)),
        (ReadingStatus.UNABLE, after(weeks=24)),
    ]:
        newer = both("single_hop", None, None, after(weeks=24), status=status)
        assert telling([*older, *newer]) == on
    only = both("single_hop", None, None, after(weeks=24), status=ReadingStatus.DECLINED)
    assert telling(only) == after(weeks=24)


def test_the_form_is_the_measures_own():
    found = assess(TIMED, "2.10", "1.95")
    assert isinstance(found, Symmetry)
    assert (found.form, found.pair.on) == (SymmetryForm.INVERTED_RATIO, DAY)
