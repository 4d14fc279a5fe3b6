"""What the reader of questionnaires refuses: each contradiction, by file and key."""

import json
from copy import deepcopy
from typing import Any

import pytest

from outcomes.catalogue.fields import SeedError
from outcomes.catalogue.instruments import instrument_from, instrument_seeds, load_instruments
from outcomes.catalogue.seeds import canonical_json
from tests.core.tables import every_case

SEEDS = {mapping["code"]: (name, mapping) for name, mapping in instrument_seeds()}
LOADED = load_instruments()
REMOVED = object()
IKDC_ITEM_2 = {"codes": ["2"], "range": [0, 10]}
PASS_OF_TSK11 = {
    "kind": "pass",
    "operator": "<",
    "values": {"total": "10"},
    "population": "x",
    "time_point": "x",
    "source": {"text": "x", "mark": "memory"},
}

REFUSED: list[tuple[str, list[Any], Any, str]] = [
    ("ikdc", ["items", 0, "codes"], [], "items[0]: codes: is missing"),
    ("ikdc", ["items", 0, "answers"], [0], "items[0]: answers: needs two answers or more"),
    ("ikdc", ["items", 0, "answers"], [0, 2, 1], "answers: go from the lowest to the highest"),
    ("ikdc", ["items", 0, "answers"], [0, 1, 1], "answers: go from the lowest to the highest"),
    ("ikdc", ["items", 0, "answers"], [0, 0.5, 1], "answers: must be a list of numbers"),
    ("ikdc", ["items", 0, "range"], [0, 4], "items[0]: range: give either answers or a range"),
    ("ikdc", ["items", 1, "range"], [0, 101], "range: is of whole numbers, at most 101"),
    ("ikdc", ["items", 1, "range"], ["0", "9.5"], "range: is of whole numbers, at most 101"),
    ("ikdc", ["items", 0], IKDC_ITEM_2, "items: names one twice"),
    ("ikdc", ["items", 0, "wording"], "x", "items[0]: wording: is not known"),
    ("ikdc", ["scores", 0, "items"], ["1", "11"], "scores.total: names an item that there is not"),
    ("ikdc", ["scores", 0, "items"], [], "scores.total: has parts where it averages scores"),
    ("ikdc", ["scores", 0, "parts"], ["total"], "scores.total: has parts where it averages"),
    ("ikdc", ["scores", 0, "needed"], 19, "scores.total: needs more answers than there are"),
    ("ikdc", ["scores", 0, "needed"], 0, "scores[0]: needed: must be at least 1"),
    ("ikdc", ["scores", 0, "range"], [0, 87], "scores.total: the range is not what rule and"),
    ("ikdc", ["scores", 0, "rule"], "sum", "scores.total: a sum needs every answer"),
    ("ikdc", ["scores", 0, "rule"], "mean", "scores.total: a mean is of items with the same"),
    ("ikdc", ["scores", 0, "table"], ["0", "1"], "scores.total: has a table with the rule table"),
    ("ikdc", ["layouts"], [], "layouts: is missing"),
    ("ikdc", ["layouts", 0, "reversed"], ["2"], "layouts.points: the first layout counts as"),
    ("ikdc", ["layouts", 1, "code"], "points", "layouts: names one twice"),
    ("ikdc", ["layouts", 1, "reversed"], ["11"], "layouts.zero_best: reverses an item that there"),
    ("ikdc", ["layouts", 1, "turned"], ["sport"], "layouts.zero_best: turns a score that there"),
    ("ikdc", ["layouts", 1, "turned"], ["total"], "layouts.zero_best: turns a score that has"),
    ("ikdc", ["layouts", 1, "factor"], "-1", "layouts.zero_best: the factor is above zero"),
    ("ikdc", ["layouts", 1, "range"], [0, 10], "zero_best: does not cover the answers of item 1"),
    ("ikdc", ["missing", "source"], REMOVED, "missing: source: is missing"),
    ("ikdc", ["thresholds", 0, "values"], {}, "values: must be a table of numbers"),
    ("ikdc", ["thresholds", 0, "values"], {"total": 18.9}, "values: must be a table of numbers"),
    ("ikdc", ["thresholds", 0, "values"], {"sport": "1"}, "thresholds.sport.mic: is of a score"),
    (
        "ikdc",
        ["thresholds", 0, "values"],
        {"total": "0"},
        "total.mic: a value in use is above zero",
    ),
    ("ikdc", ["thresholds", 0, "item"], "11", "thresholds.total.mic: is of an item that the"),
    ("ikdc", ["thresholds", 0, "operator"], "<=", "total.mic: a change is held against at least"),
    ("ikdc", ["thresholds", 0, "population"], "", "thresholds[0]: population: is empty"),
    ("ikdc", ["thresholds", 2, "default"], True, "thresholds.total.mic: two are in use by default"),
    ("ikdc", ["thresholds", 5, "default"], True, "thresholds.total.mdc: two are in use by default"),
    ("ikdc", ["thresholds", 6, "error_is_larger"], True, "total.pass: error_is_larger is said of"),
    ("ikdc", ["thresholds", 6, "values"], {"total": "100.1"}, "total.pass: lies outside the range"),
    ("ikdc", ["thresholds", 6, "ages"], [18, 24], "total.pass: a norm, and nothing else, has"),
    ("ikdc", ["thresholds", 6, "sex"], "male", "total.pass: the sex of a norm is female or male"),
    ("ikdc", ["thresholds", 8, "default"], True, "total.criterion: a criterion or norm is chosen"),
    ("koos", ["thresholds", 11, "ages"], REMOVED, "adl.norm: a norm, and nothing else, has"),
    ("koos", ["thresholds", 11, "ages"], ["18", "55.5"], "ages: are whole years"),
    ("koos", ["thresholds", 11, "sex"], "men", "adl.norm: the sex of a norm is female or male"),
    ("koos12", ["scores", 3, "parts"], ["pain", "summary", "qol"], "summary: averages scores that"),
    ("koos12", ["scores", 3, "range"], [0, 50], "summary: averages scores of its own range"),
    ("koos12", ["scores", 3, "direction"], "lower", "summary: averages scores of its own range"),
    ("koos_ps", ["scores", 0, "needed"], 6, "scores.total: a sum needs every answer"),
    ("koos_ps", ["scores", 0, "table", 28], REMOVED, "the table has one score for each sum from 0"),
    ("koos_ps", ["scores", 0, "table", 5], "18", "scores.total: the table rises with the sum"),
    ("koos_ps", ["scores", 0, "table", 0], "-1", "scores.total: the range is not what rule and"),
    ("koos_ps", ["on_by_default"], True, "on_by_default: what is known from memory only ships"),
    ("tsk11", ["scores", 0, "rule"], "share", "scores.total: a share is of items that start at 0"),
    ("tsk11", ["thresholds", 0], PASS_OF_TSK11, "total.pass: lies outside the range of the score"),
    ("marx", ["two_marks"], "worse", "two_marks: has no worse one where an item counts in no"),
    ("tegner", ["two_marks"], "worse", "two_marks: has no worse one where an item counts in no"),
    ("tegner", ["thresholds", 0, "kind"], "mic", "total.mic: a level of activity has no such"),
]


def changed(code: str, path: list[Any], value: Any) -> dict[str, Any]:
    mapping = deepcopy(SEEDS[code][1])
    part: Any = mapping
    for step in path[:-1]:
        part = part[step]
    if value is REMOVED:
        del part[path[-1]]
    else:
        part[path[-1]] = value
    return mapping


def test_contradictions_are_refused_by_file_and_key() -> None:
    for code, path, value, said in REFUSED:
        name = SEEDS[code][0]
        with pytest.raises(SeedError) as refused:
            instrument_from(changed(code, path, value), where=name)
        assert str(refused.value).startswith(f"{name}: ")
        assert said in str(refused.value), (path, value)


@every_case("code", SEEDS)
def test_the_stored_form_restores_the_questionnaire(code: str) -> None:
    name, mapping = SEEDS[code]
    assert instrument_from(json.loads(canonical_json(mapping)), where=name) == LOADED[code]
