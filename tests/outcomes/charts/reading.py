"""Reading a drawing back: its elements, its words with their boxes, and the rules all keep."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from xml.etree import ElementTree

from outcomes.charts.svg import text_width

SVG = "{http://www.w3.org/2000/svg}"


def parsed(svg: str) -> ElementTree.Element:
    """The drawing as a tree; raises where it is not well-formed."""
    return ElementTree.fromstring(svg)


def find(svg: str, name: str, **attributes: str) -> list[ElementTree.Element]:
    """Elements by name and attributes, in drawing order."""
    return [
        element
        for element in parsed(svg).iter(f"{SVG}{name}")
        if all(element.get(key.replace("_", "-")) == value for key, value in attributes.items())
    ]


def texts(svg: str) -> list[str]:
    """The words drawn, without the title."""
    return ["".join(element.itertext()) for element in find(svg, "text")]


@dataclass(frozen=True, kw_only=True)
class Box:
    """Where a line of words stands."""

    text: str
    left: float
    right: float
    top: float
    bottom: float

    def meets(self, other: "Box") -> bool:
        """Whether the two overlap by more than half a unit."""
        across = min(self.right, other.right) - max(self.left, other.left)
        down = min(self.bottom, other.bottom) - max(self.top, other.top)
        return across > 0.5 and down > 0.5


def _walk(
    element: ElementTree.Element, x: float = 0, y: float = 0
) -> Iterator[tuple[ElementTree.Element, float, float]]:
    moved = re.match(r"translate\(([-\d.]+) ([-\d.]+)\)", element.get("transform", ""))
    if moved:
        x, y = x + float(moved[1]), y + float(moved[2])
    yield element, x, y
    for child in element:
        yield from _walk(child, x, y)


def boxes(svg: str) -> list[Box]:
    """The box of every line of words, from the upper bound of its width."""
    found = []
    for element, x, y in _walk(parsed(svg)):
        if element.tag != f"{SVG}text":
            continue
        size, text = float(element.get("font-size", "0")), "".join(element.itertext())
        width = text_width(text, size=size)
        share = {"start": 0.0, "middle": 0.5, "end": 1.0}[element.get("text-anchor", "start")]
        left, base = (
            x + float(element.get("x", "0")) - share * width,
            y + float(element.get("y", "0")),
        )
        top, bottom = base - 0.75 * size, base + 0.2 * size
        found.append(Box(text=text, left=left, right=left + width, top=top, bottom=bottom))
    return found


def assert_rules(svg: str, title: str) -> None:
    """Title first, no class, style, script or id, and words that neither collide nor leave."""
    root = parsed(svg)
    assert root.tag == f"{SVG}svg"
    assert root[0].tag == f"{SVG}title"
    assert root[0].text == title
    assert root.get("role") == "img" or root.get("aria-hidden") == "true"
    used = {key for element in root.iter() for key in element.attrib}
    assert used & {"class", "style", "id", "href", "onload"} == set()
    _, _, width, height = (float(part) for part in root.get("viewBox", "").split())
    words = boxes(svg)
    outside = [
        box for box in words
        if box.left < -0.5 or box.right > width + 0.5 or box.top < -0.5 or box.bottom > height + 0.5
    ]  # fmt: skip
    assert outside == []
    assert [(a, b) for a, b in combinations(words, 2) if a.meets(b)] == []
