"""Threshold marks: where a value ended against an upright line. A word always stands beside one."""

from typing import Final

from outcomes.charts.svg import drawing, stroke
from outcomes.core.values import Result

WIDTH: Final = 48
HEIGHT: Final = 24
LINE: Final = 32
"""Where the upright line stands."""

BAR_ENDS: Final[dict[Result, int]] = {
    Result.MET: 46,
    Result.MET_BORDERLINE: 37,
    Result.NOT_MET_BORDERLINE: 27,
    Result.NOT_MET: 14,
}
"""Where the bar ends: past the line, just past it, just short of it, short of it."""


def threshold_parts(*, result: Result) -> list[str]:
    """Return the elements of a mark, in its own 48 by 24 box."""
    middle = HEIGHT / 2
    upright = stroke(x1=LINE, y1=2, x2=LINE, y2=HEIGHT - 2, width=2)
    if result in BAR_ENDS:
        bar = stroke(x1=2, y1=middle, x2=BAR_ENDS[result], y2=middle, width=6)
        return [bar, upright]
    if result is Result.OUT_OF_DATE:
        bar = stroke(x1=2, y1=middle, x2=LINE - 3, y2=middle, width=6, dash="4 3.5")
        return [bar, upright]
    if result is Result.NOT_ASSESSABLE:
        return [
            upright,
            stroke(x1=LINE - 6, y1=middle - 6, x2=LINE + 6, y2=middle + 6, width=2),
            stroke(x1=LINE - 6, y1=middle + 6, x2=LINE + 6, y2=middle - 6, width=2),
        ]
    return [upright]


def draw_threshold(*, result: Result, title: str, beside_words: bool = True) -> str:
    """Return the mark of one result as SVG; ``title`` is the result in words."""
    return drawing(
        title=title,
        width=WIDTH,
        height=HEIGHT,
        children=threshold_parts(result=result),
        beside_words=beside_words,
    )
