"""Letters print what the vendored fonts have: signs become words, other scripts are spelled.

A name in a script that no vendored font has stays as it is in the record. For the letter the
clinician types a spelling, word by word; until then the letter cannot be signed. Pure.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from typing import Any, Final, TypeVar, cast

from outcomes.letters.pdf import unprintable

SIGNS: Final = str.maketrans(
    {
        "≥": "at least ",
        "≤": "at most ",
        "≈": "about ",
        "≠": "not ",
        "→": "to",
        "←": "from",
        "↑": "up",
        "↓": "down",
        "√": "root ",
        "✓": "yes",
        "\t": " ",
        "\r": " ",
    }
)
"""Signs that no vendored font has, and the words that say the same."""
SPACES: Final = re.compile(" {2,}")
MISSING: Final = "[?]"
"""Stands in a draft for a word that is not spelled yet."""

T = TypeVar("T")


def plain(text: str) -> str:
    """The text with composed letters, and with words for signs that cannot be printed.

    >>> plain("flexion ≤ 90°")
    'flexion at most 90°'
    """
    return SPACES.sub(" ", unicodedata.normalize("NFC", text).translate(SIGNS))


def to_spell(*, text: str) -> list[str]:
    """The words that hold a character no vendored font has, each once, in their order."""
    found = [word for word in plain(text).split() if unprintable(text=word)]
    return list(dict.fromkeys(found))


def spelled(content: T, *, spellings: Mapping[str, str]) -> T:
    """The same content with every text printable: signs as words, other scripts as spelled."""
    known = {word: plain(said) for word, said in spellings.items()}

    def printed(text: str) -> str:
        words = plain(text)
        for word in to_spell(text=words):
            words = words.replace(word, known.get(word, MISSING))
        return words

    return cast("T", _each(content, printed))


def texts(content: object) -> Iterator[str]:
    """Every text in a tree of values."""
    if isinstance(content, str) and not isinstance(content, Enum):
        yield content
    elif isinstance(content, tuple):
        for one in content:
            yield from texts(one)
    elif is_dataclass(content) and not isinstance(content, type):
        for field in fields(content):
            yield from texts(getattr(content, field.name))


def _each(value: Any, change: Callable[[str], str]) -> Any:
    if isinstance(value, str) and not isinstance(value, Enum):
        return change(value)
    if isinstance(value, tuple):
        return tuple(_each(one, change) for one in value)
    if is_dataclass(value) and not isinstance(value, type):
        return type(value)(
            **{field.name: _each(getattr(value, field.name), change) for field in fields(value)}
        )
    return value
