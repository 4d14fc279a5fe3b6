"""The calls that an auditor may send: the contract, what is refused, and that nothing breaks."""

import json
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from outcomes.queries.compute import answer_bytes, answer_line
from outcomes.queries.compute_calls import CALLS
from tests.core.tables import every_case
from tests.tools.lines import any_line, call_line, nested_line, odd_number_line

ROOT = Path(__file__).parents[2]
EXAMPLES = [
    json.loads(line)
    for line in (ROOT / "fixtures/examples/compute.jsonl").read_text(encoding="utf-8").splitlines()
]
SYMMETRY: dict[str, Any] = {"calc": "symmetry", "involved": 142, "other": 160, "better": "higher"}
TORQUE: dict[str, Any] = {
    "calc": "torque", "force": 420, "force_unit": "N", "lever_arm": 34, "lever_arm_unit": "cm",
}  # fmt: skip


def asked(call: object) -> tuple[dict[str, Any], bool]:
    text, ok = answer_line(line=call if isinstance(call, str) else json.dumps(call))
    assert "\n" not in text
    return json.loads(text), ok


@every_case("example", EXAMPLES, ids=lambda one: one["call"]["calc"])
def test_the_examples_answer_as_they_say(example: dict[str, Any]) -> None:
    assert asked(example["call"]) == (example["answer"], True)


def test_there_is_an_example_of_every_call_but_the_catalogue() -> None:
    shown = {example["call"]["calc"] for example in EXAMPLES}
    assert shown == set(CALLS) - {"catalogue"}


def test_the_catalogue_is_all_that_is_shipped() -> None:
    found, _ = asked({"calc": "catalogue"})
    assert len(found["instruments"]) == 19
    codes = [measure["code"] for measure in found["measures"]]
    assert ("standing_hip_hold" in codes, len(codes) == len(set(codes))) == (True, True)


def test_decimals_are_kept_exact_and_numbers_that_do_not_end_have_many_digits() -> None:
    line = '{"calc":"symmetry","involved":0.1,"other":0.3,"better":"higher"}'
    assert answer_line(line=line)[0].startswith('{"ok": true, "value": 33.33333333333333333333')
    long = "123456789.123456789012345678901234567890123456789012345678901"
    line = f'{{"calc":"convert","value":{long},"from":"m","to":"cm"}}'
    assert answer_line(line=line)[0] == f'{{"ok": true, "value": {_moved(long)}}}'
    line = '{"calc":"compare","value":89.99999999999999999999,"operator":">=","threshold":90}'
    assert asked(line)[0]["result"] == "not_met"


def _moved(number: str) -> str:
    """The number times a hundred, by moving its point."""
    whole, _, part = number.partition(".")
    return f"{whole}{part[:2]}.{part[2:].rstrip('0')}"


def test_all_fields_of_the_catalogue_come_with_numbers_as_numbers() -> None:
    found, _ = asked({"calc": "catalogue"})
    hop = next(one for one in found["measures"] if one["code"] == "single_hop")
    assert (hop["hard"], hop["cap"], hop["entry_units"][:1]) == ([0, 300], None, ["cm"])
    koos = next(one for one in found["instruments"] if one["code"] == "koos")
    assert koos["items"][0] == {"code": "S1", "answers": [0, 1, 2, 3, 4]}
    assert "by_code" not in koos


@every_case(
    ("line", "ok"),
    [
        (b'\xef\xbb\xbf{"calc":"jump_height","flight_time_s":0.4}\r\n', True),
        (b'{"calc":"jump_height","flight_time_s":0.4}', True),
        (b'{"calc":"jump_height\xff"}\n', False),
        (b"\n", False),
    ],
)
def test_a_line_comes_as_utf_8_with_or_without_mark_and_line_end(line: bytes, ok: bool) -> None:
    text, found = answer_bytes(line=line)
    assert (found, json.loads(text)["ok"]) == (ok, ok)


def test_what_is_repeated_of_a_line_can_be_read_by_any_reader() -> None:
    line = json.dumps({**SYMMETRY, "better": "\ud800\udbff", "involved": 1})
    text, _ = answer_line(line=line)
    json.loads(text)["error"].encode("utf-8")


@every_case(
    ("call", "says"),
    [
        ("", "Send one JSON object a line"),
        ("[1]", "Send one JSON object a line"),
        ("[" * 10_000, "brackets are nested too deep"),
        ('{"calc": "jump_height", "flight_time_s": ' + "[" * 10_000, "nested too deep"),
        ({}, 'Name the calculation: send "calc" as one of weeks_since,'),
        ({"calc": ["symmetry"]}, 'a list is not known: send "calc"'),
        ({"calc": "sym"}, '"sym" is not known: send "calc" as one of'),
        ({**SYMMETRY, "better": "more"}, '"better" cannot be "more": send one of "higher",'),
        ({**SYMMETRY, "involved": "142"}, '"involved" cannot be "142": send a number at least 0.'),
        ({**SYMMETRY, "involved": True}, '"involved" cannot be true: send a number'),
        ({**SYMMETRY, "involved": None}, '"involved" cannot be null: send a number'),
        ({**SYMMETRY, "involved": -1}, '"involved" cannot be -1: send a number at least 0.'),
        ({**SYMMETRY, "limb": "left"}, 'The key "limb" is not known here: leave it out.'),
        ({"calc": "symmetry", "involved": 1, "better": "higher"}, 'The key "other" is missing'),
        ('{"calc":"jump_height","flight_time_s":NaN}', "NaN is no number: send a number"),
        ('{"calc":"jump_height","flight_time_s":-Infinity}', "-Infinity is no number"),
        ('{"calc":"jump_height","flight_time_s":1e400}', "is too large, too small or too long"),
        ('{"calc":"jump_height","flight_time_s":1e-400}', "is too large, too small or too long"),
        ('{"calc":"jump_height","flight_time_s":' + "9" * 5000 + "}", "is too large"),
        ('{"calc":"jump_height","flight_time_s":1,"flight_time_s":1}', "stands there twice"),
        ('{"calc":"jump_height","flight_time_s":1e999999999999999999999}', "send numbers such as"),
        ('{"calc":"jump_height","flight_time_s":1e-99999999999999999999}', "send numbers such as"),
        ('{"calc":"jump_height","flight_time_s":0e-999999}', "is too large, too small or too long"),
        ('{"calc":"\\ud800"}', '"?" is not known: send "calc" as one of'),
        ({**TORQUE, "force": -420}, '"force" cannot be -420: send a number above 0.'),
        ({**TORQUE, "lever_arm": 0}, '"lever_arm" cannot be 0: send a number above 0.'),
        ({**TORQUE, "force_unit": "kg"}, '"force_unit" cannot be "kg": send one of "N", "kgf",'),
        ({**TORQUE, "body_mass": 70}, 'The key "body_mass_unit" is missing: send one of "kg",'),
        ({**TORQUE, "body_mass_unit": "kg"}, 'The key "body_mass_unit" is not known here'),
        ({"calc": "standard_error_of_measurement", "sd": 1, "icc": 1.01}, "at most 1."),
        ({"calc": "minimal_detectable_change", "sem": 1, "confidence": 0.99}, "send 0.90 or 0.95"),
        (
            {**SYMMETRY, "calc": "symmetry_error", "cv_involved": 5, "cv_other": 0.05},
            '"cv_involved" cannot be 5: send a number at least 0 and at most 1.',
        ),
        (
            {"calc": "reliable_change", "before": 1, "after": 2, "sd": 1, "reliability": 1},
            "send a number at least 0 and below 1.",
        ),
        ({"calc": "weeks_since", "index_date": "2026-02-30", "on": "2026-03-01"}, "send a date"),
        ({"calc": "weeks_since", "index_date": "20260302", "on": "2026-03-01"}, "send a date"),
        ({"calc": "heel_height_to_degrees", "height_cm": 50, "lever_cm": 45}, "at least as long"),
        ({"calc": "pelvic_drop", "stance": [1], "swing": [2, 3]}, "send a point as two numbers"),
        ({"calc": "pelvic_drop", "stance": [1, 1], "swing": [1, 9]}, "side by side"),
        ({"calc": "convert", "value": 1, "from": "kg", "to": "N"}, "Type a force in N"),
        ({"calc": "convert", "value": 1, "from": "stone", "to": "kg"}, '"from" cannot be "stone"'),
        ({"calc": "instrument", "instrument": "koos", "answers": {"P1": 5}}, "takes 0, 1, 2, 3 or"),
        ({"calc": "instrument", "instrument": "koos", "answers": {"P1": "1"}}, "a number or null"),
        ({"calc": "instrument", "instrument": "koos", "answers": [1]}, "the numbered answers"),
        ({"calc": "instrument", "instrument": "eq5d", "answers": {}}, '"instrument" cannot be'),
        (
            {"calc": "instrument", "instrument": "ikdc", "answers": {}, "layout": "x"},
            "points, zero_best, ten_best",
        ),
        ({"calc": "compare", "operator": ">=", "threshold": 90}, 'The key "value" is missing'),
        ({"calc": "compare", "value": 1, "operator": "=", "threshold": 90}, '"operator" cannot'),
    ],
)
def test_a_bad_call_says_what_to_send_instead(call: object, says: str) -> None:
    found, ok = asked(call)
    assert (ok, found["ok"], list(found)) == (False, False, ["ok", "error"])
    assert says in found["error"]


@settings(max_examples=300)
@given(line=st.one_of(any_line(), call_line(), nested_line(), odd_number_line()))
def test_whatever_is_sent_gets_one_line_of_json(line: str) -> None:
    text, ok = answer_line(line=line)
    found = json.loads(text)
    assert (found["ok"], "\n" in text) == (ok, False)
    assert ok or found["error"].endswith((".", "!"))
