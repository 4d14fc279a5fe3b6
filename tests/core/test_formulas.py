"""Formulas beyond one printed number: laws, refusals, and errors held to simulation."""

import statistics
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from math import hypot
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.core.angles import heel_height_degrees, knee_projection_angle, pelvic_drop
from outcomes.core.errors import reliable_change, symmetry_error
from outcomes.core.fallback import Known, reference_for
from outcomes.core.grades import grade_from_picture
from outcomes.core.kinds import View
from outcomes.core.picture_errors import knee_projection_error, pelvic_drop_error, point_error
from outcomes.core.quantities import TypedError
from outcomes.core.reach import reach_percent
from outcomes.core.strength import hamstring_quadriceps_ratio, percent_body_weight
from outcomes.core.symmetry import pre_injury_capacity, ratio_index, side_difference
from outcomes.core.trials import spread_of, summary_of
from outcomes.core.values import Better, Limb, Reference, Summary
from tests.core.builders import CATALOGUE, SURGERY, L, R, after, facts, few
from tests.core.tables import every_case

QUAD = CATALOGUE["quadriceps_torque"]
TRIALS = st.lists(st.decimals(1, 300, places=1), min_size=2, max_size=6)


def at(x: float, y: float) -> tuple[Decimal, Decimal]:
    return Decimal(repr(float(x))), Decimal(repr(float(y)))


# Symmetry and what stands in for it


def test_no_index_is_ever_made_of_nothing():
    zero, one = Decimal(0), Decimal(1)
    assert ratio_index(involved=one, other=zero, better=Better.HIGHER) is None
    assert ratio_index(involved=zero, other=one, better=Better.LOWER) is None
    assert ratio_index(involved=one, other=zero, better=Better.LOWER) is None
    assert ratio_index(involved=zero, other=one, better=Better.HIGHER) == 0
    assert (
        pre_injury_capacity(involved_now=one, reference_before=zero, better=Better.HIGHER) is None
    )
    assert hamstring_quadriceps_ratio(hamstrings=one, quadriceps=zero) is None
    assert side_difference(involved=zero, other=one) == -1


@every_case(
    ("changes", "known", "reference"),
    [
        ({}, {}, "other_limb"),
        ({"other_limb": "earlier_surgery"}, {"own_before": True}, "own_before_injury"),
        ({"graft_from": "other_limb"}, {"other_before": True}, "other_before_surgery"),
        ({"other_limb": "current_problem"}, {"other_before": True}, "nothing"),
        ({"other_limb": "current_problem"}, {"body_mass": True}, "body_mass"),
        ({"other_limb": "current_problem"}, {"own_earlier": True}, "own_history"),
        ({"other_limb": "current_problem"}, {"body_mass": True, "own_earlier": True}, "body_mass"),
        ({"other_limb": "not_stated"}, {}, "nothing"),
    ],
)
def test_what_to_compare_with_where_the_other_limb_is_no_fair_reference(
    changes: dict[str, str], known: dict[str, bool], reference: str
):
    found = reference_for(
        measure=QUAD, facts=facts(**changes), on=after(weeks=20), known=Known(**known)
    )
    assert found is Reference(reference)


def test_a_child_is_not_judged_by_body_mass():
    child = facts(other_limb="current_problem", birth_date=SURGERY.replace(year=2010))
    known = Known(body_mass=True, own_earlier=True)
    found = reference_for(measure=QUAD, facts=child, on=after(weeks=20), known=known)
    assert found is Reference.OWN_HISTORY
    birthday = after(weeks=20).replace(year=after(weeks=20).year - 18)
    of_age = replace(child, birth_date=birthday)
    found = reference_for(measure=QUAD, facts=of_age, on=after(weeks=20), known=known)
    assert found is Reference.BODY_MASS
    ratio_free = replace(QUAD, relative=None)
    adult = facts(other_limb="current_problem")
    found = reference_for(measure=ratio_free, facts=adult, on=after(weeks=20), known=known)
    assert found is Reference.OWN_HISTORY


# Errors


@few
@given(before=st.decimals(0, 100, places=1), after_=st.decimals(0, 100, places=1))
def test_a_reliable_change_has_the_sign_of_the_change(before: Decimal, after_: Decimal):
    there, back = (
        reliable_change(before=a, after=b, sd=Decimal(7), reliability=Decimal("0.8"))
        for a, b in ((before, after_), (after_, before))
    )
    assert (there.value, there.reliable) == (back.value.copy_negate(), back.reliable)


@every_case(("sd", "reliability"), [("0", "0.8"), ("7", "1"), ("7", "-0.1")])
def test_a_reliable_change_needs_noise_and_less_than_full_reliability(sd: str, reliability: str):
    with pytest.raises(ValueError, match="above zero"):
        reliable_change(
            before=Decimal(1), after=Decimal(2), sd=Decimal(sd), reliability=Decimal(reliability)
        )


def test_exactly_196_is_not_reliable():
    """Jacobson and Truax 1991 ask for more than 1.96; SD 1 and reliability 0.5 make it exact."""
    for change, reliable in (("1.96", False), ("1.9600001", True)):
        found = reliable_change(
            before=Decimal(0), after=Decimal(change), sd=Decimal(1), reliability=Decimal("0.5")
        )
        assert found.reliable is reliable


def test_no_change_is_plain_zero():
    sd, reliability = Decimal(7), Decimal("0.8")
    found = reliable_change(before=sd, after=sd, sd=sd, reliability=reliability)
    assert (str(found.value), found.reliable) == ("0", False)


def test_an_index_that_is_none_has_no_error_and_a_cv_is_not_negative():
    one, cv = Decimal(1), Decimal("0.05")
    assert symmetry_error(involved=one, other=Decimal(0), cv_involved=cv, cv_other=cv) is None
    with pytest.raises(ValueError, match="not negative"):
        symmetry_error(involved=one, other=one, cv_involved=-cv, cv_other=cv)


# Trials, against Python's own statistics


@few
@given(trials=TRIALS)
def test_trials_are_summed_up_as_the_standard_library_does(trials: list[Decimal]):
    def summed(summary: Summary, better: Better = Better.HIGHER) -> Fraction:
        return summary_of(trials=trials, summary=summary, better=better)

    assert summed(Summary.MEAN) == statistics.mean(map(Fraction, trials))
    assert summed(Summary.MEDIAN) == Fraction(statistics.median(trials))
    assert summed(Summary.BEST) == max(trials)
    assert summed(Summary.BEST, Better.LOWER) == min(trials)
    spread = spread_of(trials=trials)
    assert (spread.n, spread.lowest, spread.highest) == (len(trials), min(trials), max(trials))
    assert spread.sd is not None
    assert float(spread.sd) == pytest.approx(statistics.stdev(map(float, trials)), abs=1e-9)
    assert spread.cv is not None
    assert float(spread.cv) == pytest.approx(float(spread.sd) / float(spread.mean))


def test_one_trial_has_no_spread():
    found = spread_of(trials=[Decimal(5)])
    assert (found.n, found.mean, found.sd, found.cv) == (1, Fraction(5), None, None)


def test_trials_around_zero_scatter_but_have_no_relative_spread():
    found = spread_of(trials=[Decimal(-3), Decimal(3), Decimal(0)])
    assert [found.lowest, found.highest, found.sd] == [Decimal(-3), Decimal(3), Decimal(3)]
    assert (found.mean, found.cv) == (Fraction(0), None)


# Angles


@few
@given(drop=st.integers(-20, 20), wide=st.integers(50, 400))
def test_the_drop_is_the_same_seen_from_either_side(drop: int, wide: int):
    right = pelvic_drop(stance=at(400, 300), swing=at(400 + wide, 300 + drop))
    left = pelvic_drop(stance=at(400, 300), swing=at(400 - wide, 300 + drop))
    assert right == pytest.approx(left, abs=1e-9)
    assert (right > 0, right < 0) == (drop > 0, drop < 0)


@few
@given(tilt=st.integers(-30, 30), drop=st.integers(-30, 30))
def test_a_level_line_takes_the_tilt_of_the_camera_off(tilt: int, drop: int):
    """Points turned by complex multiplication: geometry, standard."""
    turned = complex(100, tilt) / abs(complex(100, tilt))
    points = [complex(*point) * turned for point in ((0, 0), (200, drop), (0, 90), (300, 90))]
    stance, swing, start, end = (at(point.real, point.imag) for point in points)
    found = pelvic_drop(stance=stance, swing=swing, level_line=(start, end))
    backward = pelvic_drop(stance=stance, swing=swing, level_line=(end, start))
    straight = pelvic_drop(stance=at(0, 0), swing=at(200, drop))
    assert found == pytest.approx(straight, abs=1e-6)
    assert backward == pytest.approx(straight, abs=1e-6)


def test_an_inward_knee_is_inward_from_in_front_and_from_behind():
    hip, foot = at(300, 300), at(310, 700)
    seen = {
        (limb, view): knee_projection_angle(
            thigh=hip, knee=at(330, 500), ankle=foot, limb=limb, view=view
        )
        for limb in (L, R)
        for view in View
    }
    right = seen[R, View.FRONT]
    assert right > 0
    assert seen[L, View.BACK] == right
    assert seen[L, View.FRONT] == seen[R, View.BACK] == -right


def test_angles_that_cannot_be_are_refused():
    same, hip = at(1, 1), at(300, 300)
    refused = [
        lambda: heel_height_degrees(height=Decimal(46), lever=Decimal(45)),
        lambda: heel_height_degrees(height=Decimal(0), lever=Decimal(0)),
        lambda: pelvic_drop(stance=same, swing=same),
        lambda: pelvic_drop(stance=at(0, 0), swing=at(0, 9)),
        lambda: pelvic_drop(stance=at(0, 0), swing=at(9, 0), level_line=(same, same)),
        lambda: knee_projection_angle(thigh=hip, knee=hip, ankle=same, limb=R, view=View.FRONT),
        lambda: knee_projection_angle(thigh=hip, knee=same, ankle=hip, limb=R, view=View.FRONT),
        lambda: knee_projection_angle(
            thigh=hip, knee=same, ankle=at(0, 5), limb=Limb.NONE, view=View.FRONT
        ),
        lambda: percent_body_weight(force=Decimal(1), body_mass=Decimal(0)),
        lambda: reach_percent(reach=Decimal(1), leg_length=Decimal(0)),
        lambda: point_error(tap=Decimal(-1), pixels_per_mm=None),
        lambda: point_error(tap=Decimal(1), pixels_per_mm=Decimal(0)),
    ]
    for call in refused:
        with pytest.raises(TypedError):
            call()


@every_case("noise", [1.0, 3.0, 6.0])
def test_the_predicted_error_of_an_angle_is_that_of_simulated_taps(noise: float):
    """1,000 pictures with taps off by a normal error: within 10 % of first-order propagation."""
    rng = Random(11)

    def off(point: tuple[float, float]) -> tuple[Decimal, Decimal]:
        return at(*(value + rng.gauss(0, noise) for value in point))

    stance, swing, hip, knee, foot = (0, 0), (240, 12), (0, 0), (20, 300), (0, 600)
    drops = [pelvic_drop(stance=off(stance), swing=off(swing)) for _ in range(1000)]
    turns = [
        knee_projection_angle(
            thigh=off(hip), knee=off(knee), ankle=off(foot), limb=R, view=View.FRONT
        )
        for _ in range(1000)
    ]
    said = pelvic_drop_error(stance=at(*stance), swing=at(*swing), error=noise)
    assert statistics.stdev(drops) == pytest.approx(said, rel=0.1)
    said = knee_projection_error(thigh=at(*hip), knee=at(*knee), ankle=at(*foot), error=noise)
    assert statistics.stdev(turns) == pytest.approx(said, rel=0.1)


def test_tap_and_landmark_add_up_as_squares_and_a_line_adds_its_own():
    tap, scale = Decimal(3), Decimal("0.8")
    assert point_error(tap=tap, pixels_per_mm=scale) == 5
    assert point_error(tap=tap, pixels_per_mm=None) == 3
    alone = pelvic_drop_error(stance=at(0, 0), swing=at(100, 0), error=5)
    line = (at(0, 0), at(100, 0))
    both = pelvic_drop_error(
        stance=at(0, 0), swing=at(100, 0), error=5, level_line=line, level_error=5
    )
    assert both == pytest.approx(hypot(alone, alone))


def test_a_grade_is_proposed_only_where_the_error_lies_within_one():
    """5 mm at each landmark is 1.7° at 24 cm apart and 4.0° at 10 cm (computed)."""
    front = pelvic_drop_error(stance=at(0, 0), swing=at(240, 0), error=5)
    back = pelvic_drop_error(stance=at(0, 0), swing=at(100, 0), error=5)
    assert (round(front, 1), round(back, 1)) == (1.7, 4.1)
    assert grade_from_picture(degrees=7.5, error=front) == "moderate"
    assert grade_from_picture(degrees=7.5, error=back) is None
