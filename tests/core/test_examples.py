"""The running example in each docstring is a test."""

import doctest
from importlib import import_module
from pathlib import Path

import outcomes.core
from tests.core.tables import every_case

FOLDER = Path(next(iter(outcomes.core.__path__)))
MODULES = sorted(path.stem for path in FOLDER.glob("*.py") if ">>>" in path.read_text())


@every_case("name", MODULES)
def test_examples(name):
    found = doctest.testmod(import_module(f"outcomes.core.{name}"))
    assert found.attempted > 0
    assert found.failed == 0
