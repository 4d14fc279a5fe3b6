"""Angles: from a heel height, and from points marked on a picture.

Picture points are (x, y) in pixels with y running down, as images have it. Angles are floats in
degrees: the one place where the core leaves exact numbers, because the angle functions do.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from math import asin, atan2, degrees
from typing import Final

from outcomes.core.kinds import Limb, View
from outcomes.core.quantities import TypedError

Point = tuple[Decimal, Decimal]
Vector = tuple[Fraction, Fraction]

MEDIAL: Final = {
    (View.FRONT, Limb.RIGHT): 1,
    (View.FRONT, Limb.LEFT): -1,
    (View.BACK, Limb.RIGHT): -1,
    (View.BACK, Limb.LEFT): 1,
}
"""Which way along x the middle of the body lies from a limb, by the side it is seen from."""


def heel_height_degrees(*, height: Decimal, lever: Decimal) -> float:
    """Extension that is lacking, in degrees, from a prone heel-height difference.

    ``height`` and ``lever`` (knee axis to heel) are in one unit; a positive height (the involved
    heel is higher) is a lack of extension. Raises ``TypedError`` where the height is longer than
    the lever. Source: arc sine of height over lever; 1 cm is 1 degree only at a lever of 57.3 cm.

    >>> round(heel_height_degrees(height=Decimal(5), lever=Decimal(45)), 2)
    6.38
    """
    if lever <= 0 or abs(height) > lever:
        raise TypedError(
            code="lever", message="Type a lever above zero that is at least as long as the height."
        )
    return degrees(asin(Fraction(height) / Fraction(lever)))


def pelvic_drop(
    *, stance: Point, swing: Point, level_line: tuple[Point, Point] | None = None
) -> float:
    """Pelvic drop in degrees: positive where the free side is lower, negative where it is hitched.

    ``stance`` and ``swing`` are the pelvis points of the standing and the free side, seen from in
    front or behind alike. ``level_line`` marks two points of something level (a shelf, a line on
    the wall): its slope in the picture, the tilt of the camera, is taken off. Raises
    ``TypedError`` where the points, or those of the line, do not lie side by side. Source: the
    angle of the pelvis line to the horizontal, common practice, no source.

    >>> here, there = (Decimal(400), Decimal(300)), (Decimal(640), Decimal(321))
    >>> round(pelvic_drop(stance=here, swing=there), 2)
    5.0
    """
    pelvis = _from(stance, swing)
    level = (pelvis[0], Fraction(0)) if level_line is None else _from(*level_line)
    if not level[0] or not _along(level, pelvis):
        raise TypedError(
            code="side_by_side",
            message="Mark two points of the pelvis, and of a line, side by side.",
        )
    toward_swing = 1 if _along(level, pelvis) > 0 else -1
    down = 1 if level[0] * toward_swing > 0 else -1
    return _angle(_across(level, pelvis) * toward_swing * down, abs(_along(level, pelvis)))


def knee_projection_angle(
    *, thigh: Point, knee: Point, ankle: Point, limb: Limb, view: View
) -> float:
    """How far the knee points inward in a picture, in degrees: valgus positive, varus negative.

    180 degrees minus the angle thigh, knee, ankle; positive where the knee lies toward the middle
    of the body from the line thigh to ankle. Turning the camera changes nothing. Raises
    ``TypedError`` where two neighbouring points are the same, the shank lies back along the
    thigh, or the limb is not left or right. Source: description known second hand (Herrington and
    Munro 2010 type).

    >>> hip, knee, foot = (
    ...     (Decimal(x), Decimal(y)) for x, y in ((300, 300), (330, 500), (310, 700))
    ... )
    >>> round(knee_projection_angle(
    ...     thigh=hip, knee=knee, ankle=foot, limb=Limb.RIGHT, view=View.FRONT
    ... ), 2)
    14.24
    """
    if limb is Limb.NONE:
        raise TypedError(code="limb", message="Choose the left or the right limb.")
    upper, lower = _from(thigh, knee), _from(knee, ankle)
    across, along = _across(upper, lower), _along(upper, lower)
    if not across and along <= 0:
        raise TypedError(
            code="points", message="Mark thigh, knee and ankle as three points along the limb."
        )
    return _angle(across * MEDIAL[view, limb], along)


def _from(start: Point, end: Point) -> Vector:
    return Fraction(end[0]) - Fraction(start[0]), Fraction(end[1]) - Fraction(start[1])


def _across(one: Vector, other: Vector) -> Fraction:
    return one[0] * other[1] - one[1] * other[0]


def _along(one: Vector, other: Vector) -> Fraction:
    return one[0] * other[0] + one[1] * other[1]


def _angle(across: Fraction, along: Fraction) -> float:
    """The angle of two exact numbers, scaled first so that neither leaves the range of a float."""
    largest = max(abs(across), abs(along))
    return degrees(atan2(across / largest, along / largest)) + 0.0
