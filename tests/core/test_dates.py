"""Weeks, months and ages. Counting rule: common practice, no source (day 0 is the operation)."""

from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from outcomes.core.dates import (
    add_months,
    age_on,
    birthday,
    completed_months,
    weeks_since,
)
from tests.core.builders import few
from tests.core.tables import every_case

DATES = st.dates(min_value=date(1960, 1, 1), max_value=date(2060, 12, 31))


@every_case(
    ("days", "week"),
    [(-1, None), (0, 0), (6, 0), (7, 1), (13, 1), (14, 2), (83, 11), (84, 12), (182, 26)],
)
def test_week_is_completed_days_by_seven(days, week):
    day0 = date(2026, 3, 2)
    assert weeks_since(index_date=day0, on=day0 + timedelta(days=days)) == week


def test_without_an_index_date_there_is_no_week():
    assert weeks_since(index_date=None, on=date(2026, 3, 2)) is None


def test_the_day_before_surgery_is_not_week_minus_one_nor_week_zero():
    assert weeks_since(index_date=date(2026, 3, 2), on=date(2026, 3, 1)) is None


def test_the_week_turns_at_local_midnight_in_every_zone():
    """The operation ends shortly before midnight; the same two moments, seen by each clinic."""
    for hours in range(-11, 15):
        zone = timezone(timedelta(hours=hours))
        operation = datetime(2026, 3, 2, 23, 30, tzinfo=zone).astimezone(UTC)
        before = datetime(2026, 3, 8, 23, 59, 59, tzinfo=zone).astimezone(UTC)
        midnight = datetime(2026, 3, 9, 0, 0, tzinfo=zone).astimezone(UTC)
        weeks = [
            weeks_since(
                index_date=operation.astimezone(zone).date(), on=moment.astimezone(zone).date()
            )
            for moment in (before, midnight)
        ]
        assert (hours, weeks) == (hours, [0, 1])


def test_a_change_to_summer_time_moves_no_week():
    assert weeks_since(index_date=date(2026, 3, 23), on=date(2026, 3, 30)) == 1


@few
@given(start=DATES, months=st.integers(min_value=-60, max_value=240))
def test_add_months_equals_dateutil(start, months):
    assert add_months(start=start, months=months) == start + relativedelta(months=months)


@few
@given(start=DATES, days=st.integers(min_value=0, max_value=4000))
def test_completed_months_are_the_largest_number_that_has_passed(start, days):
    on = start + timedelta(days=days)
    months = completed_months(start=start, on=on)
    assert start + relativedelta(months=months) <= on < start + relativedelta(months=months + 1)


@every_case(
    ("start", "on", "months"),
    [
        (date(2024, 2, 29), date(2025, 2, 27), 11),
        (date(2024, 2, 29), date(2025, 2, 28), 12),
        (date(2026, 8, 31), date(2027, 2, 28), 6),
        (date(2026, 8, 31), date(2027, 2, 27), 5),
    ],
)
def test_completed_months_at_the_end_of_a_month(start, on, months):
    assert completed_months(start=start, on=on) == months


def test_no_months_before_the_start_and_no_age_before_birth():
    with pytest.raises(ValueError, match="before the start"):
        completed_months(start=date(2026, 3, 2), on=date(2026, 3, 1))
    with pytest.raises(ValueError, match="before birth"):
        age_on(birth_date=date(2026, 3, 2), on=date(2026, 3, 1))


@every_case(
    ("birth", "on", "age"),
    [
        (date(2010, 6, 1), date(2026, 5, 31), 15),
        (date(2010, 6, 1), date(2026, 6, 1), 16),
        (date(2012, 2, 29), date(2028, 2, 28), 15),
        (date(2012, 2, 29), date(2028, 2, 29), 16),
        (date(2012, 2, 29), date(2030, 2, 28), 17),
        (date(2012, 2, 29), date(2030, 3, 1), 18),
    ],
)
def test_age(birth, on, age):
    assert age_on(birth_date=birth, on=on) == age


@few
@given(birth=DATES, age=st.integers(min_value=0, max_value=40))
def test_the_birthday_is_the_first_day_of_an_age(birth, age):
    day = birthday(birth_date=birth, age=age)
    assert age_on(birth_date=birth, on=day) == age
    assert age == 0 or age_on(birth_date=birth, on=day - timedelta(days=1)) == age - 1
