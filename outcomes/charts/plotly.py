"""Charts as plain dictionaries in the schema of plotly.js, for dashboards with JavaScript.

No plotly.py is needed: the dictionaries hold strings, floats and None only and go out as JSON.
"""

from collections.abc import Sequence
from datetime import date
from math import ceil, floor
from typing import Any, Final

from outcomes.charts.caseload import Caseload
from outcomes.charts.marks import LimbMark
from outcomes.charts.panel import LINE_COLOUR
from outcomes.charts.tokens import COLOUR, FONT
from outcomes.charts.trend import time_extent
from outcomes.charts.trend_data import ThresholdLine, Trend, TrendPoint, TrendSeries, When

Figure = dict[str, Any]

SYMBOL: Final[dict[LimbMark | None, str]] = {
    "involved": "circle", "both_operated": "circle-dot", "other": "square-open", None: "diamond",
}  # fmt: skip
DASH: Final[dict[LimbMark | None, str]] = {
    "involved": "solid", "both_operated": "dot", "other": "dash", None: "solid",
}  # fmt: skip

MARGIN: Final = {"l": 56, "r": 16, "t": 28, "b": 104}
NOTE_WIDTH: Final = 7
"""Pixels for a letter of a note beside a threshold."""


def place(when: When) -> str | float:
    """Return a week as a number, a date in ISO form."""
    return when.isoformat() if isinstance(when, date) else float(when)


def axis_style(*, title: str) -> Figure:
    """Return what all axes share."""
    return {
        "title": {"text": title}, "gridcolor": COLOUR["grid"], "zeroline": False,
        "linecolor": COLOUR["ink"], "tickcolor": COLOUR["ink"], "fixedrange": True,
        "automargin": True,
    }  # fmt: skip


def layout(*, title: str) -> Figure:
    """Return the layout all figures share; the page shows the title as its own heading."""
    return {
        "meta": title, "paper_bgcolor": COLOUR["page"], "plot_bgcolor": COLOUR["page"],
        "font": {"family": FONT, "size": 15, "color": COLOUR["ink"]}, "dragmode": False,
        "margin": MARGIN, "hovermode": "closest",
        "hoverlabel": {"bgcolor": COLOUR["page"], "bordercolor": COLOUR["ink"],
                       "font": {"family": FONT, "size": 15, "color": COLOUR["ink"]}},
        "legend": {"orientation": "h", "yref": "container", "y": 0, "yanchor": "bottom", "x": 0},
    }  # fmt: skip


def threshold_shapes(*, lines: Sequence[tuple[ThresholdLine, str]]) -> Figure:
    """Return shapes and notes for level lines, each with the name of its y axis.

    The notes stand right of the lines, off the points; a note's name is what a phone has room for.
    """
    shapes, notes = [], []
    for line, axis in lines:
        shapes.append({
            "type": "line", "xref": "paper", "x0": 0, "x1": 1, "yref": axis,
            "y0": float(line.value), "y1": float(line.value),
            "line": {"color": COLOUR["ink"], "width": 1.5, "dash": "dash"},
        })  # fmt: skip
        notes.append({
            "xref": "paper", "x": 1, "xanchor": "left", "yref": axis, "y": float(line.value),
            "text": line.label.replace("<", "&lt;"), "showarrow": False, "font": {"size": 13},
            "name": f"{line.value.normalize():f}",
        })  # fmt: skip
    right = max((len(line.label) * NOTE_WIDTH for line, _ in lines), default=16)
    return {"shapes": shapes, "annotations": notes, "margin": MARGIN | {"r": right}}


def error_bars(*, points: tuple[TrendPoint, ...], colour: str) -> Figure | None:
    """Return the error bars of a series, None where no error is known."""
    if all(point.error is None for point in points):
        return None
    halves = [None if point.error is None else float(point.error) for point in points]
    return {"type": "data", "array": halves, "visible": True, "thickness": 1, "width": 0,
            "color": colour}  # fmt: skip


def trace(*, series: TrendSeries, axis: str) -> Figure:
    """Return one line; a point without a value is a gap."""
    colour = COLOUR[LINE_COLOUR[series.mark]]
    values = [None if point.value is None else float(point.value) for point in series.points]
    made: Figure = {
        "type": "scatter", "mode": "lines+markers", "name": series.name, "yaxis": axis,
        "x": [place(point.at) for point in series.points], "y": values, "connectgaps": False,
        "text": [f"{point.when}: {point.shown}".replace("<", "&lt;") for point in series.points],
        "hovertemplate": "%{text}<extra>%{fullData.name}</extra>",
        "line": {"color": colour, "width": 2.5, "dash": DASH[series.mark]},
        "marker": {"color": colour, "size": 10, "symbol": SYMBOL[series.mark],
                   "line": {"color": colour, "width": 2}},
    }  # fmt: skip
    bars = error_bars(points=series.points, colour=colour)
    return made | ({"error_y": bars} if bars else {})


def time_range(*, trend: Trend) -> list[str | float]:
    """Return the ends of the line of time: words beside an event do not widen it."""
    low, high = time_extent(trend=trend)
    if trend.by_date():
        return [date.fromordinal(floor(low)).isoformat(), date.fromordinal(ceil(high)).isoformat()]
    return [low, high]


def trend_figure(*, trend: Trend) -> Figure:
    """Return the trend as a figure: limbs above, symmetry below, on one line of time."""
    has_limbs, has_symmetry = trend.panel(panel="limbs"), trend.panel(panel="symmetry")
    traces = [trace(series=series, axis="y") for series in has_limbs]
    traces += [trace(series=series, axis="y2") for series in has_symmetry]
    made = layout(title=trend.title)
    made["xaxis"] = axis_style(title=trend.time_axis) | {
        "anchor": "y2" if has_symmetry else "y", "range": time_range(trend=trend),
    }  # fmt: skip
    limbs, symmetry = axis_style(title=trend.limbs_axis), axis_style(title=trend.symmetry_axis)
    limbs["domain"] = [0.5, 1] if has_symmetry else [0, 1]
    symmetry["domain"] = [0, 0.42] if has_limbs else [0, 1]
    if trend.grade_words:
        ranks = list(range(len(trend.grade_words)))
        limbs |= {"tickvals": ranks, "ticktext": list(trend.grade_words)}
    made |= {"yaxis": limbs} if has_limbs else {}
    made |= {"yaxis2": symmetry} if has_symmetry else {}
    axes = {"limbs": "y", "symmetry": "y2"}
    made |= threshold_shapes(lines=[
        (line, axes[line.panel]) for line in trend.thresholds if trend.panel(panel=line.panel)
    ])  # fmt: skip
    for event in trend.events:
        at = place(event.at)
        made["shapes"].append({
            "type": "line", "xref": "x", "x0": at, "x1": at, "yref": "paper", "y0": 0, "y1": 1,
            "line": {"color": COLOUR["edge"], "width": 1.25},
        })  # fmt: skip
        made["annotations"].append({
            "xref": "x", "x": at, "xanchor": "left", "yref": "paper", "y": 1, "yanchor": "bottom",
            "text": event.label.replace("<", "&lt;"), "showarrow": False,
            "bgcolor": COLOUR["page"],
        })  # fmt: skip
    return {"data": traces, "layout": made}


def caseload_figure(*, caseload: Caseload) -> Figure:
    """Return the spread as a figure: filled where an episode needs a look, else hollow."""
    traces = []
    for needs_look, name, symbol in (
        (False, "no reason to look", "circle-open"), (True, "needs a look", "circle"),
    ):  # fmt: skip
        points = [point for point in caseload.points if point.needs_look is needs_look]
        traces.append({
            "type": "scatter", "mode": "markers", "name": name,
            "x": [point.week for point in points], "y": [float(point.value) for point in points],
            "text": [f"{point.label}: {point.shown}".replace("<", "&lt;") for point in points],
            "hovertemplate": "%{text}, week %{x}<extra></extra>",
            "marker": {"color": COLOUR["ink"], "size": 9, "symbol": symbol,
                       "line": {"color": COLOUR["ink"], "width": 1.5}},
        })  # fmt: skip
    made = layout(title=caseload.title)
    made["xaxis"] = axis_style(title=caseload.week_axis)
    made["yaxis"] = axis_style(title=caseload.value_axis)
    made |= threshold_shapes(lines=[(line, "y") for line in caseload.thresholds])
    return {"data": traces, "layout": made}
