"""Dates, numbers and short sentences from codes and values. Pure; every other room may use it."""

from __future__ import annotations

import calendar
import unicodedata
from collections.abc import Mapping
from datetime import date, datetime
from typing import Final
from zoneinfo import ZoneInfo

MONTHS: Final = tuple(calendar.month_abbr)


def day(value: date | None, *, missing: str = "not known") -> str:
    """A date as people write it in a note.

    >>> day(date(2026, 3, 14))
    '14 Mar 2026'
    """
    return f"{value.day} {MONTHS[value.month]} {value.year}" if value else missing


def moment(value: datetime, *, zone: str) -> str:
    """A moment as the local date and time of a zone.

    >>> moment(datetime.fromisoformat("2026-11-25T23:30:00+00:00"), zone="Europe/Athens")
    '26 Nov 2026, 01:30'
    """
    local = value.astimezone(ZoneInfo(zone))
    return f"{day(local.date())}, {local:%H:%M}"


def short_day(value: date | None, *, today: date) -> str:
    """A date beside a value: without the year while it is this year.

    >>> short_day(date(2026, 11, 5), today=date(2026, 11, 25))
    '5 Nov'
    """
    if value is None:
        return ""
    return f"{value.day} {MONTHS[value.month]}" if value.year == today.year else day(value)


_PLAIN: Final = str.maketrans(
    {"ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe", "ħ": "h"}
    | {"\N{LATIN SMALL LETTER DOTLESS I}": "i"}
)


def fold(name: str) -> str:
    """A name as it is searched: no case, no accents, no punctuation, single spaces.

    Apostrophes join and every other mark separates, so that a name is found however it is typed.

    >>> fold("  Zoë  O'Brien-Łaska ")
    'zoe obrien laska'
    """
    text = unicodedata.normalize("NFKD", name.casefold()).casefold().translate(_PLAIN)
    joined = "".join(c for c in text if c not in "'’‘`" and not unicodedata.combining(c))
    spaced = "".join(c if c.isalnum() else " " for c in joined)
    return " ".join(unicodedata.normalize("NFC", spaced).split())


def months_between(*, start: date, on: date) -> int:
    """Completed calendar months from start to on; the last day of a month counts as its end."""
    months = (on.year - start.year) * 12 + on.month - start.month
    last = calendar.monthrange(on.year, on.month)[1]
    return months if on.day >= min(start.day, last) else months - 1


def since_index(*, index_date: date | None, on: date) -> str:
    """The week on screen: "before surgery", "week 15", after week 26 "6 months (week 30)".

    >>> since_index(index_date=date(2026, 8, 12), on=date(2026, 11, 25))
    'week 15'
    >>> since_index(index_date=date(2026, 4, 29), on=date(2026, 11, 25))
    '6 months (week 30)'
    """
    if index_date is None or on < index_date:
        return "before surgery"
    week = (on - index_date).days // 7
    if week <= 26:
        return f"week {week}"
    return f"{months_between(start=index_date, on=on)} months (week {week})"


def ago(*, then: date, on: date) -> str:
    """How long ago, in the words of a caseload row.

    >>> ago(then=date(2026, 11, 23), on=date(2026, 11, 25))
    '2 days ago'
    """
    days = (on - then).days
    if days == 0:
        return "today"
    if days < 0:
        return f"in {-days} day{'s' if days != -1 else ''}"
    if days < 70:
        return f"{days} day{'s' if days != 1 else ''} ago"
    return f"{days // 7} weeks ago"


def several(count: int, one: str, many: str = "") -> str:
    """A count with its noun.

    >>> several(1, "visit"), several(3, "visit"), several(2, "diary", "diaries")
    ('1 visit', '3 visits', '2 diaries')
    """
    return f"{count} {one if count == 1 else many or one + 's'}"


def listed(words: list[str]) -> str:
    """Words joined as a sentence does.

    >>> listed(["pain", "effusion", "limp"])
    'pain, effusion and limp'
    """
    return (
        words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}" if words else ""
    )


GRAFT: Final[Mapping[str, str]] = {
    "patellar_tendon": "patellar tendon",
    "hamstring": "hamstring",
    "quadriceps_tendon": "quadriceps tendon",
    "allograft": "allograft",
    "other": "other graft",
    "unknown": "graft not known yet",
    "": "no graft",
}


def graft(*, graft: str, graft_from: str = "") -> str:
    """The graft in words, with the limb it came from where that matters.

    >>> graft(graft="patellar_tendon", graft_from="other_limb")
    'patellar tendon autograft from the other limb'
    """
    word = GRAFT[graft]
    if graft in ("patellar_tendon", "hamstring", "quadriceps_tendon"):
        word += " autograft"
        if graft_from == "other_limb":
            word += " from the other limb"
    return word
