"""The trend: its laws on drawn coordinates, its table, its figure."""

import json
from datetime import date
from decimal import Decimal
from typing import Any

import plotly.graph_objects
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from outcomes.charts.plotly import trend_figure
from outcomes.charts.tokens import COLOUR
from outcomes.charts.trend import draw_trend
from outcomes.charts.trend_data import (
    EventMark,
    ThresholdLine,
    Trend,
    TrendPoint,
    TrendSeries,
    When,
    trend_table,
)
from tests.outcomes.charts.reading import assert_rules, find, texts


def point(at: When, value: float | None, shown: str, error: float | None = None) -> TrendPoint:
    return TrendPoint(
        at=at, when=f"week {at}", shown=shown,
        value=None if value is None else Decimal(str(value)),
        error=None if error is None else Decimal(str(error)),
    )  # fmt: skip


OTHER = TrendSeries(
    name="Left, other side",
    mark="other",
    points=(point(6, 152, "152 N·m", 8), point(9, 150, "150 N·m", 8), point(15, 158, "158 N·m", 8)),
)
INVOLVED = TrendSeries(
    name="Right, operated",
    mark="involved",
    points=(
        point(6, 98, "98 N·m", 8), point(9, 103, "103 N·m", 8),
        point(12, None, "stopped by pain"), point(15, 121, "121 N·m", 8),
    ),
)  # fmt: skip
SYMMETRY = TrendSeries(
    name="Symmetry (LSI)",
    points=(point(6, 64.4, "64 %", 7), point(9, 68.6, "69 %", 7), point(15, 76.6, "77 %", 7)),
)
TREND = Trend(
    title="Quadriceps symmetry rises 12 points in 9 weeks",
    left=OTHER, right=INVOLVED, symmetry=SYMMETRY,
    limbs_axis="N·m, higher is better", symmetry_axis="symmetry (LSI), %",
    time_axis="week after surgery",
    thresholds=(ThresholdLine(value=Decimal(70), label="running asks 70 %, our example"),),
    events=(EventMark(at=10, when="week 10", label="cyclops removed"),),
)  # fmt: skip


def places(svg: str) -> dict[str, list[tuple[float, float]]]:
    """Where the marks of each kind lie, from left to right (labels' own marks left out)."""
    circles = [
        (float(e.get("cx", "")), float(e.get("cy", "")))
        for e in find(svg, "circle", fill=COLOUR["involved"])
    ]
    squares = [
        (float(e.get("x", "")) + float(e.get("width", "")) / 2,
         float(e.get("y", "")) + float(e.get("height", "")) / 2)
        for e in find(svg, "rect", stroke=COLOUR["other"])
    ]  # fmt: skip
    return {"involved": circles[:-1], "other": squares[:-1]}


def test_a_trend_keeps_the_rules() -> None:
    assert_rules(draw_trend(trend=TREND), "Quadriceps symmetry rises 12 points in 9 weeks")


def test_labels_say_the_last_value_the_threshold_and_the_event() -> None:
    drawn = " ".join(texts(draw_trend(trend=TREND))).replace("\u00a0", " ")
    for expected in (
        "Left, other side: 158 N·m", "Right, operated: 121 N·m", "Symmetry (LSI): 77 %",
        "running asks 70 %, our example", "cyclops removed",
    ):  # fmt: skip
        assert expected in drawn


def test_a_gap_splits_the_line_and_is_never_bridged() -> None:
    lines = find(draw_trend(trend=TREND), "polyline", stroke=COLOUR["involved"])
    assert [len(line.get("points", "").split()) for line in lines] == [2]
    marks = places(draw_trend(trend=TREND))
    assert len(marks["involved"]) == 3
    assert len(marks["other"]) == 3


def test_limbs_differ_in_line_and_mark_and_words_stay_in_ink() -> None:
    svg = draw_trend(trend=TREND)
    assert find(svg, "polyline", stroke=COLOUR["other"])[0].get("stroke-dasharray") is not None
    assert find(svg, "polyline", stroke=COLOUR["involved"])[0].get("stroke-dasharray") is None
    assert {e.get("fill") for e in find(svg, "text")} == {COLOUR["ink"], COLOUR["soft"]}


def test_swapping_the_limbs_leaves_the_left_limb_first_in_the_table() -> None:
    swapped = Trend(title="x", left=INVOLVED, right=OTHER)
    assert trend_table(trend=swapped).head == ("When", "Right, operated", "Left, other side")


def test_the_table_says_what_the_chart_shows() -> None:
    table = trend_table(trend=TREND)
    assert table.head == (
        "When", "Left, other side", "Right, operated", "Symmetry (LSI)", "What happened",
    )  # fmt: skip
    limb, points = "(error about 8)", "(error about 7)"
    assert table.rows == (
        ("week 6", f"152 N·m {limb}", f"98 N·m {limb}", f"64 % {points}", ""),
        ("week 9", f"150 N·m {limb}", f"103 N·m {limb}", f"69 % {points}", ""),
        ("week 10", "", "", "", "cyclops removed"),
        ("week 12", "not tested", "stopped by pain", "not tested", ""),
        ("week 15", f"158 N·m {limb}", f"121 N·m {limb}", f"77 % {points}", ""),
    )


def test_grades_stand_on_the_axis_as_words() -> None:
    grades = TrendSeries(
        name="Standing on right", mark="involved",
        points=(point(6, 3, "marked"), point(9, 2, "moderate")),
    )  # fmt: skip
    names = ("level", "slight", "moderate", "marked")
    trend = Trend(title="Drop is less", right=grades, limbs_axis="drop", grade_words=names)
    assert_rules(draw_trend(trend=trend), "Drop is less")
    assert texts(draw_trend(trend=trend))[-6:-2] == list(names)
    axis = trend_figure(trend=trend)["layout"]["yaxis"]
    assert (axis["tickvals"], axis["ticktext"]) == ([0, 1, 2, 3], list(names))


NAMES = st.text(alphabet="abc Wm%,", max_size=40)
VALUES = st.none() | st.decimals(min_value=-20, max_value=400, places=1)
ERRORS = st.none() | st.decimals(min_value=0, max_value=30, places=1)


@st.composite
def series(draw: st.DrawFn, mark: Any, dated: bool) -> TrendSeries:
    weeks = sorted(draw(st.sets(st.integers(-10, 130), min_size=1, max_size=6)))
    points = tuple(
        TrendPoint(
            at=date(2026, 1, 1).fromordinal(739000 + 7 * week) if dated else week,
            when=f"week {week}", value=draw(VALUES), shown=draw(NAMES), error=draw(ERRORS),
        )
        for week in weeks
    )  # fmt: skip
    return TrendSeries(name=draw(NAMES), mark=mark, points=points)


@st.composite
def trends(draw: st.DrawFn) -> Trend:
    dated = draw(st.booleans())
    some = draw(st.sampled_from([(1, 1, 1), (1, 1, 0), (0, 1, 1), (0, 0, 1), (1, 0, 0)]))
    marks = draw(st.permutations(["involved", "other"]))
    day = date.fromordinal(739070)
    return Trend(
        title="a finding",
        left=draw(series(mark=marks[0], dated=dated)) if some[0] else None,
        right=draw(series(mark=marks[1], dated=dated)) if some[1] else None,
        symmetry=draw(series(mark=None, dated=dated)) if some[2] else None,
        limbs_axis=draw(NAMES), symmetry_axis=draw(NAMES), time_axis=draw(NAMES),
        thresholds=tuple(
            ThresholdLine(value=draw(st.decimals(0, 120, places=1)), label=draw(NAMES))
            for _ in range(draw(st.integers(0, 4)))
        ),
        events=tuple(
            EventMark(at=day if dated else draw(st.integers(-10, 130)), when="then",
                      label=draw(NAMES))
            for _ in range(draw(st.integers(0, 4)))
        ),
    )  # fmt: skip


@given(trends())
@settings(max_examples=60)
def test_no_words_collide_or_leave_whatever_is_shown(trend: Trend) -> None:
    assert_rules(draw_trend(trend=trend), "a finding")


@given(st.lists(st.decimals(min_value=-20, max_value=400, places=1), min_size=2, max_size=8))
def test_higher_values_stand_higher_and_later_ones_further_right(values: list[Decimal]) -> None:
    points = tuple(point(week, float(value), "x") for week, value in enumerate(values))
    svg = draw_trend(
        trend=Trend(title="x", right=TrendSeries(name="", mark="involved", points=points))
    )
    drawn = places(svg)["involved"]
    assert [x for x, _ in drawn] == sorted(x for x, _ in drawn)
    by_value = [
        y for _, (_, y) in sorted(zip(values, drawn, strict=True), key=lambda pair: pair[0])
    ]
    assert by_value == sorted(by_value, reverse=True)


def test_the_figure_holds_the_same_values_and_gaps_as_the_chart() -> None:
    figure = trend_figure(trend=TREND)
    assert json.loads(json.dumps(figure, allow_nan=False)) == figure
    right = figure["data"][1]
    assert (right["x"], right["y"]) == ([6.0, 9.0, 12.0, 15.0], [98.0, 103.0, None, 121.0])
    assert right["text"][2] == "week 12: stopped by pain"
    assert [trace["connectgaps"] for trace in figure["data"]] == [False] * 3
    assert [trace["yaxis"] for trace in figure["data"]] == ["y", "y", "y2"]
    assert [note["text"] for note in figure["layout"]["annotations"]] == [
        "running asks 70 %, our example", "cyclops removed",
    ]  # fmt: skip


def test_the_line_of_time_of_a_figure_ends_a_little_beyond_what_is_on_it() -> None:
    def ends(first: When, last: When) -> list[str | float]:
        points = (point(first, 1, "1"), point(last, 2, "2"))
        trend = Trend(title="x", left=TrendSeries(name="left", points=points))
        found: list[str | float] = trend_figure(trend=trend)["layout"]["xaxis"]["range"]
        return found

    assert ends(0, 50) == [-1.5, 51.5]
    assert ends(date(2026, 3, 1), date(2026, 6, 9)) == ["2026-02-26", "2026-06-12"]


def test_the_figure_is_one_that_plotly_knows() -> None:
    """plotly.py refuses any property outside the schema of the locked plotly.js."""
    plotly.graph_objects.Figure(trend_figure(trend=TREND))


def test_the_figure_takes_no_markup_from_words() -> None:
    events = (EventMark(at=10, when="week 10", label="<b>x</b>"),)
    figure = trend_figure(trend=Trend(title="x", symmetry=SYMMETRY, events=events))
    assert figure["layout"]["annotations"][0]["text"] == "&lt;b>x&lt;/b>"


def test_a_limb_never_measured_says_so_and_gets_no_numbers_on_its_axis() -> None:
    empty = TrendSeries(name="Left, other side", mark="other", points=(point(6, None, "declined"),))
    drawn = texts(draw_trend(trend=Trend(title="x", left=empty)))
    assert " ".join(drawn) == "5 6 7 Left, other side: not tested"


def test_what_makes_no_trend_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one point"):
        Trend(title="x", left=TrendSeries(name="left", points=()))
    with pytest.raises(ValueError, match="rising order"):
        TrendSeries(name="left", points=(point(9, 1, "1"), point(6, 2, "2")))
    with pytest.raises(ValueError, match="rising order"):
        TrendSeries(name="left", points=(point(9, 1, "1"), point(9, 2, "2")))
    dated = TrendSeries(name="r", points=(point(date(2026, 3, 14), 1, "1"),))
    with pytest.raises(ValueError, match="by week or by date"):
        Trend(title="x", left=OTHER, right=dated)
