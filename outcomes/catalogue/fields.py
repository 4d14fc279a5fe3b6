"""Strict reading of a seed or a stored version: every key typed, none missing, none left over."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from typing import Any, Final, TypeVar

from outcomes.core.values import Mark, Source

CODE: Final = re.compile(r"[a-z][a-z0-9_]{0,59}")
E = TypeVar("E", bound=StrEnum)


class SeedError(ValueError):
    """A seed that is incomplete or contradicts itself; the text names the file and the key."""


class Fields:
    """The keys of one table of a seed. ``where`` names the file and the way to the table."""

    def __init__(self, *, mapping: Mapping[str, Any], where: str) -> None:
        if not isinstance(mapping, Mapping):
            raise SeedError(f"{where}: is not a table")
        self._left = dict(mapping)
        self.where = where

    def __contains__(self, key: str) -> bool:
        return key in self._left

    def refuse(self, key: str, what: str) -> SeedError:
        """The error to raise about a key."""
        return SeedError(f"{self.where}: {key}: {what}")

    def _take(self, key: str, default: Any, kind: type | tuple[type, ...], name: str) -> Any:
        value = self._left.pop(key, default)
        if value is None:
            raise self.refuse(key, "is missing")
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
            raise self.refuse(key, f"must be {name}")
        return value

    def text(self, key: str, *, default: str | None = None) -> str:
        """A text; one without a default may not be empty."""
        value = str(self._take(key, default, str, "a text")).strip()
        if not value and default is None:
            raise self.refuse(key, "is empty")
        return value

    def code(self, key: str) -> str:
        """A code: small letters, digits and low lines, starting with a letter."""
        value = self.text(key)
        if not CODE.fullmatch(value):
            raise self.refuse(key, f"{value!r} is not a code")
        return value

    def truth(self, key: str, *, default: bool | None = None) -> bool:
        """True or false."""
        return bool(self._take(key, default, bool, "true or false"))

    def integer(self, key: str, *, at_least: int = 0) -> int:
        """A whole number of at least so much."""
        value = int(self._take(key, None, int, "a whole number"))
        if value < at_least:
            raise self.refuse(key, f"must be at least {at_least}")
        return value

    def integer_or_none(self, key: str, *, at_least: int = 0) -> int | None:
        """A whole number, or None where the key is left out."""
        return self.integer(key, at_least=at_least) if key in self else None

    def decimal(self, key: str) -> Decimal:
        """An exact number, written as text ("45.5") or as a whole number."""
        return self._decimal(key, self._take(key, None, (str, int), "a number written as text"))

    def decimal_or_none(self, key: str) -> Decimal | None:
        """An exact number, or None where the key is left out."""
        return self.decimal(key) if key in self else None

    def _decimal(self, key: str, value: str | int) -> Decimal:
        try:
            number = Decimal(value)
        except InvalidOperation:
            number = Decimal("NaN")
        if not number.is_finite():
            raise self.refuse(key, f"{value!r} is not a number")
        return number

    def decimals(self, key: str) -> tuple[Decimal, ...]:
        """A list of numbers, empty where the key is left out."""
        value = self._take(key, [], (list, tuple), "a list of numbers")
        if not all(isinstance(part, str | int) and not isinstance(part, bool) for part in value):
            raise self.refuse(key, "must be a list of numbers written as text")
        return tuple(self._decimal(key, part) for part in value)

    def numbers(self, key: str) -> dict[str, Decimal]:
        """A table of numbers, not empty, in the order of its keys, as stored."""
        found = self._take(key, None, Mapping, "a table of numbers")
        if not found or not all(isinstance(part, str) for part in found.values()):
            raise self.refuse(key, "must be a table of numbers written as text")
        return {code: self._decimal(f"{key}.{code}", part) for code, part in sorted(found.items())}

    def limits(self, key: str) -> tuple[Decimal, Decimal]:
        """Two numbers, the lower first."""
        value = self._take(key, None, (list, tuple), "a list of two numbers")
        if len(value) != 2 or not all(isinstance(part, str | int) for part in value):
            raise self.refuse(key, "must be a list of two numbers written as text")
        low, high = (self._decimal(key, part) for part in value)
        if low >= high:
            raise self.refuse(key, "the lower limit comes first")
        return low, high

    def one_of(self, key: str, kind: type[E], *, default: E | None = None) -> E:
        """A member of an enumeration, by its value."""
        value = self.text(key, default=default)
        try:
            return kind(value)
        except ValueError:
            words = ", ".join(kind)
            raise self.refuse(key, f"{value!r} is none of {words}") from None

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of different texts, empty where the key is left out."""
        value = self._take(key, [], (list, tuple), "a list of texts")
        if not all(isinstance(part, str) and part for part in value):
            raise self.refuse(key, "must be a list of texts")
        if len(set(value)) != len(value):
            raise self.refuse(key, "names one twice")
        return tuple(value)

    def table(self, key: str) -> dict[str, Any]:
        """A table as it is, empty where the key is left out."""
        return dict(self._take(key, {}, Mapping, "a table"))

    def part(self, key: str) -> Fields:
        """One table within this one."""
        mapping = self._take(key, None, Mapping, "a table")
        return Fields(mapping=mapping, where=f"{self.where}: {key}")

    def parts(self, key: str, *, needed: bool = False) -> list[Fields]:
        """A list of tables; ``needed`` refuses an empty one."""
        value = self._take(key, [], (list, tuple), "a list of tables")
        if needed and not value:
            raise self.refuse(key, "is missing")
        return [
            Fields(mapping=part, where=f"{self.where}: {key}[{number}]")
            for number, part in enumerate(value)
        ]

    def done(self) -> None:
        """Refuse keys that nobody asked for: a misspelt key must not pass unseen."""
        if self._left:
            raise self.refuse(sorted(self._left)[0], "is not known")


def source_from(fields: Fields) -> Source:
    """Where a number comes from, with its evidence mark."""
    source = Source(
        text=fields.text("text"),
        mark=fields.one_of("mark", Mark),
        doi=fields.text("doi", default=""),
    )
    fields.done()
    return source


def sources_from(fields: Fields) -> tuple[Source, ...]:
    """At least one source: no number without one."""
    return tuple(source_from(part) for part in fields.parts("sources", needed=True))
