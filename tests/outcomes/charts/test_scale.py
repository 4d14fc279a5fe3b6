"""Scales, ticks and labels that keep apart."""

from datetime import date
from itertools import pairwise

from hypothesis import example, given
from hypothesis import strategies as st

from outcomes.charts.scale import Scale, month_ticks, room, spread, value_ticks, week_ticks

NUMBERS = st.floats(-500, 500, allow_nan=False)


@given(NUMBERS, NUMBERS)
def test_value_ticks_enclose_what_is_shown_in_even_steps(one: float, two: float) -> None:
    low, high = sorted((one, two))
    values = [tick.value for tick in value_ticks(low=low, high=high)]
    assert values[0] <= low + 1e-6
    assert values[-1] >= high - 1e-6
    assert 2 <= len(values) <= 8
    steps = [later - earlier for earlier, later in pairwise(values)]
    assert max(steps) - min(steps) < 1e-6


@given(st.floats(-60, 600), st.floats(2, 700))
@example(low=5e-324, span=8.0)
def test_week_ticks_are_whole_weeks_within_the_line(low: float, span: float) -> None:
    ticks = week_ticks(low=low, high=low + span)
    assert 1 <= len(ticks) <= 9
    assert all(low <= tick.value <= low + span for tick in ticks)
    assert all(tick.label == str(int(tick.value)) for tick in ticks)


def test_month_ticks_are_first_days_named_once() -> None:
    low, high = date(2026, 1, 20).toordinal(), date(2026, 5, 10).toordinal()
    labels = [tick.label for tick in month_ticks(low=low, high=high)]
    assert labels == ["Feb 2026", "Mar 2026", "Apr 2026", "May 2026"]


def test_within_one_month_the_ends_are_named() -> None:
    low, high = date(2026, 3, 3).toordinal(), date(2026, 3, 20).toordinal()
    assert [t.label for t in month_ticks(low=low, high=high)] == ["3 Mar 2026", "20 Mar 2026"]


@given(st.lists(st.tuples(st.floats(0, 300), st.sampled_from([18.0, 36.0, 54.0])), max_size=7))
def test_labels_keep_apart_between_the_ends_and_in_order(blocks: list[tuple[float, float]]) -> None:
    wanted, heights = [b[0] for b in blocks], [b[1] for b in blocks]
    end = max(150.0, room(heights=heights))
    tops = spread(wanted=wanted, heights=heights, start=0, end=end)
    placed = sorted(zip(tops, heights, wanted, strict=True))
    assert all(top >= -1e-6 and top + height <= end + 1e-6 for top, height, _ in placed)
    assert all(a[0] + a[1] <= b[0] + 1e-6 for a, b in pairwise(placed))
    assert all(a[2] <= b[2] for a, b in pairwise(placed))


def test_labels_that_have_room_stay_where_they_belong() -> None:
    tops = spread(wanted=[10, 90, 50], heights=[18, 18, 18], start=0, end=150)
    assert tops == [10, 90, 50]


@given(NUMBERS, NUMBERS)
def test_a_scale_keeps_the_order(one: float, two: float) -> None:
    scale = Scale(low=-500, high=500, start=300, end=20)
    low, high = sorted((one, two))
    assert scale.at(low) >= scale.at(high)
    assert (scale.at(-500), scale.at(500)) == (300, 20)
