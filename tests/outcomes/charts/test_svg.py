"""Writing SVG: numbers, words, widths against the very font that is shipped."""

import re
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import pytest
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st

from outcomes.charts.svg import (
    ADVANCE,
    clean,
    drawing,
    number,
    shorten,
    tag,
    text_width,
    words,
    wrap,
)

FONTS = Path(__file__).parents[3] / "static" / "vendor" / "fonts"


@cache
def advances(weight: int) -> dict[str, float]:
    """Advance widths of the shipped latin slice at one weight, in thousandths of the size."""
    font = TTFont(FONTS / "atkinson-hyperlegible-next-latin-wght-normal.woff2")
    units, glyphs = font["head"].unitsPerEm, font.getGlyphSet(location={"wght": weight})
    return {
        chr(code): round(glyphs[name].width) * 1000 / units
        for code, name in font.getBestCmap().items()
    }


@pytest.mark.parametrize("weight", [400, 700])
def test_no_character_of_the_font_is_wider_than_taken(weight: int) -> None:
    wider = {
        char: advance for char, advance in advances(weight).items()
        if advance > text_width(f"x{char}x", size=1000) - 2 * ADVANCE["x"] + 0.01
        and clean(char) == char
    }  # fmt: skip
    assert wider == {}


def test_the_table_is_not_wasteful() -> None:
    bold = advances(700)
    assert max(taken - max(bold[char], advances(400)[char]) for char, taken in ADVANCE.items()) < 50


@pytest.mark.parametrize(
    ("value", "text"),
    [(0, "0"), (-0.001, "0"), (1.005, "1"), (2.5, "2.5"), (10, "10"), (-3.14159, "-3.14")],
)
def test_numbers(value: float, text: str) -> None:
    assert number(value) == text


@given(st.text(), st.text())
def test_any_words_stay_well_formed(title: str, text: str) -> None:
    kept = clean(title)
    if not kept:
        with pytest.raises(ValueError, match="needs a title"):
            drawing(title=title, width=1, height=1, children=[])
        return
    svg = drawing(title=title, width=1, height=1, children=[words(text, x=0, y=0, size=10)])
    root = ElementTree.fromstring(svg)
    assert root[0].text == kept
    assert [child.text for child in root[1:]] == ([clean(text)] if clean(text) else [])


def test_markup_in_words_and_attributes_stays_words() -> None:
    svg = drawing(title='<script>"&', width=1, height=1, children=[tag("g", data_name='"><b>')])
    root = ElementTree.fromstring(svg)
    assert [element.tag.split("}")[1] for element in root.iter()] == ["svg", "title", "g"]
    assert root[0].text == '<script>"&'
    assert root[1].get("data-name") == '"><b>'


@given(st.text(), st.integers(40, 400))
def test_shortened_and_wrapped_words_fit(text: str, width: int) -> None:
    assert text_width(shorten(text, size=14, width=width), size=14) <= width
    assert all(text_width(line, size=14) <= width for line in wrap(text, size=14, width=width))


@given(st.lists(st.text(alphabet="abcdefgh", min_size=1, max_size=6), min_size=1))
def test_wrapping_loses_no_word(parts: list[str]) -> None:
    text = " ".join(parts)
    assert " ".join(wrap(text, size=10, width=120)) == text


def test_a_number_keeps_its_per_cent_sign() -> None:
    assert wrap("asks for 70 %", size=10, width=55) == ["asks for", "70\u00a0%"]


def test_shortening_ends_with_an_ellipsis() -> None:
    assert re.fullmatch(r"second sur.*…", shorten("second surgery on the knee", size=10, width=90))
    assert shorten("second", size=10, width=90) == "second"
