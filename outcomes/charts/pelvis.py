"""The pelvis standing on one leg, as a schematic line that drops toward the free side.

The tilt is drawn larger than it is, so that neighbouring grades can be told apart at a glance.
"""

import math
from dataclasses import dataclass
from typing import Final, Literal

from outcomes.charts.svg import drawing, stroke, tag
from outcomes.charts.tokens import COLOUR

Grade = Literal["level", "slight", "moderate", "marked"]
Side = Literal["left", "right"]
View = Literal["behind", "front"]

WIDTH: Final = 72
HEIGHT: Final = 72
HIP_HEIGHT: Final = 32.0
HEAD: Final = (7.0, 4.5)
"""Height and radius of the head."""
HALF: Final = 18.0
"""Half the distance between the two ends of the pelvis line."""
DROP: Final[dict[Grade, float]] = {"level": 0.0, "slight": 6.0, "moderate": 13.0, "marked": 22.0}
"""Degrees drawn for each grade: a sign, not the measured angle."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pelvis:
    """One grade of pelvic drop standing on one leg.

    standing: the patient's leg on the ground; the other end of the pelvis is the free side.
    view: from ``behind`` the patient's left is on the left, from the ``front`` on the right. The
        columns of the ledger never swap, only the drawing inside them does.
    title: the finding, for example "Standing on the right, the left side of the pelvis drops."
    """

    grade: Grade
    standing: Side
    title: str
    view: View = "behind"


def hips(*, pelvis: Pelvis) -> tuple[float, tuple[float, float]]:
    """Return where the standing hip is across the drawing, and the point of the free hip."""
    on_right = (pelvis.standing == "right") == (pelvis.view == "behind")
    out = 1 if on_right else -1
    angle = math.radians(DROP[pelvis.grade])
    standing = WIDTH / 2 + out * HALF
    across, down = 2 * HALF * math.cos(angle), 2 * HALF * math.sin(angle)
    return standing, (standing - out * across, HIP_HEIGHT + down)


def draw_pelvis(*, pelvis: Pelvis, beside_words: bool = False) -> str:
    """Return the schematic person on one leg as SVG; only the pelvis line and its leg are bold."""
    standing, (free_x, free_y) = hips(pelvis=pelvis)
    floor, middle = HEIGHT - 3, ((standing + free_x) / 2, (HIP_HEIGHT + free_y) / 2)
    inward = 4 if standing > free_x else -4
    children = [
        stroke(x1=4, y1=HIP_HEIGHT, x2=WIDTH - 4, y2=HIP_HEIGHT, colour="edge", width=1.25,
               dash="1.5 4", cap="round"),
        tag("circle", cx=middle[0], cy=HEAD[0], r=HEAD[1], fill="none", stroke=COLOUR["edge"],
            stroke_width=1.75),
        stroke(x1=middle[0], y1=HEAD[0] + HEAD[1], x2=middle[0], y2=middle[1], colour="edge",
               width=1.75, cap="round"),
        tag("path", d=f"M{free_x:.2f} {free_y:.2f}l{inward} 14l{-inward / 2:.0f} 6", fill="none",
            stroke=COLOUR["edge"], stroke_width=1.75, stroke_linecap="round",
            stroke_linejoin="round"),
        stroke(x1=standing, y1=HIP_HEIGHT, x2=standing, y2=floor, width=2.5, cap="round"),
        stroke(x1=standing - 9, y1=floor, x2=standing + 9, y2=floor, width=1.5, cap="round"),
        stroke(x1=standing, y1=HIP_HEIGHT, x2=free_x, y2=free_y, width=5, cap="round"),
    ]  # fmt: skip
    return drawing(
        title=pelvis.title,
        width=WIDTH,
        height=HEIGHT,
        children=children,
        beside_words=beside_words,
    )
