"""Sites told apart by what day it is there: usually one day, at most two."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date


def sites_by_day(days: Mapping[int, date]) -> dict[date, list[int]]:
    """The ids of the sites of each day.

    >>> sites_by_day({1: date(2026, 11, 25), 2: date(2026, 11, 26), 3: date(2026, 11, 25)})
    {datetime.date(2026, 11, 25): [1, 3], datetime.date(2026, 11, 26): [2]}
    """
    found: dict[date, list[int]] = {}
    for site_id, day in days.items():
        found.setdefault(day, []).append(site_id)
    return found
