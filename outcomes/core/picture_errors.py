"""How far an angle from a picture can be off: taps beside the point, landmarks beside the bone."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from math import degrees, hypot, sqrt
from typing import Final

from outcomes.core.angles import Point
from outcomes.core.quantities import TypedError

LANDMARK_MM: Final = Decimal(5)
"""How far a point under the skin is usually marked beside the bone (setting of this house)."""


def point_error(
    *, tap: Decimal, pixels_per_mm: Decimal | None, landmark: Decimal = LANDMARK_MM
) -> float:
    """Standard error of one marked point in pixels: tap and landmark, combined in quadrature.

    ``tap`` is in pixels, ``landmark`` in mm; ``pixels_per_mm`` comes from a known length in the
    picture. Without it only the tap counts, which is then a lower limit. Raises ``TypedError``
    for a negative error or a scale that is not positive.

    >>> point_error(tap=Decimal(3), pixels_per_mm=Decimal("0.8"))
    5.0
    """
    if tap < 0 or landmark < 0 or (pixels_per_mm is not None and pixels_per_mm <= 0):
        raise TypedError(
            code="negative_error", message="Type errors of at least zero and a scale above zero."
        )
    scaled = Fraction(0) if pixels_per_mm is None else Fraction(landmark) * Fraction(pixels_per_mm)
    return hypot(float(tap), float(scaled))


def line_error(*, start: Point, end: Point, error: float) -> float:
    """Standard error in degrees of the slope of a line through two points that are each off.

    First-order propagation: root two times the error of a point over the length of the line.
    ``error`` is in the unit of the points. Raises ``TypedError`` where the points are the same.

    >>> origin, front = (Decimal(0), Decimal(0)), (Decimal(240), Decimal(0))
    >>> round(line_error(start=origin, end=front, error=5.0), 1)
    1.7
    """
    return degrees(sqrt(2) * error / _length(start, end))


def pelvic_drop_error(
    *,
    stance: Point,
    swing: Point,
    error: float,
    level_line: tuple[Point, Point] | None = None,
    level_error: float = 0.0,
) -> float:
    """Standard error of a pelvic drop in degrees, with that of the level line where there is one.

    ``error`` belongs to the pelvis points, ``level_error`` to those of the line (a tap alone: a
    line on a wall is seen, not felt). Raises ``TypedError`` where two points are the same.

    >>> left, right = (Decimal(0), Decimal(0)), (Decimal(100), Decimal(0))
    >>> round(pelvic_drop_error(stance=left, swing=right, error=5.0), 2)
    4.05
    """
    pelvis = line_error(start=stance, end=swing, error=error)
    if level_line is None:
        return pelvis
    return hypot(pelvis, line_error(start=level_line[0], end=level_line[1], error=level_error))


def knee_projection_error(*, thigh: Point, knee: Point, ankle: Point, error: float) -> float:
    """Standard error of a knee projection angle in degrees when each of three points is off.

    First-order propagation for errors alike in every direction: with the lengths a and b and the
    angle t itself, error x sqrt(2/a^2 + 2/b^2 + 2 cos(t) / (a b)); the knee point moves both
    lines. Raises ``TypedError`` where two points are the same.

    >>> hip, knee, foot = ((Decimal(0), Decimal(y)) for y in (0, 400, 800))
    >>> round(knee_projection_error(thigh=hip, knee=knee, ankle=foot, error=4.0), 2)
    1.4
    """
    a, b = _length(thigh, knee), _length(knee, ankle)
    along = sum((knee[i] - thigh[i]) * (ankle[i] - knee[i]) for i in (0, 1))
    cosine = float(along) / (a * b)
    return degrees(error * sqrt(2 / a**2 + 2 / b**2 + 2 * cosine / (a * b)))


def _length(start: Point, end: Point) -> float:
    length = hypot(float(end[0] - start[0]), float(end[1] - start[1]))
    if not length:
        raise TypedError(code="points", message="Mark two different points.")
    return length
