"""The running example in each docstring is a test."""

import doctest
from importlib import import_module
from pathlib import Path

import pytest

import outcomes.core

FOLDER = Path(next(iter(outcomes.core.__path__)))
MODULES = sorted(path.stem for path in FOLDER.glob("*.py") if ">>>" in path.read_text())


@pytest.mark.parametrize("name", MODULES)
def test_examples(name):
    found = doctest.testmod(import_module(f"outcomes.core.{name}"))
    assert found.attempted > 0
    assert found.failed == 0
