"""Values worked out from others of one limb, day and set of conditions, or why there is none."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.core.derived import Derived, all_derived, derived_of
from outcomes.core.status import judge
from outcomes.core.values import NotAssessable, ReadingStatus, Why
from tests.core.builders import CATALOGUE, PROTOCOL, L, R, after, both, facts, few, reading, visits
from tests.core.tables import every_case

RATIO, COMPOSITE = "hamstring_quadriceps_ratio", "reach_composite"
FIXED = "device=fixed;knee_angle=90"
ISO = "device=isokinetic;knee_angle=90;speed=60"
REACH = "device=slide;hands=free;leg_length_used=own;shoes=worn"
DAY, LATER = after(weeks=20), after(weeks=30)
PAIN = ReadingStatus.STOPPED_BY_PAIN


def torques(hamstrings, quadriceps, on=DAY, key=FIXED, **more):
    return [
        reading("hamstring_torque", L, hamstrings, on, key=key, **more),
        reading("quadriceps_torque", L, quadriceps, on, key=key),
    ]


def reaches(limb, anterior, posteromedial, posterolateral, on=DAY, key=REACH):
    return [
        reading("reach_anterior", limb, anterior, on, key=key),
        reading("reach_posteromedial", limb, posteromedial, on, key=key),
        reading("reach_posterolateral", limb, posterolateral, on, key=key),
    ]


def derived(code, rows) -> list[Derived]:
    return list(derived_of(measure=CATALOGUE[code], catalogue=CATALOGUE, readings=rows))


def why(code, rows) -> list[NotAssessable]:
    return [one.outcome for one in derived(code, rows) if isinstance(one.outcome, NotAssessable)]


def test_the_ratio_of_the_worked_example():
    # Made up and exact: 98 over 164 is 0.5976.
    (found,) = derived(RATIO, rows := torques("98", "164"))
    assert found.outcome == Fraction(98, 164)
    assert (found.limb, found.on, found.key) == (L, DAY, FIXED)
    made = found.reading
    assert made is not None
    assert made.value is not None
    assert round(made.value, 4) == Decimal("0.5976")
    assert made.details == {"hamstring_torque": "98", "quadriceps_torque": "164"}
    assert made.refs == tuple(row.ref for row in rows)


@every_case(("reach", "shown"), [(("62", "98.5", "94"), "96.40"), (("66.5", "99", "95"), "98.67")])
def test_the_composite_of_the_worked_examples(reach, shown):
    # Made up: leg length 88 cm; the leg length is older and is carried with its day.
    length = reading("leg_length", L, "88", DAY - timedelta(days=300))
    (found,) = derived(COMPOSITE, [*reaches(L, *reach), length])
    made = found.reading
    assert made is not None
    assert made.value is not None
    assert str(round(made.value, 2)) == shown
    assert made.details["leg_length_on"] == length.on.isoformat()


def test_one_leg_length_may_serve_both_legs():
    key = REACH.replace("own", "right")
    lengths = both("leg_length", "90", "88", DAY)
    rows = [*reaches(L, "62", "98.5", "94", key=key), *lengths]
    (found,) = derived(COMPOSITE, rows)
    assert isinstance(found.outcome, Fraction)
    assert found.outcome == Fraction("254.5") / 264 * 100
    own = [replace(row, key=row.key.replace("right", "own")) for row in rows]
    assert [one.outcome for one in derived(COMPOSITE, own)] == [Fraction("254.5") / 270 * 100]


@every_case(
    ("rows", "reason"),
    [
        (
            [*torques("98", None)[:1], *torques(None, "164", key=ISO)[1:]],
            NotAssessable(why=Why.INPUTS_DIFFER),
        ),
        (
            torques("98", "164", status=PAIN),
            NotAssessable(why=Why.LIMITED_BY_PAIN, detail="left"),
        ),
        (torques("98", "0"), NotAssessable(why=Why.ZERO_REFERENCE)),
        (
            torques(None, "164", status=ReadingStatus.DECLINED),
            NotAssessable(why=Why.NOT_DONE, detail="declined"),
        ),
    ],
)
def test_a_ratio_that_cannot_be_says_why(rows, reason):
    assert why(RATIO, rows) == [reason]


@every_case("age", [None, 366, -1])
def test_a_composite_needs_a_leg_length_that_is_recent_enough(age):
    rows = reaches(L, "62", "98.5", "94")
    if age is not None:
        rows.append(reading("leg_length", L, "88", DAY - timedelta(days=age)))
    rows.append(reading("leg_length", R, "88", DAY))
    lacking = NotAssessable(why=Why.INPUT_NOT_TESTED, detail="leg_length")
    assert why(COMPOSITE, rows) == [lacking]


def test_a_leg_length_counts_up_to_its_last_day():
    length = reading("leg_length", L, "88", DAY - timedelta(days=365))
    (found,) = derived(COMPOSITE, [*reaches(L, "62", "98.5", "94"), length])
    assert found.outcome == Fraction("254.5") / 264 * 100


@every_case(("testers", "whose"), [((7, 7, 7), 7), ((7, 7, 8), 0)])
def test_a_value_is_of_one_tester_where_the_day_has_one(testers, whose):
    # Who measured the older leg length does not count.
    rows = reaches(L, "62", "98.5", "94")
    rows = [replace(row, tester=one) for row, one in zip(rows, testers, strict=True)]
    length = replace(reading("leg_length", L, "88", DAY - timedelta(days=300)), tester=9)
    (found,) = derived(COMPOSITE, [*rows, length])
    assert found.reading is not None
    assert found.reading.tester == whose


def test_nothing_is_said_of_a_day_or_a_limb_on_which_only_one_was_tested():
    apart = [*torques("98", "1")[:1], *torques("1", "164", on=LATER)[1:]]
    assert derived(RATIO, apart) == []
    limbs = [torques("98", "1")[0], reading("quadriceps_torque", R, "164", DAY, key=FIXED)]
    assert derived(RATIO, limbs) == []
    assert all_derived(catalogue=CATALOGUE, readings=limbs) == ()


def test_each_set_of_conditions_has_its_own_value_and_the_newest_day_comes_first():
    rows = [*torques("98", "164"), *torques("60", "80", key=ISO), *torques("90", "100", on=LATER)]
    found = derived(RATIO, rows)
    assert [(one.on, one.key) for one in found] == [(LATER, FIXED), (DAY, ISO), (DAY, FIXED)]
    assert [one.outcome for one in found] == [Fraction(9, 10), Fraction(3, 4), Fraction(98, 164)]


def test_a_measure_that_is_typed_is_refused():
    with pytest.raises(ValueError, match="single_hop is typed, not derived"):
        derived("single_hop", [])


@few
@given(
    values=st.tuples(*[st.decimals("0.000001", "999", places=6)] * 2),
    threshold=st.decimals("0", "10", places=6),
)
def test_sixty_digits_lie_on_the_same_side_of_every_threshold(values, threshold):
    (found,) = derived(RATIO, torques(*values))
    assert isinstance(found.outcome, Fraction)
    assert found.reading is not None
    kept = Fraction(found.reading.value or 0)
    assert (kept >= Fraction(threshold)) == (found.outcome >= Fraction(threshold))
    assert abs(kept - found.outcome) < Fraction(1, 10**40)


def status(rows):
    return judge(
        facts=facts(),
        catalogue=CATALOGUE,
        protocol=PROTOCOL,
        readings=rows,
        restrictions=(),
        visits=visits(last_on=LATER),
        red_flags=(),
        on=LATER,
    )


def test_status_today_shows_the_value_its_change_and_the_symmetry_of_both_limbs():
    lengths = both("leg_length", "88", "88", DAY)
    rows = [*torques("98", "164"), *torques("90", "100", on=LATER)]
    rows += [*reaches(L, "62", "98.5", "94"), *reaches(R, "66.5", "99", "95"), *lengths]
    found = status(rows)
    ratio, composite = found.measure(code=RATIO), found.measure(code=COMPOSITE)
    assert ratio is not None
    assert composite is not None
    assert ratio.left is not None
    assert ratio.left.value == Decimal("0.9")
    assert ratio.change_left is not None
    assert round(float(ratio.change_left.before), 4) == 0.5976
    assert (ratio.right, ratio.unworked) == (None, {})
    assert not isinstance(composite.symmetry, NotAssessable)
    assert composite.symmetry is not None
    assert round(float(composite.symmetry.value), 2) == -2.27


def test_status_today_says_why_a_limb_has_no_value_and_not_where_an_older_one_stands():
    lacking = NotAssessable(why=Why.INPUTS_DIFFER)
    apart = [*torques("98", "1")[:1], *torques("1", "164", key=ISO)[1:]]
    found = status(apart).measure(code=RATIO)
    assert found is not None
    assert (found.left, found.symmetry, found.unworked) == (None, None, {L: lacking})
    found = status([*torques("50", "100", on=DAY - timedelta(days=7)), *apart]).measure(code=RATIO)
    assert found is not None
    assert found.left is not None
    assert (found.left.value, found.unworked) == (Decimal("0.5"), {})


def test_where_no_limb_has_a_value_there_is_no_symmetry_to_speak_of():
    rows = [*reaches(L, "62", "98.5", "94"), *reaches(R, "60", "98.5", "94")]
    found = status(rows).measure(code=COMPOSITE)
    assert found is not None
    assert (found.left, found.right, found.pair, found.symmetry) == (None, None, None, None)
    assert set(found.unworked) == {L, R}
