"""Laws of angles from pictures and the edges of their errors: camera, side, and nothing at all."""

from decimal import Decimal
from math import cos, isclose, radians, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.core.angles import heel_height_degrees, knee_projection_angle, pelvic_drop
from outcomes.core.kinds import View
from outcomes.core.picture_errors import point_error
from outcomes.core.quantities import TypedError
from outcomes.core.values import Limb
from tests.core.builders import L, R, few
from tests.core.tables import every_case

Spot = tuple[float, float]


def at(spot: Spot) -> tuple[Decimal, Decimal]:
    return Decimal(repr(float(spot[0]))), Decimal(repr(float(spot[1])))


def turned(spot: Spot, by: int) -> Spot:
    """The point as a camera that is turned by so many degrees sees it."""
    a, (x, y) = radians(by), spot
    return x * cos(a) - y * sin(a), x * sin(a) + y * cos(a)


def mirrored(spot: Spot) -> Spot:
    return 1000 - spot[0], spot[1]


def knee(spots: list[Spot], limb: Limb, view: View = View.FRONT) -> float:
    thigh, middle, ankle = map(at, spots)
    return knee_projection_angle(thigh=thigh, knee=middle, ankle=ankle, limb=limb, view=view)


@few
@given(
    x=st.integers(-150, 150),
    y=st.integers(100, 300),
    by=st.integers(-180, 180),
    limb=st.sampled_from([L, R]),
)
def test_turning_the_camera_changes_no_knee_and_the_mirrored_limb_has_the_same(
    x: int, y: int, by: int, limb: Limb
) -> None:
    spots: list[Spot] = [(300, 300), (300 + x, 300 + y), (320, 700)]
    plain = knee(spots, limb)
    assert isclose(knee([turned(spot, by) for spot in spots], limb), plain, abs_tol=1e-9)
    assert knee([mirrored(spot) for spot in spots], limb.opposite) == plain
    assert knee([mirrored(spot) for spot in spots], limb, View.BACK) == plain


@few
@given(
    by=st.integers(-40, 40),
    fall=st.integers(-60, 60),
    toward=st.sampled_from([-240, 240]),
    backwards=st.booleans(),
)
def test_a_level_line_marked_from_either_end_takes_any_tilt_off(
    by: int, fall: int, toward: int, backwards: bool
) -> None:
    stance, swing = (400.0, 300.0), (400.0 + toward, 300.0 + fall)
    ends = [at(turned(spot, by)) for spot in ((0, 90), (500, 90))]
    start, end = reversed(ends) if backwards else ends
    seen = pelvic_drop(
        stance=at(turned(stance, by)), swing=at(turned(swing, by)), level_line=(start, end)
    )
    assert isclose(seen, pelvic_drop(stance=at(stance), swing=at(swing)), abs_tol=1e-9)


@every_case(
    ("stance", "swing", "line"),
    [
        ((1, 1), (1, 1), None),
        ((1, 1), (1, 5), None),
        ((1, 1), (9, 1), ((3, 3), (3, 3))),
        ((1, 1), (9, 1), ((3, 3), (3, 9))),
        ((0, 0), (-1, 2), ((0, 0), (2, 1))),
    ],
)
def test_points_that_show_no_level_are_refused(
    stance: Spot, swing: Spot, line: tuple[Spot, Spot] | None
) -> None:
    level = None if line is None else (at(line[0]), at(line[1]))
    with pytest.raises(TypedError) as refused:
        pelvic_drop(stance=at(stance), swing=at(swing), level_line=level)
    assert refused.value.code == "side_by_side"


def test_a_lower_heel_is_beyond_straight() -> None:
    higher, lower = (heel_height_degrees(height=Decimal(h), lever=Decimal(45)) for h in (2, -2))
    assert (lower, lower < 0) == (-higher, True)


def test_a_perfect_tap_or_a_landmark_that_is_seen_adds_nothing() -> None:
    one, two = Decimal(1), Decimal(2)
    assert point_error(tap=Decimal(0), pixels_per_mm=one, landmark=two) == 2
    assert point_error(tap=two, pixels_per_mm=one, landmark=Decimal(0)) == 2
    for wrong in ({"tap": -one, "landmark": one}, {"tap": one, "landmark": -one}):
        with pytest.raises(TypedError) as refused:
            point_error(**wrong, pixels_per_mm=one)
        assert refused.value.code == "negative_error"
