"""When the pelvis drops and how it was kept level, as two small drawings beside its grade.

When: the way down to the floor and back up as one line, bold where the drop is seen. How: the
person on one leg with a level pelvis; bold is what kept it level.
"""

import math
from dataclasses import dataclass
from typing import Final, Literal, get_args

from outcomes.charts import pelvis
from outcomes.charts.pelvis import HALF, HEAD, HEIGHT, HIP_HEIGHT, WIDTH, Side, View
from outcomes.charts.svg import drawing, stroke, tag
from outcomes.charts.tokens import COLOUR

Moment = Literal["none", "only_at_depth", "on_the_way_down", "first_movement"]
Keeping = Literal["upright", "trunk_leans", "hand_used", "free_side_hitched"]
Spot = tuple[float, float]

WAY_HEIGHT: Final = 44
TOP, DEPTH = 8.0, 33.0
"""Where the way begins and ends, and its lowest place, down from the top."""
SIDE: Final = 6.0
STEPS: Final = 16
SEEN: Final[dict[Moment, tuple[float, float] | None]] = {
    "none": None,
    "only_at_depth": (0.5, 0.5),
    "on_the_way_down": (0.22, 0.5),
    "first_movement": (0.0, 0.5),
}
"""The part of the way, from 0 to 1, on which the drop is seen; the lowest place is 0.5."""

KEEPINGS: Final = get_args(Keeping)
LEAN: Final = 24.0
HITCH: Final = 14.0
"""Degrees drawn: a sign, not what was measured."""
SHOULDER: Final = 4.0
"""How far below the head the arms begin."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """The moment at which the free side drops. ``title`` is its word, "on the way down"."""

    moment: Moment
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """How the pelvis was kept level over the standing leg; turned to the ``view`` as it is."""

    by: Keeping
    standing: Side
    title: str
    view: View = "behind"


def draw_way(*, way: Way, beside_words: bool = False) -> str:
    """Return the way down and up as SVG; a dot is where the drop begins."""
    seen = SEEN[way.moment]
    mark = []
    if seen is not None:
        x, y = _at(seen[0])
        mark = [
            _line(*seen, colour="ink", width=4),
            tag("circle", cx=x, cy=y, r=5, fill=COLOUR["ink"]),
        ]
    return drawing(
        title=way.title,
        width=WIDTH,
        height=WAY_HEIGHT,
        children=[
            stroke(x1=WIDTH / 2 - 11, y1=WAY_HEIGHT - 3, x2=WIDTH / 2 + 11, y2=WAY_HEIGHT - 3),
            _line(0, 1, colour="edge", width=1.75),
            *mark,
        ],
        beside_words=beside_words,
    )


def _at(share: float) -> Spot:
    """A place on the way: across evenly, down as a wave that starts and ends at rest."""
    down = (1 - math.cos(2 * math.pi * share)) / 2
    return SIDE + share * (WIDTH - 2 * SIDE), TOP + down * (DEPTH - TOP)


def _line(start: float, end: float, *, colour: str, width: float) -> str:
    places = [_at(start + (end - start) * step / STEPS) for step in range(STEPS + 1)]
    return tag(
        "path", d="M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in places), fill="none",
        stroke=COLOUR[colour], stroke_width=width, stroke_linecap="round", stroke_linejoin="round",
    )  # fmt: skip


def draw_kept(*, kept: Kept, beside_words: bool = False) -> str:
    """Return the person on one leg as SVG: trunk, arm or free side bold, as it was kept."""
    level = pelvis.Pelvis(grade="level", standing=kept.standing, title=kept.title, view=kept.view)
    standing, (free_x, _) = pelvis.hips(pelvis=level)
    out = 1 if standing > free_x else -1
    hitched = kept.by == "free_side_hitched"
    rise = 2 * HALF * math.sin(math.radians(HITCH)) if hitched else 0.0
    return drawing(
        title=kept.title,
        width=WIDTH,
        height=HEIGHT,
        children=[
            stroke(x1=4, y1=HIP_HEIGHT, x2=WIDTH - 4, y2=HIP_HEIGHT, colour="edge", width=1.25,
                   dash="1.5 4", cap="round"),
            *_trunk(kept=kept, foot=((standing + free_x) / 2, HIP_HEIGHT - rise / 2), out=out),
            *_legs(standing=standing, free=(free_x, HIP_HEIGHT - rise), out=out),
            stroke(x1=standing, y1=HIP_HEIGHT, x2=free_x, y2=HIP_HEIGHT - rise,
                   width=5 if hitched else 2.5, cap="round"),
        ],
        beside_words=beside_words,
    )  # fmt: skip


def _trunk(*, kept: Kept, foot: Spot, out: int) -> list[str]:
    """Trunk and head over the middle of the pelvis, and the arm of a hand that was used."""
    angle = math.radians(LEAN if kept.by == "trunk_leans" else 0)
    length = foot[1] - HEAD[0]
    along = (out * math.sin(angle), -math.cos(angle))
    head = (foot[0] + length * along[0], foot[1] + length * along[1])
    neck = (head[0] - HEAD[1] * along[0], head[1] - HEAD[1] * along[1])
    bold = kept.by in ("upright", "trunk_leans")
    found = [
        tag("circle", cx=head[0], cy=head[1], r=HEAD[1], fill="none", stroke=COLOUR["edge"],
            stroke_width=1.75),
        stroke(x1=neck[0], y1=neck[1], x2=foot[0], y2=foot[1], colour="ink" if bold else "edge",
               width=5 if bold else 1.75, cap="round"),
    ]  # fmt: skip
    if kept.by == "hand_used":
        rail, shoulder = foot[0] - out * (WIDTH / 2 - 6), neck[1] + SHOULDER
        found += [
            stroke(x1=foot[0], y1=shoulder, x2=rail, y2=shoulder + 8, width=5, cap="round"),
            stroke(x1=rail, y1=shoulder - 4, x2=rail, y2=HEIGHT - 3, width=1.5, cap="round"),
        ]
    return found


def _legs(*, standing: float, free: Spot, out: int) -> list[str]:
    """The standing leg on the floor and the free one, bent."""
    floor = HEIGHT - 3
    return [
        tag("path", d=f"M{free[0]:.2f} {free[1]:.2f}l{out * 4} 14l{-out * 2} 6", fill="none",
            stroke=COLOUR["edge"], stroke_width=1.75, stroke_linecap="round",
            stroke_linejoin="round"),
        stroke(x1=standing, y1=HIP_HEIGHT, x2=standing, y2=floor, width=2.5, cap="round"),
        stroke(x1=standing - 9, y1=floor, x2=standing + 9, y2=floor, width=1.5, cap="round"),
    ]  # fmt: skip
