"""The written schema of the calls says what the code does: nothing more is taken, nothing less."""

import json
from pathlib import Path
from typing import Any

from outcomes.queries.compute import answer_line
from outcomes.queries.compute_calls import CALLS
from tests.core.tables import every_case

FOLDER = Path(__file__).parents[2] / "fixtures" / "examples"
SCHEMA = json.loads((FOLDER / "compute.schema.json").read_text(encoding="utf-8"))["$defs"]
EXAMPLES = [
    json.loads(line) for line in (FOLDER / "compute.jsonl").read_text(encoding="utf-8").splitlines()
]
SENT: list[dict[str, Any]] = [example["call"] for example in EXAMPLES]
each_call = every_case("call", SENT, ids=lambda call: call["calc"])


def answered(call: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(answer_line(line=json.dumps(call))[0])
    return found


def is_taken(call: dict[str, Any]) -> bool:
    return bool(answered(call)["ok"])


def keys_of(call: dict[str, Any]) -> dict[str, Any]:
    """What the schema says of each key that the call has, references followed."""
    written = SCHEMA[call["calc"]]["properties"]
    named = {key: written[key].get("$ref", "").rpartition("/")[2] for key in without(call, "calc")}
    return {key: SCHEMA[name] if name else written[key] for key, name in named.items()}


def without(call: dict[str, Any], *keys: str) -> dict[str, Any]:
    return {key: value for key, value in call.items() if key not in keys}


def test_the_schema_knows_the_calls_of_the_code_and_no_others() -> None:
    known = {name for name, one in SCHEMA.items() if "calc" in one.get("properties", {})}
    assert known == set(CALLS)
    assert {name.removesuffix(".answer") for name in SCHEMA if name.endswith(".answer")} == known
    assert [SCHEMA[name]["properties"]["calc"] for name in CALLS] == [
        {"const": name} for name in CALLS
    ]


@each_call
def test_only_the_keys_that_may_be_left_out_may_be_left_out(call: dict[str, Any]) -> None:
    one = SCHEMA[call["calc"]]
    needed = {*one["required"], *next((form["required"] for form in one.get("oneOf", [])
                                       if set(form["required"]) <= set(call)), [])}  # fmt: skip
    together = one.get("dependentRequired", {})
    for key in keys_of(call):
        left = without(call, key)
        assert is_taken(left) is (key not in needed and key not in together), key
        assert is_taken(without(call, key, *together.get(key, []))) is (key not in needed), key


@each_call
def test_no_other_key_is_taken(call: dict[str, Any]) -> None:
    assert SCHEMA[call["calc"]]["additionalProperties"] is False
    assert not is_taken({**call, "note": 1})


@each_call
def test_every_key_takes_what_the_schema_says_and_refuses_the_rest(call: dict[str, Any]) -> None:
    assert is_taken(call)
    for key, says in keys_of(call).items():
        other_kind: list[Any] = [None, True, {"x": 1}, [1], "" if "enum" in says else -0.5]
        if says.get("type") == "number":
            other_kind = [None, True, {}, [1], "1"]
        assert [bad for bad in wrong_for(says, other_kind) if is_taken({**call, key: bad})] == []
        fine = [says[bound] for bound in ("minimum", "maximum") if bound in says]
        assert [good for good in fine if not is_taken({**call, key: good})] == []


def wrong_for(says: dict[str, Any], other_kind: list[Any]) -> list[Any]:
    """Values just beyond the bounds, and of another kind."""
    found = list(other_kind)
    found += [says[one] - 0.001 for one in ("minimum", "exclusiveMinimum") if one in says]
    found += [says[one] + 0.001 for one in ("maximum", "exclusiveMaximum") if one in says]
    return found + [says[one] for one in ("exclusiveMinimum", "exclusiveMaximum") if one in says]


@each_call
def test_every_word_of_a_list_is_taken(call: dict[str, Any]) -> None:
    for key, says in keys_of(call).items():
        for word in says.get("enum", ()):
            changed = {**call, key: word}
            if call["calc"] == "convert":
                changed["from"] = changed["to"] = word
            assert is_taken(changed), (key, word)


@each_call
def test_the_answer_has_the_keys_that_are_written(call: dict[str, Any]) -> None:
    written = SCHEMA[f"{call['calc']}.answer"]
    found = answered(call)
    assert set(written["required"]) <= set(found) <= set(written["properties"])


def test_no_index_is_null_with_a_reason_and_before_the_date_there_is_no_week() -> None:
    nothing = next(call for call in SENT if call["calc"] == "symmetry")
    for name, more in (
        ("symmetry", {}),
        ("symmetry_error", {"cv_involved": 0.05, "cv_other": 0.05}),
        ("compare", {"operator": ">=", "threshold": 90}),
    ):
        found = answered({**nothing, **more, "calc": name, "involved": 5, "other": 0})
        assert set(found) <= set(SCHEMA[f"{name}.answer"]["properties"])
        numbers = [value for key, value in found.items() if key not in ("ok", "reason")]
        assert (found["ok"], set(numbers)) == (True, {None})
        assert found["reason"] == "there is no index: the value divided by is 0"
    early = {"calc": "weeks_since", "index_date": "2026-03-02", "on": "2026-03-01"}
    assert answered(early) == {"ok": True, "days": -1, "weeks": None, "before": True}
