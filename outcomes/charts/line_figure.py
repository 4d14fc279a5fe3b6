"""A schematic person standing on one leg, with the pelvis line at its true angle.

Nothing is exaggerated and no level line is drawn: the drop is to be read by eye. The title says
which leg is stood on and from where it is seen, never the drop.
"""

import math
from dataclasses import dataclass
from decimal import Decimal
from typing import Final, Literal

from outcomes.charts.svg import drawing, stroke, tag
from outcomes.charts.tokens import COLOUR

Side = Literal["left", "right"]
View = Literal["behind", "front"]
Spot = tuple[float, float]

WIDTH: Final = 160
HEIGHT: Final = 232
FLOOR: Final = 222.0
HIP: Final = 124.0
"""Height of the standing hip, down from the top."""
HALF: Final = 24.0
"""Half the distance between the two ends of the pelvis line, of a usual build."""
TRUNK: Final = 66.0
SHOULDERS: Final = 27.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFigure:
    """One figure of the warm-up.

    drop: degrees by which the free end of the pelvis line hangs lower.
    standing: the patient's leg on the ground. view: from ``behind`` the patient's left is on the
    left, from the ``front`` on the right. lean: degrees of the trunk toward the standing leg.
    build: breadth in per cent.
    """

    drop: Decimal
    standing: Side
    view: View
    title: str
    lean: int = 0
    build: int = 100


def pelvis(*, figure: LineFigure) -> tuple[Spot, Spot]:
    """Return the standing end and the free end of the pelvis line."""
    out, half = _out(figure), HALF * figure.build / 100
    angle = math.radians(float(figure.drop))
    standing = (WIDTH / 2 + out * half * 0.7, HIP)
    across, down = 2 * half * math.cos(angle), 2 * half * math.sin(angle)
    return standing, (standing[0] - out * across, standing[1] + down)


def draw_line_figure(*, figure: LineFigure) -> str:
    """Return the person as SVG; the pelvis line and its two ends are bold."""
    stance, free = pelvis(figure=figure)
    return drawing(
        title=figure.title,
        width=WIDTH,
        height=HEIGHT,
        children=[
            *_trunk(figure, stance, free),
            *_legs(figure, stance, free),
            stroke(x1=stance[0], y1=stance[1], x2=free[0], y2=free[1], width=4, cap="round"),
            *(tag("circle", cx=x, cy=y, r=4.5, fill=COLOUR["ink"]) for x, y in (stance, free)),
        ],
    )


def _out(figure: LineFigure) -> int:
    """1 where the standing leg is on the right of the drawing, else -1."""
    return 1 if (figure.standing == "right") == (figure.view == "behind") else -1


def _trunk(figure: LineFigure, stance: Spot, free: Spot) -> list[str]:
    """Sides, shoulders, arms and head, leaning as one; from behind a line for the spine."""
    out, tilt = _out(figure), math.radians(figure.lean)
    middle = ((stance[0] + free[0]) / 2, (stance[1] + free[1]) / 2)
    up = (out * math.sin(tilt), -math.cos(tilt))
    across = (math.cos(tilt), out * math.sin(tilt))
    half = SHOULDERS * figure.build / 100
    top = (middle[0] + TRUNK * up[0], middle[1] + TRUNK * up[1])
    head = (top[0] + 20 * up[0], top[1] + 20 * up[1])
    right, left = (
        (top[0] + side * half * across[0], top[1] + side * half * across[1]) for side in (1, -1)
    )
    hips = sorted((stance, free), reverse=True)
    outline = _path(
        f"M{_at(hips[0])}L{_at(right)}L{_at(left)}L{_at(hips[1])}"
        f"M{_at(right)}l9 34l-4 30M{_at(left)}l-9 34l4 30"
    )
    face = tag(
        "circle", cx=head[0], cy=head[1], r=11, stroke=COLOUR["soft"], stroke_width=2,
        fill=COLOUR["edge"] if figure.view == "behind" else "none",
    )  # fmt: skip
    spine = _path(f"M{_at(top)}L{_at(middle)}", dash="2 5") if figure.view == "behind" else ""
    return [face, outline, spine]


def _legs(figure: LineFigure, stance: Spot, free: Spot) -> list[str]:
    """The standing leg to the floor, the free one bent; from the front with kneecaps."""
    out = _out(figure)
    foot = (stance[0] - out * 8, FLOOR)
    knee = ((stance[0] + foot[0]) / 2 - out * 2, (HIP + FLOOR) / 2)
    free_knee = (free[0] + out * 6, free[1] + 46)
    legs = _path(
        f"M{_at(stance)}L{_at(knee)}L{_at(foot)}M{_at(free)}L{_at(free_knee)}l{-out * 4} 26"
    )
    ground = stroke(x1=12, y1=FLOOR + 5, x2=WIDTH - 12, y2=FLOOR + 5, colour="edge", width=2)
    shoe = stroke(x1=foot[0] - 9, y1=FLOOR + 2, x2=foot[0] + 9, y2=FLOOR + 2, colour="soft",
                  width=4, cap="round")  # fmt: skip
    caps = [
        tag("circle", cx=x, cy=y, r=4, fill=COLOUR["page"], stroke=COLOUR["soft"], stroke_width=1.5)
        for x, y in (knee, free_knee)
    ]
    return [ground, legs, shoe, *(caps if figure.view == "front" else [])]


def _path(d: str, *, dash: str | None = None) -> str:
    return tag(
        "path", d=d, fill="none", stroke=COLOUR["soft"], stroke_width=2, stroke_linecap="round",
        stroke_linejoin="round", stroke_dasharray=dash,
    )  # fmt: skip


def _at(spot: Spot) -> str:
    return f"{spot[0]:.2f} {spot[1]:.2f}"
