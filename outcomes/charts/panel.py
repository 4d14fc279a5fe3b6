"""One panel of a chart: its scale, grid, lines, bands of error, and labels in the right margin."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from outcomes.charts.marks import LimbMark, limb_shape
from outcomes.charts.scale import Scale, Tick, room, spread
from outcomes.charts.svg import shorten, stroke, tag, text_width, words, words_on_page, wrap
from outcomes.charts.tokens import COLOUR
from outcomes.charts.trend_data import ThresholdLine, TrendPoint, TrendSeries, position

TICK_SIZE: Final = 14
LABEL_SIZE: Final = 15
LINE_HEIGHT: Final = 18
INDENT: Final = 22
"""Room for the mark in front of a label."""

LINE_COLOUR: Final[dict[LimbMark | None, str]] = {
    "involved": "involved", "both_operated": "involved", "other": "other", None: "ink",
}  # fmt: skip
LINE_DASH: Final[dict[LimbMark | None, str | None]] = {
    "involved": None, "both_operated": "2 3", "other": "7 4", None: None,
}  # fmt: skip
BAND: Final[dict[LimbMark | None, str]] = {
    "involved": "involved-band", "both_operated": "involved-band", "other": "other-band",
    None: "wedge",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """Words in the right margin: lines, the place they belong to, and the mark before them."""

    lines: tuple[str, ...]
    wanted: float
    mark: Callable[[float, float], str]
    bold: bool = False

    @property
    def height(self) -> float:
        """Height of the block of lines."""
        return LINE_HEIGHT * len(self.lines)


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """Everything needed to draw one panel; ``x`` is shared by the panels of a chart."""

    series: tuple[TrendSeries, ...]
    thresholds: tuple[ThresholdLine, ...]
    ticks: Sequence[Tick]
    caption: str
    x: Scale
    y: Scale
    right: float


def point_mark(*, mark: LimbMark | None, x: float, y: float) -> str:
    """Return the mark of one point: the limb's shape, or a diamond in ink for symmetry."""
    if mark is not None:
        return limb_shape(mark=mark, x=x, y=y, radius=5.5)
    return tag("path", d=f"M{x:.2f} {y - 6:.2f}l6 6l-6 6l-6 -6z", fill=COLOUR["ink"])


def segments(*, points: Sequence[TrendPoint]) -> Iterator[list[TrendPoint]]:
    """Yield the runs of measured points: a point without a value splits the line."""
    run: list[TrendPoint] = []
    for point in points:
        if point.value is not None:
            run.append(point)
        elif run:
            yield run
            run = []
    if run:
        yield run


def placed(*, panel: Panel, point: TrendPoint, shift: float = 0) -> tuple[float, float]:
    """Return where a measured point lies, moved by ``shift`` times its error."""
    value = float(point.value or 0) + shift * float(point.error or 0)
    return panel.x.at(position(point.at)), panel.y.at(value)


def band(*, panel: Panel, series: TrendSeries) -> str:
    """Return the pale bands of measurement error; nothing where an error is not known."""
    shapes = []
    for run in segments(points=series.points):
        if any(point.error is None for point in run):
            continue
        upper = [placed(panel=panel, point=point, shift=1) for point in run]
        lower = [placed(panel=panel, point=point, shift=-1) for point in reversed(run)]
        if len(run) == 1:
            (x, top), (_, bottom) = upper[0], lower[0]
            upper, lower = [(x - 5, top), (x + 5, top)], [(x + 5, bottom), (x - 5, bottom)]
        outline = " ".join(f"{x:.2f},{y:.2f}" for x, y in (*upper, *lower))
        shapes.append(tag("polygon", points=outline, fill=COLOUR[BAND[series.mark]]))
    return "".join(shapes)


def curve(*, panel: Panel, series: TrendSeries) -> str:
    """Return the line of a series, split at its gaps, and a mark on each measured point."""
    shapes = []
    for run in segments(points=series.points):
        places = [placed(panel=panel, point=point) for point in run]
        if len(run) > 1:
            shapes.append(tag(
                "polyline", points=" ".join(f"{x:.2f},{y:.2f}" for x, y in places), fill="none",
                stroke=COLOUR[LINE_COLOUR[series.mark]], stroke_width=2.25,
                stroke_dasharray=LINE_DASH[series.mark], stroke_linejoin="round",
            ))  # fmt: skip
        shapes += [point_mark(mark=series.mark, x=x, y=y) for x, y in places]
    return "".join(shapes)


def grid(*, panel: Panel) -> list[str]:
    """Return grid lines with their words, and the caption above the panel."""
    left, right = panel.x.start, panel.x.end
    top = min(panel.y.start, panel.y.end)
    caption = shorten(panel.caption, size=TICK_SIZE, width=panel.right - left)
    parts = [words_on_page(caption, x=left, y=top - 12, size=TICK_SIZE, colour="soft")]
    for tick in panel.ticks:
        y = panel.y.at(tick.value)
        parts.append(stroke(x1=left, y1=y, x2=right, y2=y, colour="grid", width=1))
        parts.append(words(tick.label, x=left - 10, y=y + 5, size=TICK_SIZE, colour="soft",
                           anchor="end"))  # fmt: skip
    return parts


def threshold_lines(*, panel: Panel) -> list[str]:
    """Return the level lines of the thresholds."""
    return [
        stroke(x1=panel.x.start, y1=y, x2=panel.x.end, y2=y, width=1.5, dash="8 4")
        for y in (panel.y.at(float(line.value)) for line in panel.thresholds)
    ]


def labels(*, panel: Panel) -> list[Label]:
    """Return what stands in the right margin: each series with its last value, each threshold."""
    width = panel.right - panel.x.end - 12 - INDENT
    made = []
    for series in panel.series:
        measured = [point for point in series.points if point.value is not None]
        last = measured[-1] if measured else None
        text = f"{series.name}: {last.shown if last else 'not tested'}"
        made.append(Label(
            lines=tuple(wrap(text, size=LABEL_SIZE, width=width)),
            wanted=placed(panel=panel, point=last)[1] if last else panel.y.start,
            mark=lambda x, y, mark=series.mark: point_mark(mark=mark, x=x, y=y),  # type: ignore[misc]
            bold=True,
        ))  # fmt: skip
    for line in panel.thresholds:
        made.append(Label(
            lines=tuple(wrap(line.label, size=LABEL_SIZE, width=width)),
            wanted=panel.y.at(float(line.value)),
            mark=lambda x, y: stroke(x1=x - 7, y1=y, x2=x + 7, y2=y, width=1.5, dash="5 3"),
        ))  # fmt: skip
    return made


def label_room(*, panel: Panel) -> float:
    """Return the least height of the panel in which its labels keep apart."""
    return room(heights=[label.height for label in labels(panel=panel)])


def draw_labels(*, panel: Panel) -> list[str]:
    """Return the labels of the right margin, near their lines and apart from each other."""
    made = labels(panel=panel)
    heights = [label.height for label in made]
    top, bottom = sorted((panel.y.start, panel.y.end))
    tops = spread(
        wanted=[label.wanted - LINE_HEIGHT / 2 for label in made], heights=heights,
        start=top - LINE_HEIGHT / 2, end=bottom + LINE_HEIGHT / 2,
    )  # fmt: skip
    left, parts = panel.x.end + 12, []
    for label, start in zip(made, tops, strict=True):
        parts.append(label.mark(left + 8, start + LINE_HEIGHT / 2))
        parts += [
            words(line, x=left + INDENT, y=start + 14 + LINE_HEIGHT * n, size=LABEL_SIZE,
                  bold=label.bold)
            for n, line in enumerate(label.lines)
        ]  # fmt: skip
    return parts


def draw_panel(*, panel: Panel) -> list[str]:
    """Return all elements of one panel, errors behind lines behind marks."""
    return [
        *grid(panel=panel),
        *(band(panel=panel, series=series) for series in panel.series),
        *threshold_lines(panel=panel),
        *(curve(panel=panel, series=series) for series in panel.series),
        *draw_labels(panel=panel),
    ]


def tick_room(*, ticks: Sequence[Tick]) -> float:
    """Return the width the words of an axis need."""
    return max((text_width(tick.label, size=TICK_SIZE) for tick in ticks), default=0) + 14
