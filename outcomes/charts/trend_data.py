"""What a trend shows, as plain data, and the same thing as the rows of a table.

Every word of a value comes from the caller (``shown``): a chart never formats a clinical number,
so that number and result cannot disagree between page, chart and table.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Literal

from outcomes.charts.marks import LimbMark

When = int | Decimal | date
"""A week (int or Decimal) or a local date; one kind within one chart."""
Panel = Literal["limbs", "symmetry"]
NOT_TESTED = "not tested"


def position(when: When) -> float:
    """Return a week or a date as a place on a line: the week itself, or the day's ordinal."""
    return float(when.toordinal()) if isinstance(when, date) else float(when)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendPoint:
    """One visit in one series.

    at: week or date. when: the same in words, for the table ("week 15, 25 Nov 2026").
    value: canonical value, or None for a gap: the line is split there and ``shown`` says why.
    shown: the value in words with its unit ("77 %", "moderate drop", "stopped by pain").
    error: measurement error as half-width in the unit of ``value``; None when not known.
    opens: the address of what stands behind it, for the table.
    """

    at: When
    when: str
    value: Decimal | None
    shown: str
    error: Decimal | None = None
    opens: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendSeries:
    """One line: a limb, or symmetry when ``mark`` is None. Points in rising order of ``at``."""

    name: str
    points: tuple[TrendPoint, ...]
    mark: LimbMark | None = None

    def __post_init__(self) -> None:
        """Refuse points out of order or twice at one place: ValueError."""
        places = [position(point.at) for point in self.points]
        if any(later <= earlier for earlier, later in pairwise(places)):
            raise ValueError("The points of a series stand in rising order, one for each place.")


@dataclass(frozen=True, slots=True, kw_only=True)
class ThresholdLine:
    """A level line across one panel, with what asks for it ("running asks 70 %, Rambaud 2018")."""

    value: Decimal
    label: str
    panel: Panel = "symmetry"


@dataclass(frozen=True, slots=True, kw_only=True)
class EventMark:
    """Something that happened, as an upright line ("second surgery", "new sitting machine")."""

    at: When
    when: str
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """Both limbs and their symmetry over time.

    title: states the finding ("Quadriceps symmetry rises 10 points in 9 weeks").
    left, right: the patient's limbs, or None where a limb was never measured or makes no sense.
    symmetry: index or signed difference, or None where the measure has none.
    limbs_axis, symmetry_axis: unit and direction in words ("N·m, higher is better").
    time_axis: "week after surgery" or "date".
    grade_words: for graded measures, the words of ranks 0, 1, 2 …; they stand on the axis
        instead of numbers.
    """

    title: str
    left: TrendSeries | None = None
    right: TrendSeries | None = None
    symmetry: TrendSeries | None = None
    limbs_axis: str = ""
    symmetry_axis: str = ""
    time_axis: str = ""
    thresholds: tuple[ThresholdLine, ...] = ()
    events: tuple[EventMark, ...] = ()
    grade_words: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse an empty trend, and weeks mixed with dates: ValueError."""
        if not any(series.points for series in self.series()):
            raise ValueError("A trend needs at least one point.")
        if len({isinstance(when, date) for when in self.places()}) > 1:
            raise ValueError("A trend is laid out by week or by date, not by both.")

    def series(self) -> tuple[TrendSeries, ...]:
        """Return the series there are, left before right before symmetry."""
        return tuple(s for s in (self.left, self.right, self.symmetry) if s is not None)

    def panel(self, *, panel: Panel) -> tuple[TrendSeries, ...]:
        """Return the series drawn in one panel."""
        chosen = (self.left, self.right) if panel == "limbs" else (self.symmetry,)
        return tuple(s for s in chosen if s is not None)

    def places(self) -> Iterator[When]:
        """Yield every place in time that is drawn."""
        for series in self.series():
            yield from (point.at for point in series.points)
        yield from (event.at for event in self.events)

    def by_date(self) -> bool:
        """Whether the trend is laid out by date (else by week)."""
        return isinstance(next(self.places()), date)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartTable:
    """The table of a chart: a head and rows of words, all of one length.

    opens: for each row the address of what stands behind it, or nothing.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    opens: tuple[str, ...] = ()

    def opening(self) -> list[tuple[tuple[str, ...], str]]:
        """Each row with its address."""
        return list(zip(self.rows, self.opens or [""] * len(self.rows), strict=True))


def cell(*, point: TrendPoint | None) -> str:
    """Return the words of one table cell; a place without a point was not tested."""
    if point is None:
        return NOT_TESTED
    if point.value is None or point.error is None:
        return point.shown
    return f"{point.shown} (error about {point.error.normalize():f})"


def trend_table(*, trend: Trend) -> ChartTable:
    """Return what the chart shows, a row for each place in time, oldest first."""
    series, events = trend.series(), trend.events
    columns = [{position(point.at): point for point in one.points} for one in series]
    happened: dict[float, list[str]] = {}
    for event in events:
        happened.setdefault(position(event.at), []).append(event.label)
    when = names_of_places(points=(p for one in series for p in one.points), events=events)
    rows, opens = [], []
    for place in sorted(when):
        there = [column[place] for column in columns if place in column]
        opens.append(next((point.opens for point in there if point.opens), ""))
        cells = [cell(point=column.get(place)) for column in columns]
        if place in happened and not any(place in column for column in columns):
            cells = [""] * len(columns)
        rows.append(
            (when[place], *cells, *(["; ".join(happened.get(place, []))] if events else []))
        )
    head = ("When", *(one.name for one in series), *(["What happened"] if events else []))
    return ChartTable(head=head, rows=tuple(rows), opens=tuple(opens))


def names_of_places(
    *, points: Iterable[TrendPoint], events: Iterable[EventMark]
) -> dict[float, str]:
    """Return the words of each place in time; a visit's words win over an event's."""
    names = {position(event.at): event.when for event in events}
    return names | {position(point.at): point.when for point in points}
