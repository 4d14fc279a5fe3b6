"""Files from elsewhere are the ones that VENDOR.txt names, and the fonts draw what they claim."""

import hashlib
import re
from importlib.resources import files
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont

ROOT = Path(__file__).parent.parent
FONTS = ROOT / "static/vendor/fonts"
FACE = re.compile(
    r'font-family: "(?P<family>[^"]+)";\s+src: url\("\.\./vendor/fonts/(?P<file>[^"]+)"\)'
    r"[^;]*;(?P<rest>[^}]*)}"
)


@pytest.mark.parametrize("folder", ["static/vendor", "tests/vendor"])
def test_every_file_has_its_sum(folder):
    lines = (ROOT / folder / "VENDOR.txt").read_text(encoding="utf-8").splitlines()
    rows = [line.split(" | ") for line in lines if line.count(" | ") == 4 and len(line) > 100]
    kept = {
        str(path.relative_to(ROOT / folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in (ROOT / folder).rglob("*")
        if path.is_file() and path.name != "VENDOR.txt"
    }
    assert {row[0]: row[4] for row in rows} == kept
    assert [row[0] for row in rows if not row[3].strip()] == []


def test_plotly_is_the_file_of_the_locked_package():
    locked = files("plotly") / "package_data" / "plotly.min.js"
    assert (ROOT / "static/vendor/plotly.min.js").read_bytes() == locked.read_bytes()


def _faces() -> list[dict[str, str]]:
    css = (ROOT / "static/css/fonts.css").read_text(encoding="utf-8")
    return [match.groupdict() for match in FACE.finditer(css)]


def _drawn_by(name: str) -> set[int]:
    return set(TTFont(FONTS / name).getBestCmap())


def test_each_font_file_has_a_family_and_weight_of_its_own():
    """Two files under one family and weight come out of the PDF library with swapped glyphs."""
    faces = _faces()
    assert sorted(face["file"] for face in faces) == sorted(p.name for p in FONTS.glob("*.woff2"))
    kinds = [
        (face["family"], "".join(re.findall(r"font-weight: ([^;]+)", face["rest"])))
        for face in faces
    ]
    assert len(set(kinds)) == len(kinds) == 5


def test_a_claimed_range_is_drawn_whole():
    """A claimed sign that the file lacks is a missing glyph in a letter."""
    claimed = [face for face in _faces() if "unicode-range" in face["rest"]]
    assert [face["family"] for face in claimed] == ["Ledger Han"]
    for face in claimed:
        spans = re.findall(r"U\+([0-9A-F]+)(?:-([0-9A-F]+))?", face["rest"])
        wanted = {n for low, high in spans for n in range(int(low, 16), int(high or low, 16) + 1)}
        assert wanted - _drawn_by(face["file"]) == set()


@pytest.mark.parametrize(
    "name",
    [
        "Zażółć Đorđević Šťastná Øystein Ğüneş",
        "Ελένη Ὀδυσσεύς",
        "Đặng Thị Ngọc Ưng",
        "张伟 陳",
        "Иван",
    ],
)
def test_names_of_many_scripts_can_be_drawn(name):
    drawn = set().union(*(_drawn_by(face["file"]) for face in _faces()))
    assert {sign for sign in name if ord(sign) not in drawn} == set()
