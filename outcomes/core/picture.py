"""What one picture says: the angle of the pelvis, how far it may be off, the grades it leaves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final

from outcomes.core.angles import MEDIAL, Point, knee_projection_angle, pelvic_drop
from outcomes.core.grades import PELVIS, grade_from_picture, pelvis_grade
from outcomes.core.kinds import Limb, View
from outcomes.core.picture_errors import (
    LANDMARK_MM,
    knee_projection_error,
    pelvic_drop_error,
    point_error,
)
from outcomes.core.quantities import TypedError

APART_MM: Final[Mapping[View, Decimal]] = {View.FRONT: Decimal(240), View.BACK: Decimal(100)}
"""How far apart the two pelvis points are taken to be where nobody measured it (house setting)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Marked:
    """The points that were marked on one picture, in pixels with y running down.

    ``limb`` is the one that is stood on; ``leg`` are its hip (or middle of the thigh), knee and
    ankle; ``level_line`` are two points of something that is level.
    """

    limb: Limb
    view: View
    stance: Point
    swing: Point
    level_line: tuple[Point, Point] | None = None
    leg: tuple[Point, Point, Point] | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class PictureAngle:
    """Degrees with one standard error. ``grades`` are all that the angle minus and plus it touch.

    ``proposed`` is the grade where there is one only. ``knee`` is positive where it points inward.
    """

    degrees: float
    error: float
    grades: tuple[str, ...]
    proposed: str | None
    knee: float | None = None
    knee_error: float | None = None


def picture_angle(
    *,
    marked: Marked,
    apart: Decimal | None = None,
    tap: Decimal = Decimal(0),
    landmark: Decimal = LANDMARK_MM,
) -> PictureAngle:
    """The pelvic drop of a picture, and the knee's angle where the leg is marked.

    ``apart`` is the distance of the pelvis points in mm, ``APART_MM`` of the view where it is not
    known: it gives the picture its scale. ``tap`` is the standard error of a tap in pixels,
    ``landmark`` that of a point under the skin in mm. A level line is seen, not felt: its points
    are off by the tap alone. Raises ``TypedError`` where points contradict each other, the view or
    the standing limb. Source: geometry; the assumed distances are settings of this house.

    >>> right = Marked(
    ...     limb=Limb.RIGHT,
    ...     view=View.FRONT,
    ...     stance=(Decimal(400), Decimal(300)),
    ...     swing=(Decimal(640), Decimal(332)),
    ... )
    >>> found = picture_angle(marked=right)
    >>> round(found.degrees, 1), round(found.error, 1), found.proposed
    (7.6, 1.7, 'moderate')
    """
    _refuse_swapped(marked=marked)
    one = {"stance": marked.stance, "swing": marked.swing}
    degrees = pelvic_drop(**one, level_line=marked.level_line)
    error = point_error(
        tap=tap, pixels_per_mm=_scale(marked=marked, apart=apart), landmark=landmark
    )
    off = pelvic_drop_error(
        **one, error=error, level_line=marked.level_line, level_error=float(tap)
    )
    return PictureAngle(
        degrees=degrees,
        error=off,
        grades=_grades(degrees=degrees, error=off),
        proposed=grade_from_picture(degrees=degrees, error=off),
        knee=_knee(marked=marked),
        knee_error=_knee_error(marked=marked, error=error),
    )


def _refuse_swapped(*, marked: Marked) -> None:
    """The picture must show the two sides where the view and the standing limb put them."""
    across = marked.swing[0] - marked.stance[0]
    if marked.limb is Limb.NONE or across * MEDIAL[marked.view, marked.limb] <= 0:
        seen = "in front" if marked.view is View.FRONT else "behind"
        side = "right" if marked.view is View.FRONT else "left"
        raise TypedError(
            code="swapped",
            message=f"Seen from {seen}, the patient's left side is on the {side} of the picture. "
            "Swap the two pelvis points, or change the view. A mirrored picture cannot be used.",
        )
    if marked.leg and _apart(marked.leg[0], marked.stance) >= _apart(marked.leg[0], marked.swing):
        raise TypedError(
            code="other_leg",
            message=f"The hip lies on the free side. Mark the leg that is stood on, the "
            f"{marked.limb} one. A mirrored picture cannot be used.",
        )


def _scale(*, marked: Marked, apart: Decimal | None) -> Decimal:
    """Pixels in a millimetre."""
    known = APART_MM[marked.view] if apart is None else apart
    if known <= 0:
        raise TypedError(code="apart", message="Type a distance above zero.")
    return Decimal(_apart(marked.stance, marked.swing)).sqrt() / known


def _apart(one: Point, other: Point) -> Decimal:
    """The square of the distance of two points."""
    return (one[0] - other[0]) ** 2 + (one[1] - other[1]) ** 2


def _grades(*, degrees: float, error: float) -> tuple[str, ...]:
    low, high = (
        PELVIS.index(pelvis_grade(degrees=Fraction(degrees) + sign * Fraction(error)))
        for sign in (-1, 1)
    )
    return PELVIS[low : high + 1]


def _knee(*, marked: Marked) -> float | None:
    if marked.leg is None:
        return None
    thigh, knee, ankle = marked.leg
    return knee_projection_angle(
        thigh=thigh, knee=knee, ankle=ankle, limb=marked.limb, view=marked.view
    )


def _knee_error(*, marked: Marked, error: float) -> float | None:
    if marked.leg is None:
        return None
    thigh, knee, ankle = marked.leg
    return knee_projection_error(thigh=thigh, knee=knee, ankle=ankle, error=error)
