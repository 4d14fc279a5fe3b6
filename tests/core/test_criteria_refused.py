"""What the reader of criteria refuses: every key, by name, and what contradicts itself."""

import json
from copy import deepcopy
from typing import Any

import pytest

from outcomes.catalogue.fields import Fields, SeedError
from outcomes.catalogue.seeds import canonical_json
from outcomes.core.values import Criterion, Form, Repeat, Subject
from outcomes.protocols.criteria import criterion_from
from outcomes.protocols.reading import battery_from, protocol_from
from outcomes.protocols.seeds import protocol_seeds
from tests.core.builders import CATALOGUE
from tests.core.criterion_rows import PROTOCOLS
from tests.core.tables import every_case

SOURCES = [{"text": "Invented: setting of this house", "mark": "clinic_setting"}]
COMMON: dict[str, Any] = {"code": "rule", "label": "Rule", "hard": True, "sources": SOURCES}
MEASURE: dict[str, Any] = {
    **COMMON, "measure": "quadriceps_torque", "form": "symmetry", "maximum_age_days": 42,
    "threshold": {"operator": ">=", "value": "90", "unit": "%"},
}  # fmt: skip
SCORE: dict[str, Any] = {
    **COMMON, "score": "ikdc.total", "form": "score", "maximum_age_days": 42,
    "threshold": {"operator": ">=", "value": "85", "unit": "{score}"},
}  # fmt: skip
EVENT: dict[str, Any] = {
    **COMMON, "event": "giving_way", "within_days": 28,
    "threshold": {"operator": "<=", "value": 0, "unit": "{event}"},
}  # fmt: skip
GROUP: dict[str, Any] = {**COMMON, "of": ["one", "two"], "needed": "any"}
EFFUSION: dict[str, Any] = {
    **MEASURE, "measure": "effusion", "form": "grade",
    "threshold": {"operator": "<=", "value": "trace", "unit": "{score}"},
}  # fmt: skip


def read(mapping: dict[str, Any]) -> Criterion:
    soft = {"hard": False}
    earlier = {code: plain({**MEASURE, **soft, "code": code}) for code in ("one", "two")}
    earlier["firm"] = plain({**MEASURE, "code": "firm"})
    return criterion_from(
        Fields(mapping=deepcopy(mapping), where="rule"), CATALOGUE, earlier=earlier
    )


def plain(mapping: dict[str, Any]) -> Criterion:
    return criterion_from(Fields(mapping=deepcopy(mapping), where="rule"), CATALOGUE, earlier={})


def threshold(base: dict[str, Any], **changes: Any) -> dict[str, Any]:
    return {**base, "threshold": {**base["threshold"], **changes}}


def test_one_of_each_subject_is_read():
    found = [read(one) for one in (MEASURE, SCORE, EVENT, GROUP)]
    assert [one.subject for one in found] == list(Subject)
    assert (found[2].side, found[2].within_days, found[2].form) == ("same", 28, Form.COUNT)
    assert found[3].of == ("one", "two")
    assert found[3].value == 1
    assert read({**GROUP, "needed": "all"}).value == 2
    twice = {**MEASURE, "repeated": {"apart_days": 7, "within_days": 28}, "earliest_week": 4}
    assert (read(twice).repeat, read(twice).earliest_week) == (
        Repeat(apart_days=7, within_days=28),
        4,
    )


REFUSED: list[tuple[dict[str, Any], str]] = [
    ({**MEASURE, "note": "x"}, "rule: note: is not known"),
    ({**MEASURE, "score": "ikdc.total"}, "rule: form: symmetry does not go with a score"),
    ({**MEASURE, "form": "pre_injury", "measure": "knee_flexion"}, "pre_injury does not go with"),
    ({**MEASURE, "form": "per_height"}, "form: per_height does not go with quadriceps_torque"),
    ({**MEASURE, "form": "per_body_weight"}, "per_body_weight does not go with quadriceps_torque"),
    ({**MEASURE, "form": "per_leg_length"}, "per_leg_length does not go with quadriceps_torque"),
    ({**MEASURE, "form": "score"}, "form: score does not go with quadriceps_torque"),
    ({**MEASURE, "form": "count"}, "form: count does not go with quadriceps_torque"),
    ({**MEASURE, "form": "change_since_last"}, "unit '%' does not go with change_since_last"),
    ({**threshold(EFFUSION, value="1"), "measure": "gait_without_limp",
      "form": "change_since_last"},
     "change_since_last does not go with gait_without_limp"),
    ({**threshold(EFFUSION, value="9"), "form": "change_since_last"}, "9 is outside -4 to 4"),
    ({**MEASURE, "earliest_week": 0}, "earliest_week: must be at least 1"),
    ({**MEASURE, "repeated": {"apart_days": 7}}, "repeated: within_days: is missing"),
    ({**MEASURE, "repeated": {"apart_days": 0, "within_days": 9}}, "apart_days: must be at least"),
    ({**MEASURE, "repeated": {"apart_days": 9, "within_days": 8}}, "within_days: is at least"),
    ({**MEASURE, "repeated": {"apart_days": 7, "within_days": 9, "x": 1}}, "repeated: x: is not"),
    ({**MEASURE, "bands": [{"value": "90", "sex": "other"}]}, "bands[0]: sex: 'other' is none of"),
    ({**MEASURE, "bands": [{"value": "90", "graft": "wood"}]}, "graft: 'wood' is none of"),
    ({**MEASURE, "bands": [{"sex": "male"}]}, "bands[0]: value: is missing"),
    ({**MEASURE, "bands": [{"value": "700"}]}, "threshold: 700 is outside 1 to 150"),
    ({**MEASURE, "bands": [{"value": "90", "from_age": 30, "below_age": 30}]}, "lies below"),
    ({**MEASURE, "bands": [{"value": "90"}], "value_by_sex": {"male": "90", "female": "90"}},
     "bands: give bands or value_by_sex, not both"),
    ({**EFFUSION, "bands": [{"value": "some"}]}, "bands[0]: value: 'some' is none of zero"),
    ({**SCORE, "score": "ikdc.sport"}, "score: 'ikdc.sport' is no score of a questionnaire"),
    ({**SCORE, "score": "ikdc"}, "score: 'ikdc' is no score of a questionnaire"),
    ({**SCORE, "form": "involved"}, "form: involved does not go with a score"),
    (threshold(SCORE, value="101"), "threshold: 101 is outside 0 to 100"),
    (threshold(SCORE, unit="%"), "threshold: the unit '%' does not go with score"),
    ({**SCORE, "form": "percentile"}, "the unit '{score}' does not go with percentile"),
    ({**threshold(SCORE, unit="{percentile}", value="100"), "form": "percentile"},
     "threshold: 100 is outside 1 to 99"),
    ({**threshold(SCORE, unit="{percentile}", value="15"), "form": "percentile",
      "bands": [{"value": "101"}]}, "bands: a value is outside 0 to 100"),
    ({**SCORE, "key": "device=fixed"}, "rule: key: is not known"),
    ({**EVENT, "event": "fell"}, "event: is none of giving_way"),
    ({**EVENT, "side": "other"}, "side: giving_way is never on other"),
    ({**EVENT, "side": "left"}, "side: 'left' is none of same, other, person"),
    ({**EVENT, "since": "2026-03-02"}, "since: give a date or within_days, not both"),
    ({**{k: v for k, v in EVENT.items() if k != "within_days"}, "since": "soon"},
     "since: 'soon' is not a date"),
    (threshold(EVENT, unit="{score}"), "the unit of events is '{event}'"),
    (threshold(EVENT, value="0"), "threshold: value: must be a whole number"),
    ({**EVENT, "maximum_age_days": 3}, "maximum_age_days: is not known"),
    ({**GROUP, "of": ["one"]}, "of: names at least two criteria"),
    ({**GROUP, "of": ["one", "three"]}, "of: 'three' does not stand before it"),
    ({**GROUP, "of": ["one", "firm"]}, "of: 'firm' is hard: it counts through its group alone"),
    ({**GROUP, "needed": "most"}, "needed: 'most' is none of all, any, 1, 2"),
    ({**GROUP, "needed": "3"}, "needed: '3' is none of"),
    ({**GROUP, "sources": []}, "sources: is missing"),
]  # fmt: skip


@every_case(("mapping", "said"), REFUSED, ids=[said for _, said in REFUSED])
def test_refused_by_key(mapping, said):
    with pytest.raises(SeedError) as refused:
        read(mapping)
    assert said in str(refused.value)


def test_a_published_set_is_hard_throughout_and_has_no_stages():
    mapping = {"code": "invented", "version": 1, "label": "Invented", "criteria": [MEASURE]}
    found = battery_from(mapping, CATALOGUE)
    assert (found.code, found.last_by_goal, found.milestones[0].gate.weeks) == (
        "invented@1", {}, None,
    )  # fmt: skip
    for change, said in (
        ({"criteria": [{**MEASURE, "hard": False}]}, "criteria: each of a published set is hard"),
        ({"criteria": [MEASURE, MEASURE]}, "criteria: names one twice"),
        ({"weeks": 12}, "sources: is missing"),
        ({"sources": SOURCES}, "sources: is not known"),
        ({"last_by_goal": {}}, "last_by_goal: is not known"),
    ):
        with pytest.raises(SeedError) as refused:
            battery_from({**mapping, **change}, CATALOGUE)
        assert said in str(refused.value)


@every_case("name", ["composite-1.toml", "without_surgery-1.toml"])
def test_the_stored_form_restores_the_protocol(name):
    seed = dict(protocol_seeds())[name]
    stored = protocol_from(json.loads(canonical_json(seed)), CATALOGUE)
    assert stored == PROTOCOLS[name.removesuffix(".toml").replace("-", "@")]
