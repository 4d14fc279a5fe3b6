"""What two rooms say alike because neither may ask the other, and examples outside the core."""

import doctest
from datetime import date
from importlib import import_module
from pathlib import Path

import pytest

from clinic import words
from outcomes.catalogue.order import ORDER
from outcomes.catalogue.seeds import load_catalogue
from outcomes.core.sentences import day_in_words

ROOT = Path(__file__).parent.parent.parent
MODULES = sorted(
    ".".join(path.relative_to(ROOT).with_suffix("").parts)
    for app in ("clinic", "outcomes")
    for path in (ROOT / app).rglob("*.py")
    if "core" not in path.parts and ">>> " in path.read_text(encoding="utf-8")
)


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_hold(name):
    found = doctest.testmod(import_module(name))
    assert found.attempted > 0
    assert found.failed == 0


@pytest.mark.parametrize("month", range(1, 13))
def test_the_core_writes_a_date_as_the_pages_do(month):
    day = date(2026, month, 3)
    assert day_in_words(iso=day.isoformat()) == words.day(day)


def test_every_shipped_measure_has_its_place_in_a_visit():
    assert sorted(ORDER) == sorted(load_catalogue())
