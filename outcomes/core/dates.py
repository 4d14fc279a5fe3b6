"""Weeks, months and ages by local calendar dates: dates are subtracted, never datetimes."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterable
from datetime import date

DAYS_A_WEEK = 7


def weeks_since(*, index_date: date | None, on: date) -> int | None:
    """Completed weeks from the index date (day 0 is week 0, day 7 is week 1).

    None before the index date and when there is none: that is "before surgery", never week 0.
    Common practice, no source: the day of the operation is day 0.

    >>> weeks_since(index_date=date(2026, 3, 2), on=date(2026, 4, 20))
    7
    """
    if index_date is None or on < index_date:
        return None
    return (on - index_date).days // DAYS_A_WEEK


def add_months(*, start: date, months: int) -> date:
    """The same day of the month so many calendar months later, clipped to the month's end.

    >>> add_months(start=date(2026, 1, 31), months=1)
    datetime.date(2026, 2, 28)
    """
    year, month0 = divmod(start.year * 12 + start.month - 1 + months, 12)
    last = monthrange(year, month0 + 1)[1]
    return date(year, month0 + 1, min(start.day, last))


def completed_months(*, start: date, on: date) -> int:
    """How many whole calendar months have passed. Raises ``ValueError`` before the start.

    >>> completed_months(start=date(2026, 8, 31), on=date(2027, 2, 28))
    6
    """
    if on < start:
        raise ValueError("no months lie before the start")
    months = (on.year - start.year) * 12 + on.month - start.month
    return months if add_months(start=start, months=months) <= on else months - 1


def birthday(*, birth_date: date, age: int) -> date:
    """The first day on which the person has that age; 29 February counts on 1 March.

    >>> birthday(birth_date=date(2012, 2, 29), age=18)
    datetime.date(2030, 3, 1)
    """
    year = birth_date.year + age
    if birth_date.day > monthrange(year, birth_date.month)[1]:
        return date(year, birth_date.month + 1, 1)
    return birth_date.replace(year=year)


def age_on(*, birth_date: date, on: date) -> int:
    """Completed years. Raises ``ValueError`` before birth.

    >>> age_on(birth_date=date(2010, 2, 28), on=date(2026, 2, 27))
    15
    """
    if on < birth_date:
        raise ValueError("no age before birth")
    years = on.year - birth_date.year
    return years if birthday(birth_date=birth_date, age=years) <= on else years - 1


def within_weeks(*, days: Iterable[date], on: date, weeks: int) -> bool:
    """Whether ``on`` lies in the completed weeks 0 to ``weeks`` after any of the days.

    >>> within_weeks(days=[date(2026, 10, 7)], on=date(2026, 10, 20), weeks=1)
    True
    """
    found = (weeks_since(index_date=day, on=on) for day in days)
    return any(week is not None and week <= weeks for week in found)
