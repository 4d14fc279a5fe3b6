"""Our arithmetic against numbers that somebody else printed: every check, run anew.

The checks stand in ``fixtures/reference``, a file for each topic. Most are calls as ``compute``
takes them; a few call a function of the core by its name. A check that is not to be trusted holds
a number that is wrong in print: it is ok when ours differs from it.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass, is_dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any, Final

from outcomes.queries.compute import answer, read, written

FOLDER: Final = Path(__file__).parents[2] / "fixtures" / "reference"
COVERAGE: Final = "functions.toml"
KINDS: Final = ("published", "standard", "reference library", "common practice", "from memory")


@dataclass(frozen=True, kw_only=True, slots=True)
class Verified:
    """One check as it came out. ``trust``: whether the printed number is held to be right."""

    id: str
    topic: str
    function: str
    source: str
    kind: str
    expected: str
    computed: str
    tolerance: str
    ok: bool
    trust: bool = True
    wrong: str = ""

    def as_json(self) -> dict[str, Any]:
        """The row as plain values."""
        return asdict(self)


@cache
def verified() -> tuple[Verified, ...]:
    """Every check, in the order of topics and files. Pure: run once for a process."""
    return tuple(run(check, topic=topic) for topic, checks in _topics() for check in checks)


def without_checks() -> Mapping[str, str]:
    """Functions and modules of the core for which no outside number was found, each with why."""
    found: dict[str, str] = _load(FOLDER / COVERAGE)["none_found"]
    return found


def _topics() -> Iterator[tuple[str, list[dict[str, Any]]]]:
    for path in sorted(FOLDER.glob("*.toml")):
        if path.name != COVERAGE:
            content = _load(path)
            yield content["topic"], content["check"]


def _load(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def run(check: Mapping[str, Any], *, topic: str) -> Verified:
    """One check as it comes out. Raises ``Refused`` for a call that cannot be answered."""
    computed = _computed(check)
    tolerance, trust = Decimal(check["tolerance"]), check.get("trust", True)
    near = all(
        _near(_at(computed, path), expected, tolerance=tolerance)
        for path, expected in check["expect"].items()
    )
    return Verified(
        id=check["id"],
        topic=topic,
        function=check["function"],
        source=check["source"],
        kind=check.get("kind", ""),
        expected=_words(check["expect"]),
        computed=_words({path: _text(_at(computed, path)) for path in check["expect"]}),
        tolerance=check["tolerance"],
        ok=near is trust,
        trust=trust,
        wrong=check.get("wrong", ""),
    )


def _computed(check: Mapping[str, Any]) -> Mapping[str, Any]:
    if "call" in check:
        return answer(asked=read(line=check["call"]))
    module, _, name = check["function"].rpartition(".")
    function: Callable[..., Any] = getattr(import_module(module), name)
    arguments = {key: _argument(text) for key, text in check["arguments"].items()}
    found = function(**arguments)
    whole = is_dataclass(found) and not isinstance(found, type)
    return asdict(found) if whole else {"result": found}


def _argument(text: Any) -> Any:
    """A date, a whole number or a number, as it is written; a list is a list of these."""
    if isinstance(text, list):
        return [_argument(one) for one in text]
    if len(text) == 10 and text[4] == "-":
        return date.fromisoformat(text)
    return int(text) if text.isdigit() else Decimal(text)


def _at(answered: Mapping[str, Any], path: str) -> Any:
    value: Any = answered
    for key in path.split("."):
        found = {one["code"]: one for one in value} if isinstance(value, list) else value
        value = found[key]
    return value


def _near(value: object, expected: str, *, tolerance: Decimal) -> bool:
    if value is None or isinstance(value, bool | str | date):
        return _text(value) == expected
    try:
        wanted = Decimal(expected)
    except InvalidOperation:
        return False
    found = Fraction(value) if isinstance(value, int | float | Decimal) else value
    return isinstance(found, Fraction) and abs(found - Fraction(wanted)) <= Fraction(tolerance)


def _text(value: object) -> str:
    if isinstance(value, str | date):
        return str(value)
    return written(value)


def _words(found: Mapping[str, str]) -> str:
    """One value alone, several with their names."""
    if len(found) == 1:
        return next(iter(found.values()))
    return ", ".join(f"{_named(path)} {text}" for path, text in found.items())


def _named(path: str) -> str:
    """What a value is called: by its own name, a result or a state by what it is of."""
    parts = path.split(".")
    return parts[-2] if len(parts) > 1 and parts[-1] in ("result", "state") else parts[-1]


def as_json() -> str:
    """All checks as a JSON list."""
    return json.dumps([check.as_json() for check in verified()], indent=1, ensure_ascii=False)
