"""Lines for ``compute``, sensible and not; ``python -m tests.tools.lines 20000`` sends so many."""

import json
import re
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from outcomes.queries.compute import answer_line

EXAMPLES = Path(__file__).parents[2] / "fixtures" / "examples" / "compute.jsonl"
CALLED = [json.loads(line)["call"] for line in EXAMPLES.read_text(encoding="utf-8").splitlines()]
KEYS = sorted({key for call in CALLED for key in call})
WORDS = (
    "higher", "lower", "N", "kgf", "lbf", "m", "cm", "in", "kg", "lb", "left", "right", "front",
    "back", ">", ">=", "<", "<=", "2026-03-02", "2026-04-13", "[lbf_av]", "N.m", "deg", "s", "koos",
    "ikdc", "lysholm", "psfs", "points", "zero_best", "",
)  # fmt: skip
NUMBERS = st.one_of(
    st.integers(-3, 300),
    st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from([0.9, 0.95, 0.05, 1e400, 10**40, 1e-30]),
)
A_NUMBER = re.compile(r"(?<=[ \[])-?[0-9.]+(?=[,}\]])")
WRITTEN = (
    "-0", "1E+2", "1e400", "-1e-400", "0e999999", "1e999999999999999999999", "9" * 5000,
    "1e-99999999999999999999", "0." + "0" * 5000 + "1", "NaN", "-Infinity", "00", "1.", "+1",
    '"\\ud800"',
)  # fmt: skip
POINT = st.lists(NUMBERS, min_size=2, max_size=2)
ANSWERS = st.dictionaries(
    st.sampled_from(["1", "2", "9a", "P1", "Q4", "SP5", "nope"]), st.one_of(st.none(), NUMBERS)
)
VALUES = st.one_of(
    NUMBERS, NUMBERS, st.sampled_from(WORDS), st.none(), st.booleans(), st.text(max_size=5), POINT,
    st.lists(POINT, min_size=2, max_size=2), ANSWERS,
)  # fmt: skip


def any_line() -> st.SearchStrategy[str]:
    """Any text, and any JSON."""
    json_values = st.recursive(VALUES, lambda inner: st.lists(inner, max_size=3), max_leaves=5)
    return st.one_of(st.text(max_size=40), json_values.map(json.dumps))


def call_line() -> st.SearchStrategy[str]:
    """An example with up to two of its keys, or of another call's, changed."""
    changes = st.dictionaries(st.sampled_from(KEYS), VALUES, max_size=2)
    sizes = st.integers(1, 4000).map(lambda size: size / 1000)
    return st.builds(_changed, st.sampled_from(CALLED), changes, sizes)


def nested_line() -> st.SearchStrategy[str]:
    """An example with one thing inside its objects and lists replaced, added or taken away."""
    nested = [call for call in CALLED if any(isinstance(one, dict | list) for one in call.values())]
    return st.builds(
        _replaced, st.sampled_from(nested), st.integers(0, 10**6), VALUES, st.booleans()
    )


def _replaced(call: dict[str, Any], which: int, value: Any, gone: bool) -> str:
    copy = json.loads(json.dumps(call))
    places = list(_places(copy))
    holder, key = places[which % len(places)]
    if gone:
        del holder[key]
    else:
        holder[key] = value
    return json.dumps(copy)


def _places(part: Any) -> Iterator[tuple[Any, Any]]:
    """Everything inside, by what holds it and under which key or number."""
    keys = (
        list(part) if isinstance(part, dict) else range(len(part) if isinstance(part, list) else 0)
    )
    for key in keys:
        yield part, key
        yield from _places(part[key])


def odd_number_line() -> st.SearchStrategy[str]:
    """An example with one of its numbers written as no program would write it."""
    return st.builds(
        _rewritten, st.sampled_from(CALLED), st.sampled_from(WRITTEN), st.integers(0, 9)
    )


def _rewritten(call: dict[str, Any], number: str, which: int) -> str:
    text = json.dumps(call)
    places = [found.span() for found in A_NUMBER.finditer(text)] or [(0, 1)]
    start, end = places[which % len(places)]
    return text[:start] + number + text[end:]


def _changed(call: dict[str, Any], changes: dict[str, Any], size: float) -> str:
    scaled = {
        key: value * size if isinstance(value, int | float) else value
        for key, value in call.items()
    }
    return json.dumps({**scaled, **changes})


def main(number: int) -> None:
    """Send so many lines; the first that breaks raises."""
    sent = {"ok": 0, "refused": 0}

    @settings(max_examples=number, deadline=None, suppress_health_check=list(HealthCheck))
    @given(line=st.one_of(any_line(), call_line(), nested_line(), odd_number_line()))
    def send(line: str) -> None:
        text, ok = answer_line(line=line)
        json.loads(text)
        sent["ok" if ok else "refused"] += 1

    start = time.monotonic()
    send()
    print(f"{sum(sent.values())} lines, {sent} in {time.monotonic() - start:.0f} s")


if __name__ == "__main__":
    main(int(sys.argv[1]))
