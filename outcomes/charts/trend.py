"""The trend of one measure as SVG: both limbs above, symmetry below, on one line of time."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from outcomes.charts.panel import (
    LINE_HEIGHT,
    TICK_SIZE,
    Panel,
    draw_panel,
    label_room,
    tick_room,
)
from outcomes.charts.scale import Scale, Tick, grade_ticks, month_ticks, value_ticks, week_ticks
from outcomes.charts.svg import drawing, shorten, stroke, tag, text_width, words, words_on_page
from outcomes.charts.tokens import COLOUR
from outcomes.charts.trend_data import EventMark, Trend, position
from outcomes.charts.trend_data import Panel as PanelName

WIDTH: Final = 640
MARGIN: Final = 4
RIGHT_MARGIN: Final = 176
"""Room for the labels at the ends of the lines."""
PANEL_HEIGHT: Final[dict[PanelName, float]] = {"limbs": 150.0, "symmetry": 130.0}
LEFT_MARGIN: Final = 42
"""Least room before the line of time: half the words of a date."""
AXIS_WORDS: Final = 110
CAPTION_HEIGHT: Final = 34
LANE: Final = 22
"""Height of one row of event labels."""


def extent(*, trend: Trend, panel: PanelName) -> tuple[float | None, float | None]:
    """Return the lowest and highest value of a panel, errors and thresholds included, or None."""
    values = [float(line.value) for line in trend.thresholds if line.panel == panel]
    for series in trend.panel(panel=panel):
        for point in series.points:
            if point.value is not None:
                error = float(point.error or 0)
                values += [float(point.value) - error, float(point.value) + error]
    return min(values, default=None), max(values, default=None)


def axis(*, trend: Trend, panel: PanelName) -> tuple[list[Tick], float, float]:
    """Return the ticks of a panel and the ends of its scale."""
    low, high = extent(trend=trend, panel=panel)
    if panel == "limbs" and trend.grade_words:
        ticks = grade_ticks(
            names=[shorten(word, size=TICK_SIZE, width=AXIS_WORDS) for word in trend.grade_words]
        )
        return ticks, min(low or 0, -0.25), max(high or 0, len(ticks) - 0.75)
    if low is None or high is None:
        return [], 0.0, 1.0
    ticks = value_ticks(low=low, high=high)
    return ticks, ticks[0].value, ticks[-1].value


def time_extent(*, trend: Trend) -> tuple[float, float]:
    """Return the first and last place in time with a little room; a single place gets more."""
    places = [position(when) for when in trend.places()]
    low, high = min(places), max(places)
    around = (high - low) * 0.03 or (7.0 if trend.by_date() else 1.0)
    return low - around, high + around


def time_ticks(*, trend: Trend, x: Scale) -> list[Tick]:
    """Return as many ticks as there is room for, weeks or months."""
    if trend.by_date():
        return month_ticks(low=x.low, high=x.high, count=int((x.end - x.start) / 100))
    return week_ticks(low=x.low, high=x.high, count=int((x.end - x.start) / 50))


def panel_names(*, trend: Trend) -> list[PanelName]:
    """Return the panels that have a series."""
    return [name for name in PANEL_HEIGHT if trend.panel(panel=name)]


def time_scale(*, trend: Trend) -> Scale:
    """Return the line of time, to the right of the widest words of an axis."""
    left = max(
        LEFT_MARGIN,
        *(tick_room(ticks=axis(trend=trend, panel=name)[0]) for name in panel_names(trend=trend)),
    )
    low, high = time_extent(trend=trend)
    return Scale(low=low, high=high, start=MARGIN + left, end=WIDTH - RIGHT_MARGIN)


def panels(*, trend: Trend, x: Scale, top: float) -> list[Panel]:
    """Return the panels there are, one under the other, each as high as its labels need."""
    made: list[Panel] = []
    for name in panel_names(trend=trend):
        ticks, bottom_value, top_value = axis(trend=trend, panel=name)
        start = top + CAPTION_HEIGHT
        panel = Panel(
            series=trend.panel(panel=name),
            thresholds=tuple(line for line in trend.thresholds if line.panel == name),
            ticks=ticks, caption=trend.limbs_axis if name == "limbs" else trend.symmetry_axis,
            x=x, right=WIDTH - MARGIN,
            y=Scale(low=bottom_value, high=top_value, start=start + PANEL_HEIGHT[name], end=start),
        )  # fmt: skip
        bottom = start + max(PANEL_HEIGHT[name], label_room(panel=panel))
        made.append(replace(panel, y=replace(panel.y, start=bottom)))
        top = bottom + LINE_HEIGHT / 2
    return made


def lanes(*, events: Sequence[EventMark], x: Scale) -> list[tuple[float, float, int, str]]:
    """Return line place, start of words, row and words of each event, so that no words collide.

    An event whose line would cut through the words of an earlier one stands a row lower.
    """
    placed: list[tuple[float, float, int, str]] = []
    for event in sorted(events, key=lambda event: position(event.at)):
        line = x.at(position(event.at))
        text = shorten(event.label, size=TICK_SIZE, width=WIDTH / 2)
        width = text_width(text, size=TICK_SIZE)
        fits = line + 5 + width <= WIDTH - MARGIN
        start = line + 5 if fits else line - 5 - width
        row = 0
        for _, other_start, other_row, other_text in placed:
            if start < other_start + text_width(other_text, size=TICK_SIZE) + 8:
                row = max(row, other_row + 1)
        placed.append((line, start, row, text))
    return placed


def draw_events(*, trend: Trend, x: Scale, bottom: float) -> list[str]:
    """Return the upright lines of the events, and above the panels what happened."""
    placed = lanes(events=trend.events, x=x)
    lines = [
        stroke(x1=line, y1=MARGIN + LANE * row, x2=line, y2=bottom, colour="edge", width=1.25)
        for line, _, row, _ in placed
    ]
    labels = [
        words_on_page(text, x=start, y=MARGIN + LANE * row + 15, size=TICK_SIZE)
        for _, start, row, text in placed
    ]
    return [*lines, *labels]


def draw_time(*, trend: Trend, x: Scale, bottom: float) -> list[str]:
    """Return the line of time under the panels, and what it counts."""
    parts = [stroke(x1=x.start, y1=bottom, x2=x.end, y2=bottom, width=1.25)]
    for tick in time_ticks(trend=trend, x=x):
        place = x.at(tick.value)
        parts.append(stroke(x1=place, y1=bottom, x2=place, y2=bottom + 5, width=1.25))
        parts.append(words(tick.label, x=place, y=bottom + 20, size=TICK_SIZE, colour="soft",
                           anchor="middle"))  # fmt: skip
    caption = shorten(trend.time_axis, size=TICK_SIZE, width=x.end - x.start)
    return [*parts, words(caption, x=x.start, y=bottom + 40, size=TICK_SIZE, colour="soft")]


def draw_trend(*, trend: Trend) -> str:
    """Return the trend as SVG, 640 wide and as high as its panels and labels need."""
    x = time_scale(trend=trend)
    rows = max((row + 1 for _, _, row, _ in lanes(events=trend.events, x=x)), default=0)
    made = panels(trend=trend, x=x, top=MARGIN + LANE * rows)
    bottom = made[-1].y.start + LINE_HEIGHT / 2
    height = bottom + (48 if trend.time_axis else 28)
    children = [
        tag("rect", x=0, y=0, width=WIDTH, height=height, fill=COLOUR["page"]),
        *draw_events(trend=trend, x=x, bottom=bottom),
        *draw_time(trend=trend, x=x, bottom=bottom),
    ]
    for panel in made:
        children += draw_panel(panel=panel)
    return drawing(title=trend.title, width=WIDTH, height=height, children=children)
