"""The spread of one value over a caseload against the week: SVG and table."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from outcomes.charts.panel import TICK_SIZE, Panel, draw_panel, tick_room
from outcomes.charts.scale import Scale, value_ticks, week_ticks
from outcomes.charts.svg import drawing, shorten, stroke, tag, words
from outcomes.charts.tokens import COLOUR
from outcomes.charts.trend_data import ChartTable, ThresholdLine

WIDTH: Final = 640
RIGHT_MARGIN: Final = 176
TOP: Final = 34
HEIGHT: Final = 240


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseloadPoint:
    """One episode: the week of its latest test, the value, and who it is.

    shown: the value in words ("77 %, 9 weeks ago, out of date"). label: who, for the table and
    under the pointer, never in the drawing. needs_look: drawn filled, else hollow. opens: the
    address of what stands behind the value, for the table.
    """

    week: int
    value: Decimal
    shown: str
    label: str
    needs_look: bool = False
    opens: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Caseload:
    """What the spread shows.

    title: the finding with its denominator ("Quadriceps symmetry of 31 of 58 episodes; 12 reach
        90 %"). value_axis: what is measured ("quadriceps symmetry (LSI), %").
    """

    title: str
    points: tuple[CaseloadPoint, ...]
    value_axis: str
    week_axis: str = "week after surgery"
    thresholds: tuple[ThresholdLine, ...] = ()


def caseload_panel(*, caseload: Caseload) -> Panel:
    """Return the panel of the spread: round ticks around every value and threshold."""
    values = [float(point.value) for point in caseload.points]
    values += [float(line.value) for line in caseload.thresholds]
    ticks = value_ticks(low=min(values, default=0), high=max(values, default=100), count=6)
    weeks = [point.week for point in caseload.points] or [0]
    return Panel(
        series=(), thresholds=caseload.thresholds, ticks=ticks, caption=caseload.value_axis,
        x=Scale(low=min(weeks) - 1, high=max(weeks) + 1, start=4 + tick_room(ticks=ticks),
                end=WIDTH - RIGHT_MARGIN),
        y=Scale(low=ticks[0].value, high=ticks[-1].value, start=TOP + HEIGHT, end=TOP),
        right=WIDTH - 4,
    )  # fmt: skip


def draw_caseload(*, caseload: Caseload) -> str:
    """Return the spread as SVG: a dot for each episode, filled where it needs a look."""
    panel = caseload_panel(caseload=caseload)
    x, y, bottom = panel.x, panel.y, TOP + HEIGHT + 8
    parts = [tag("rect", x=0, y=0, width=WIDTH, height=bottom + 48, fill=COLOUR["page"])]
    parts += draw_panel(panel=panel)
    parts.append(stroke(x1=x.start, y1=bottom, x2=x.end, y2=bottom, width=1.25))
    for tick in week_ticks(low=x.low, high=x.high, count=8):
        parts.append(words(tick.label, x=x.at(tick.value), y=bottom + 20, size=TICK_SIZE,
                           colour="soft", anchor="middle"))  # fmt: skip
    caption = f"{caseload.week_axis}; a filled dot needs a look"
    parts.append(words(shorten(caption, size=TICK_SIZE, width=WIDTH - x.start - 4), x=x.start,
                       y=bottom + 40, size=TICK_SIZE, colour="soft"))  # fmt: skip
    for point in sorted(caseload.points, key=lambda point: point.needs_look):
        fill = COLOUR["ink" if point.needs_look else "page"]
        parts.append(tag("circle", cx=x.at(point.week), cy=y.at(float(point.value)), r=4.5,
                         fill=fill, stroke=COLOUR["ink"], stroke_width=1.5))  # fmt: skip
    return drawing(title=caseload.title, width=WIDTH, height=bottom + 48, children=parts)


def caseload_table(*, caseload: Caseload) -> ChartTable:
    """Return the spread as rows, in the order the points were given."""
    return ChartTable(
        head=("Episode", "Week", caseload.value_axis, "Needs a look"),
        rows=tuple(
            (point.label, str(point.week), point.shown, "yes" if point.needs_look else "no")
            for point in caseload.points
        ),
        opens=tuple(point.opens for point in caseload.points),
    )
