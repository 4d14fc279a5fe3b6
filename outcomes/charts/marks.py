"""The marks of the two limbs: shape and colour together, so that neither carries it alone."""

from typing import Literal

from outcomes.charts.svg import Number, drawing, tag
from outcomes.charts.tokens import COLOUR

LimbMark = Literal["involved", "other", "both_operated"]
"""``involved``: operated or injured, a filled vermillion circle. ``other``: the other side, a
hollow blue square. ``both_operated``: a limb that was operated as well and is no fair reference,
a vermillion ring with a dot."""

MARK_BOX = 18


def limb_shape(*, mark: LimbMark, x: Number, y: Number, radius: Number = 6) -> str:
    """Return the shape of ``mark`` centred on (x, y), for use inside a drawing."""
    if mark == "involved":
        return tag("circle", cx=x, cy=y, r=radius, fill=COLOUR["involved"])
    if mark == "both_operated":
        ring = tag(
            "circle", cx=x, cy=y, r=float(radius) - 1, fill=COLOUR["page"],
            stroke=COLOUR["involved"], stroke_width=2,
        )  # fmt: skip
        return ring + tag("circle", cx=x, cy=y, r=float(radius) / 3, fill=COLOUR["involved"])
    half = float(radius) * 0.85
    return tag(
        "rect", x=float(x) - half, y=float(y) - half, width=2 * half, height=2 * half,
        fill=COLOUR["page"], stroke=COLOUR["other"], stroke_width=2,
    )  # fmt: skip


def limb_mark(*, mark: LimbMark, title: str) -> str:
    """Return the mark alone, to stand beside the words that name the limb."""
    middle = MARK_BOX / 2
    return drawing(
        title=title,
        width=MARK_BOX,
        height=MARK_BOX,
        children=[limb_shape(mark=mark, x=middle, y=middle, radius=7)],
        beside_words=True,
    )
