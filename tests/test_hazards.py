"""HAZARDS.md: each hazard has its control and tests that are there and run."""

import ast
import re
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
LOG = (ROOT / "HAZARDS.md").read_text(encoding="utf-8")
HEAD = re.compile(r"^## (H\d\d) (.+)$", re.MULTILINE)
PARTS = ["Severity", "Harm", "Control", "Test", "Open"]
IN_A_BROWSER = "tests/journeys/"

Function = ast.FunctionDef | ast.AsyncFunctionDef


def hazards(log: str) -> dict[str, list[tuple[str, str]]]:
    """The lines of each hazard by its number, as pairs of a name and a text."""
    pieces = HEAD.split(log)[1:]
    return {
        number: re.findall(r"^- (\w+): (.+)$", body, re.MULTILINE)
        for number, body in zip(pieces[::3], pieces[2::3], strict=True)
    }


@cache
def running_tests(path: str) -> tuple[str, ...]:
    """The tests that a file has at its top level; one that is always skipped is none."""
    file = ROOT / path
    if not (file.is_file() and file.name.startswith("test_") and path.startswith("tests/")):
        return ()
    tree = ast.parse(file.read_text(encoding="utf-8"))
    return tuple(
        node.name
        for node in tree.body
        if isinstance(node, Function) and node.name.startswith("test_") and not _left_out(node)
    )


def _left_out(test: Function) -> bool:
    marks = [ast.unparse(one).partition("(")[0] for one in test.decorator_list]
    return any(mark.rpartition(".")[2] in ("skip", "skipif", "xfail") for mark in marks)


def faults(log: str) -> list[str]:
    """What is wrong with a hazard log, one line each."""
    found = []
    for number, lines in hazards(log).items():
        names = list(dict.fromkeys(name for name, _ in lines))
        if names != PARTS:
            found.append(f"{number}: has {names}")
        tests = [text for name, text in lines if name == "Test"]
        for one in tests:
            path, _, test = one.partition("::")
            if running_tests(path).count(test) != 1:
                found.append(f"{number}: {one} is not a test that runs")
        if all(one.startswith(IN_A_BROWSER) for one in tests):
            found.append(f"{number}: has no test outside the browser")
    return found


def test_every_hazard_has_a_control_and_tests_that_run():
    assert faults(LOG) == []


def test_numbers_are_given_once_and_in_order():
    numbers = [number for number, _ in HEAD.findall(LOG)]
    assert numbers == [f"H{n:02}" for n in range(1, len(numbers) + 1)]
    assert len(numbers) >= 18
    assert LOG.count("\n## ") == len(numbers)


SOUND = """
## H01 Something
- Severity: 1
- Harm: it hurts.
- Control: something.
- Test: tests/test_hazards.py::test_every_hazard_has_a_control_and_tests_that_run
- Open: nothing.
"""
NO_BROWSER = "H01: has no test outside the browser"


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("", "", []),
        (r"- Test: .*\n", "", [
            "H01: has ['Severity', 'Harm', 'Control', 'Open']", NO_BROWSER]),
        (r"- Open: .*\n", "", ["H01: has ['Severity', 'Harm', 'Control', 'Test']"]),
        ("that_run", "that_ran", [
            "H01: tests/test_hazards.py::test_every_hazard_has_a_control_and_tests_that_ran "
            "is not a test that runs"]),
        ("::test_every.*", "::faults", ["H01: tests/test_hazards.py::faults is not a test that "
                                        "runs"]),
        (r"tests/test_hazards.py::.*", "tests/conftest.py::cast", [
            "H01: tests/conftest.py::cast is not a test that runs"]),
        (r"tests/test_hazards.py::.*",
         "tests/journeys/test_watcher.py::test_a_quiet_page_is_quiet", [NO_BROWSER]),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_log_is_found(old, new, expected):
    assert faults(re.sub(old, new, SOUND) if old else SOUND) == expected


def test_a_test_that_never_runs_is_none():
    tree = ast.parse("@pytest.mark.skip(reason='x')\ndef test_a(): pass\ndef test_b(): pass")
    assert [_left_out(node) for node in tree.body if isinstance(node, Function)] == [True, False]


def test_no_table_or_file_from_elsewhere_is_read_into_the_record():
    """An import would need a hazard control of its own, as a picture has; not so the demo."""
    reads = re.compile(r"\bcsv\.(reader|DictReader)|\b(File|Image)Field\b|\.FILES\b")
    found = [
        f"{path.relative_to(ROOT)}: {match.group()}"
        for room in ("clinic", "outcomes")
        for path in sorted((ROOT / room).rglob("*.py"))
        if "demo" not in path.parts
        for match in reads.finditer(path.read_text(encoding="utf-8"))
    ]
    files = [
        str(path.relative_to(ROOT))
        for path in (ROOT / "templates").rglob("*.html")
        if 'type="file"' in path.read_text(encoding="utf-8")
    ]
    of_pictures = [
        "outcomes/forms/kept_pictures.py: FileField",
        "outcomes/views/kept_pictures.py: .FILES",
    ]
    assert (found, files) == (of_pictures, ["templates/outcomes/picture.html"])
