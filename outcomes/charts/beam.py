"""The beam: symmetry of a pair as a beam on a pivot that tips toward the limb that lags."""

import math
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from outcomes.charts.marks import LimbMark, limb_shape
from outcomes.charts.svg import drawing, stroke, tag
from outcomes.charts.tokens import COLOUR

WIDTH: Final = 160
HEIGHT: Final = 64
PIVOT: Final = (80.0, 32.0)
ARM: Final = 62.0
REACH: Final = 76.0
"""How far the line for even and the wedge of error go, past the marks."""
STEEPEST: Final = 20.0
"""Degrees of the beam at full tilt."""
FULL_LAG: Final = 50.0
"""Points of symmetry index away from 100 at which the beam is at full tilt (our own choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Beam:
    """What one beam shows; give ``lsi`` or ``tilt``, exactly one of them.

    left_mark, right_mark: the marks of the patient's left and right limb; the left limb is drawn
        on the left, always.
    lsi: limb symmetry index in percent, involved over other (or inverted by the measure, so that
        below 100 always means that the involved limb lags). Needs exactly one involved limb.
    tilt: for differences of angles or grades, -1 (the left limb lags fully) to 1 (the right one).
    error: measurement error as half-width, in points of the index or in units of tilt; None when
        it is not known, and then no wedge is drawn.
    title: the finding in words, for example "LSI 78 %, right side lags".
    """

    left_mark: LimbMark
    right_mark: LimbMark
    title: str
    lsi: Decimal | None = None
    tilt: Decimal | float | None = None
    error: Decimal | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be drawn honestly: ValueError with the reason."""
        if (self.lsi is None) == (self.tilt is None):
            raise ValueError("A beam takes an index or a tilt, exactly one of them.")
        if self.lsi is not None and (self.left_mark == "involved") == (
            self.right_mark == "involved"
        ):
            raise ValueError("An index needs one involved limb and one other limb.")
        if self.tilt is not None and not -1 <= self.tilt <= 1:
            raise ValueError("A tilt lies between -1 and 1.")
        if self.error is not None and self.error < 0:
            raise ValueError("A measurement error is not negative.")


def tilt_of_index(*, lsi: float) -> float:
    """Return how far the involved limb lags, -1 to 1, for a symmetry index in percent.

    Level at 100, even steps in between, full from 50 points away.
    Example: ``tilt_of_index(lsi=100)`` is 0.0 and ``tilt_of_index(lsi=75)`` is 0.5.
    """
    return max(-1.0, min(1.0, (100.0 - lsi) / FULL_LAG))


def tilts(*, beam: Beam) -> tuple[float, float, float]:
    """Return the tilt and its two ends under measurement error, -1 (left lags) to 1 (right)."""
    error = float(beam.error or 0)
    if beam.lsi is None:
        tilt = float(beam.tilt or 0)
        return tilt, max(-1.0, tilt - error), min(1.0, tilt + error)
    side = 1 if beam.right_mark == "involved" else -1
    middle, end, start = (
        side * tilt_of_index(lsi=float(beam.lsi) + step) for step in (0.0, -error, error)
    )
    return middle, min(start, end), max(start, end)


def arm_end(*, tilt: float, reach: float) -> tuple[float, float]:
    """Return the point ``reach`` along the arm from the pivot (negative: the left arm)."""
    angle = math.radians(STEEPEST * tilt)
    return PIVOT[0] + reach * math.cos(angle), PIVOT[1] + reach * math.sin(angle)


def beam_parts(*, beam: Beam) -> list[str]:
    """Return the elements of the beam, in its own 160 by 64 box, for use inside a drawing."""
    tilt, low, high = tilts(beam=beam)
    left, right = arm_end(tilt=tilt, reach=-ARM), arm_end(tilt=tilt, reach=ARM)
    parts = [wedge(low=low, high=high)] if beam.error else []
    return [
        *parts,
        stroke(x1=PIVOT[0] - REACH, y1=PIVOT[1], x2=PIVOT[0] + REACH, y2=PIVOT[1],
               colour="edge", width=1.25, dash="1.5 4", cap="round"),
        tag("path", d=f"M{PIVOT[0]:.0f} {PIVOT[1]:.0f}l7 24h-14z", fill=COLOUR["page"],
            stroke=COLOUR["ink"], stroke_width=1.25, stroke_linejoin="round"),
        stroke(x1=PIVOT[0] - 20, y1=PIVOT[1] + 24, x2=PIVOT[0] + 20, y2=PIVOT[1] + 24, width=1.25,
               cap="round"),
        stroke(x1=left[0], y1=left[1], x2=right[0], y2=right[1], width=2.5, cap="round"),
        limb_shape(mark=beam.left_mark, x=left[0], y=left[1], radius=7),
        limb_shape(mark=beam.right_mark, x=right[0], y=right[1], radius=7),
    ]  # fmt: skip


def wedge(*, low: float, high: float) -> str:
    """Return the pale double wedge between two tilts."""
    ends = [
        arm_end(tilt=tilt, reach=reach)
        for tilt, reach in ((low, -REACH), (high, -REACH), (low, REACH), (high, REACH))
    ]
    a, b, c, e = (f"{x:.2f} {y:.2f}" for x, y in ends)
    centre = f"{PIVOT[0]:.0f} {PIVOT[1]:.0f}"
    d = f"M{centre}L{a}L{b}zM{centre}L{c}L{e}z"
    return tag("path", d=d, fill=COLOUR["wedge"])


def draw_beam(*, beam: Beam, beside_words: bool = False) -> str:
    """Return the beam as SVG. Not assessable has no beam: the reason stands in words instead."""
    return drawing(
        title=beam.title,
        width=WIDTH,
        height=HEIGHT,
        children=beam_parts(beam=beam),
        beside_words=beside_words,
    )
