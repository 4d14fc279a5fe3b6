"""The keys of one call, taken one by one: typed, within what can be, and none left over."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Collection, Mapping
from datetime import date
from decimal import Decimal
from typing import Any, Final, TypeVar

from outcomes.core.measures import OWN
from outcomes.core.quantities import plain

ISO_DATE: Final = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
MAGNITUDE: Final = 15
DIGITS: Final = 60
Point = tuple[Decimal, Decimal]
T = TypeVar("T")


class Refused(ValueError):
    """A call that cannot be answered; the text says what to send instead."""


def shortened(value: object) -> str:
    """What was sent, short enough to be repeated in a sentence."""
    match value:
        case Decimal():
            return plain(value=value) if _fits(value) else "so large or small a number"
        case str():
            told = value.encode("utf-8", errors="replace").decode("utf-8")
            return f'"{told}"' if len(told) <= 40 else f'"{told[:40]}…"'
        case list():
            return "a list"
        case dict():
            return "an object"
        case _:
            return json.dumps(value)


def _fits(value: Decimal) -> bool:
    near = value.adjusted() >= -DIGITS and abs(value) <= 10**MAGNITUDE
    return near and len(value.as_tuple().digits) <= DIGITS


class Asked:
    """The keys of a call. Each taker refuses what is missing or cannot be, in a sentence."""

    def __init__(self, *, values: Mapping[str, Any]) -> None:
        self._left = dict(values)

    def __contains__(self, key: str) -> bool:
        return key in self._left

    def _take(self, key: str, what: str) -> Any:
        if key not in self._left:
            raise Refused(f'The key "{key}" is missing: send {what}.')
        return self._left.pop(key)

    def number(
        self,
        key: str,
        *,
        least: Decimal | int | None = None,
        above: Decimal | int | None = None,
        most: Decimal | int | None = None,
        below: Decimal | int | None = None,
    ) -> Decimal:
        """A number within its bounds."""
        bounds = [
            f"{word} {bound}"
            for word, bound in (
                ("at least", least), ("above", above), ("at most", most), ("below", below),
            )
            if bound is not None
        ]  # fmt: skip
        what = " ".join(["a number", " and ".join(bounds)]).strip()
        value = decimal_from(self._take(key, what), key=key, what=what)
        if (
            (least is not None and value < least)
            or (above is not None and value <= above)
            or (most is not None and value > most)
            or (below is not None and value >= below)
        ):
            raise Refused(f'"{key}" cannot be {shortened(value)}: send {what}.')
        return value

    def one_of(self, key: str, known: Mapping[str, Any]) -> Any:
        """What one of the words that a key takes stands for."""
        what = "one of " + ", ".join(f'"{word}"' for word in known)
        value = self._take(key, what)
        if not isinstance(value, str) or value not in known:
            raise Refused(f'"{key}" cannot be {shortened(value)}: send {what}.')
        return known[value]

    def own(self, key: str) -> bool:
        """Whether a key names something of the clinic's own, which only its database knows."""
        value = self._left.get(key)
        return isinstance(value, str) and value.startswith(OWN)

    def text(self, key: str, *, default: str | None = None) -> str:
        """A text."""
        if default is not None and key not in self._left:
            return default
        value = self._take(key, "a text")
        if not isinstance(value, str):
            raise Refused(f'"{key}" cannot be {shortened(value)}: send a text.')
        return value

    def day(self, key: str) -> date:
        """A calendar date."""
        what = 'a date as text, such as "2026-03-02"'
        value = self._take(key, what)
        try:
            if isinstance(value, str) and ISO_DATE.fullmatch(value):
                return date.fromisoformat(value)
        except ValueError:
            pass
        raise Refused(f'"{key}" cannot be {shortened(value)}: send {what}.')

    def point(self, key: str) -> Point:
        """A point of a picture."""
        what = "a point as two numbers, such as [400, 300]"
        return point_from(self._take(key, what), key=key, what=what)

    def line(self, key: str) -> tuple[Point, Point]:
        """A line through two points of a picture."""
        what = "two points, such as [[0, 300], [640, 300]]"
        value = self._take(key, what)
        if not isinstance(value, list) or len(value) != 2:
            raise Refused(f'"{key}" cannot be {shortened(value)}: send {what}.')
        start, end = (point_from(one, key=key, what=what) for one in value)
        return start, end

    def table(self, key: str, *, what: str) -> dict[str, Any]:
        """A JSON object."""
        value = self._take(key, what)
        if not isinstance(value, dict):
            raise Refused(f'"{key}" cannot be {shortened(value)}: send {what}.')
        return value

    def objects(self, key: str, *, most: int) -> list[dict[str, Any]]:
        """A list of JSON objects."""
        what = f"a list of at most {most} objects"
        value = self._take(key, what)
        if not isinstance(value, list) or len(value) > most:
            raise Refused(f'"{key}" cannot be {shortened(value)}: send {what}.')
        for number, one in enumerate(value, start=1):
            if not isinstance(one, dict):
                raise Refused(f'"{key}", number {number}, cannot be {shortened(one)}: send {what}.')
        return value

    def words(self, key: str, known: Collection[str]) -> list[str]:
        """A list of words that a key takes, each once; empty where the key is not sent."""
        if key not in self._left:
            return []
        what = "a list of " + ", ".join(f'"{word}"' for word in known)
        value = self._take(key, what)
        if not isinstance(value, list):
            raise Refused(f'"{key}" cannot be {shortened(value)}: send {what}.')
        for one in value:
            if not isinstance(one, str) or one not in known:
                raise Refused(f'"{key}" cannot hold {shortened(one)}: send {what}.')
        return list(dict.fromkeys(value))

    def or_none(self, key: str, take: Callable[[str], T]) -> T | None:
        """What ``take`` makes of a key, or None where it is null: not known."""
        if key in self._left and self._left[key] is None:
            del self._left[key]
            return None
        return take(key)

    def done(self) -> None:
        """Refuse keys that the calculation does not take: a misspelt key must not pass unseen."""
        if self._left:
            raise Refused(f"The key {shortened(min(self._left))} is not known here: leave it out.")


def decimal_from(value: object, *, key: str, what: str) -> Decimal:
    """A number that was sent, if it is one and of a size that can be meant."""
    if not isinstance(value, Decimal):
        raise Refused(f'"{key}" cannot be {shortened(value)}: send {what}.')
    if not value.is_finite() or not _fits(value):
        raise Refused(
            f'"{key}" is too large, too small or too long: send {what}, '
            f"between 1e-{DIGITS} and 1e{MAGNITUDE} in size, with at most {DIGITS} digits."
        )
    return value


def point_from(value: object, *, key: str, what: str) -> Point:
    """Two numbers as a point."""
    if not isinstance(value, list) or len(value) != 2:
        raise Refused(f'"{key}" cannot be {shortened(value)}: send {what}.')
    x, y = (decimal_from(one, key=key, what=what) for one in value)
    return x, y
