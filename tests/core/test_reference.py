"""Every check against an outside number, and worked examples of our own in the same form."""

import ast
import tomllib
from pathlib import Path

from outcomes.queries.verify import KINDS, run, verified, without_checks
from tests.core.tables import every_case

CORE = Path(__file__).parents[2] / "outcomes" / "core"
OWN = tomllib.loads(Path(__file__).with_name("made_up.toml").read_text(encoding="utf-8"))["check"]


def test_every_number_from_outside_is_met_and_every_error_in_print_is_not_followed():
    assert [check for check in verified() if not check.ok] == []


def test_there_are_enough_of_them_and_most_were_published():
    checks = verified()
    outside = [check for check in checks if check.kind in ("published", "standard")]
    assert (len(checks) >= 150, len(outside) >= 80) == (True, True)
    assert {check.kind for check in checks} == set(KINDS)
    assert [check.id for check in checks if not check.source] == []
    ids = [check.id for check in checks]
    assert len(set(ids)) == len(ids)


def test_what_is_wrong_in_print_says_what_is_the_matter():
    wrong = {check.id for check in verified() if not check.trust}
    assert wrong == {check.id for check in verified() if check.wrong}
    assert {"reliable-change-1984", "mdc95-sit-to-stand", "footnote-hamstrings"} < wrong


@every_case("check", OWN, ids=lambda check: check["id"])
def test_worked_examples_of_our_own(check):
    found = run({"kind": "", **check}, topic=check["topic"])
    assert found.ok, found


def public_functions() -> set[str]:
    found = set()
    for path in CORE.glob("*.py"):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                found.add(f"{path.stem}.{node.name}")
    return found


def test_every_function_of_the_core_has_a_check_or_says_why_none_was_found():
    checked = {check.function.removeprefix("outcomes.core.") for check in verified()}
    excused, modules = without_checks(), {name.partition(".")[0] for name in public_functions()}
    functions = public_functions()
    assert checked - functions == set()
    open_ones = {
        name
        for name in functions - checked
        if name not in excused and name.partition(".")[0] not in excused
    }
    assert open_ones == set()
    assert {name for name in excused if name not in functions | modules} == set()
    assert {name for name in excused if name in checked} == set()
    assert [why for why in excused.values() if not why.startswith("none found")] == []
