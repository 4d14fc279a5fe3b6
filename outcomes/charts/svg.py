"""Writing SVG: elements, numbers, words and their widths.

A drawing carries presentation attributes only, so that it looks the same in a page under a strict
content security policy, in print and in a PDF. Its first child is a ``<title>`` that states what
it shows. Elements hold no ids, so any number of drawings may share a page.
"""

import re
from collections.abc import Iterable
from decimal import Decimal
from functools import lru_cache
from typing import Final
from xml.sax.saxutils import escape, quoteattr

from outcomes.charts.tokens import COLOUR, FONT

Number = int | float | Decimal

NOT_XML: Final = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""Characters that XML 1.0 (section 2.2, production 2) does not admit even when escaped."""

SPACES: Final = re.compile("[ \t\n\r]+")
"""Where a line may break; a no-break space holds a number and its unit together."""

ADVANCES: Final[dict[int, str]] = {
    250: "'",
    300: ",.:;`ij|·’",
    350: " !()[]l\xa0",
    400: '"-_frt{}°',
    450: "/1I\\",
    500: "*",
    550: "7?csvxyz×–",
    600: "239<>EFJL^abdeghknopqu~",
    650: "$+4568=BPRSTVYZ±−",
    700: "0ACDKUX",
    750: "&GHNOw",
    800: "#@Q",
    900: "MWm",
    1000: "%",
}
"""Characters by advance in thousandths of the font size, rounded up over weights 400 to 700."""

ADVANCE: Final = {char: advance for advance, chars in ADVANCES.items() for char in chars}
WIDEST: Final = 1050
"""Advance taken for a character that is not in the table: the widest letter of the font."""


quoted = lru_cache(maxsize=512)(quoteattr)
"""An attribute's value in quotes; the same few colours and fonts come again and again."""


def number(value: Number) -> str:
    """Return a coordinate with at most two decimals, the same for equal values, never ``-0``."""
    text = f"{float(value):.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def clean(text: str) -> str:
    """Return ``text`` on one line, without the characters XML cannot hold."""
    return SPACES.sub(" ", NOT_XML.sub("", text)).strip(" ")


def numbered(value: Number) -> str:
    """Return a coordinate as an attribute's value; digits need no escaping."""
    return f'"{number(value)}"'


def tag(name: str, *children: str, **attributes: str | Number | None) -> str:
    """Return one element; ``stroke_width`` becomes ``stroke-width``, None leaves one out."""
    written = [
        f" {key.replace('_', '-')}={quoted(value) if isinstance(value, str) else numbered(value)}"
        for key, value in attributes.items()
        if value is not None
    ]
    inside = "".join(children)
    return (
        f"<{name}{''.join(written)}>{inside}</{name}>" if inside else f"<{name}{''.join(written)}/>"
    )


def stroke(
    *, x1: Number, y1: Number, x2: Number, y2: Number, colour: str = "ink", width: Number = 1.5,
    dash: str | None = None, cap: str | None = None,
) -> str:  # fmt: skip
    """Return a straight line; ``colour`` is a token's name."""
    return tag(
        "line", x1=x1, y1=y1, x2=x2, y2=y2, stroke=COLOUR[colour], stroke_width=width,
        stroke_dasharray=dash, stroke_linecap=cap,
    )  # fmt: skip


def words(
    text: str, *, x: Number, y: Number, size: Number, colour: str = "ink", anchor: str = "start",
    bold: bool = False,
) -> str:  # fmt: skip
    """Return a line of text, nothing for none; ``y`` is the base line, ``colour`` a token."""
    if not clean(text):
        return ""
    return tag(
        "text", escape(clean(text)), x=x, y=y, fill=COLOUR[colour], font_family=FONT,
        font_size=size, font_weight="700" if bold else None,
        text_anchor=None if anchor == "start" else anchor,
    )  # fmt: skip


def text_width(text: str, *, size: Number) -> float:
    """Return an upper bound of the width of ``text``, in the unit of ``size``.

    Example: ``text_width("%", size=10)`` is 10.0.
    """
    return sum(ADVANCE.get(char, WIDEST) for char in clean(text)) * float(size) / 1000


def words_on_page(text: str, *, x: Number, y: Number, size: Number, colour: str = "ink") -> str:
    """Return a line of text on a patch of page colour, so that no line cuts through it."""
    if not clean(text):
        return ""
    back = tag(
        "rect", x=float(x) - 3, y=float(y) - float(size), height=float(size) * 1.3,
        width=text_width(text, size=size) + 6, fill=COLOUR["page"],
    )  # fmt: skip
    return back + words(text, x=x, y=y, size=size, colour=colour)


def shorten(text: str, *, size: Number, width: Number) -> str:
    """Return ``text``, or as much of it as fits into ``width`` followed by an ellipsis."""
    kept = clean(text)
    if text_width(kept, size=size) <= float(width):
        return kept
    while kept and text_width(kept + "…", size=size) > float(width):
        kept = kept[:-1]
    return kept.rstrip() + "…"


def wrap(text: str, *, size: Number, width: Number) -> list[str]:
    """Return ``text`` as lines that fit into ``width``; a single word too long is shortened.

    A per cent sign stays with its number.
    """
    lines: list[str] = []
    for word in clean(text).replace(" %", "\u00a0%").split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size=size) <= float(width):
            lines[-1] = longer
        else:
            lines.append(shorten(word, size=size, width=width))
    return lines


def drawing(
    *,
    title: str,
    width: Number,
    height: Number,
    children: Iterable[str],
    beside_words: bool = False,
) -> str:
    """Return a whole drawing whose first child is its title.

    ``title`` states the finding; an empty one raises ValueError. A drawing that only repeats
    words standing ``beside_words`` is hidden from assistive technology, so nothing is read twice.
    """
    if not clean(title):
        raise ValueError("A drawing needs a title that states what it shows.")
    return tag(
        "svg", tag("title", escape(clean(title))), *children,
        xmlns="http://www.w3.org/2000/svg", viewBox=f"0 0 {number(width)} {number(height)}",
        width=width, height=height, role=None if beside_words else "img",
        aria_hidden="true" if beside_words else None, focusable="false" if beside_words else None,
    )  # fmt: skip
