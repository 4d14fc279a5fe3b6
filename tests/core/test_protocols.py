"""The starter protocol, its evidence marks, and what the reader of protocols refuses."""

import json
from copy import deepcopy

import pytest

from clinic.models import care
from outcomes.catalogue.fields import SeedError
from outcomes.catalogue.seeds import canonical_json
from outcomes.core.holds import HELD
from outcomes.core.values import Form, Mark
from outcomes.protocols.criteria import GRAFTS
from outcomes.protocols.reading import GOALS, KINDS, RESTRICTIONS, protocol_from
from outcomes.protocols.seeds import protocol_seeds
from tests.core.builders import CATALOGUE, PROTOCOL

NAME = "starter-1.toml"
SEED = dict(protocol_seeds())[NAME]
REMOVED = object()


def test_its_milestones_and_earliest_dates():
    gates = {m.code: (m.gate.weeks, m.gate.months) for m in PROTOCOL.milestones}
    assert gates == {
        "step_down_work": (8, None),
        "running": (12, None),
        "hopping_landing": (16, None),
        "competition": (None, 9),
    }
    assert dict(PROTOCOL.milestones[-1].gate.later) == {
        "graft:allograft": 12,
        "graft:unknown": 12,
        "kind:revision": 12,
        "under_16": 12,
    }


def every_criterion():
    return [(m.code, c) for m in PROTOCOL.milestones for c in m.criteria]


def every_source():
    sources = [s for _, c in every_criterion() for s in c.sources]
    return sources + [s for m in PROTOCOL.milestones for s in m.gate.sources]


def test_no_number_without_a_source():
    parts = [m.gate for m in PROTOCOL.milestones] + [c for _, c in every_criterion()]
    assert [part for part in parts if not part.sources] == []
    assert {source.mark for source in every_source()} == set(Mark) - {Mark.COMPUTED}


def test_what_is_the_houses_own_common_practice_or_from_memory_says_so():
    said = {
        "setting of this house": Mark.CLINIC_SETTING,
        "common practice, no source": Mark.COMMON_PRACTICE,
        "from memory, unverified": Mark.MEMORY,
    }
    for source in every_source():
        for words, mark in said.items():
            assert (words in source.text) is (source.mark is mark)


def test_only_advice_rests_on_common_practice_alone():
    alone = [
        (milestone, criterion.code, criterion.hard)
        for milestone, criterion in every_criterion()
        if {source.mark for source in criterion.sources} == {Mark.COMMON_PRACTICE}
    ]
    assert alone == [("step_down_work", "hip_hold", False)]


def test_maximum_ages():
    ages = {(m, c.code): c.maximum_age_days for m, c in every_criterion()}
    today = {code for (milestone, code), age in ages.items() if milestone == "running" and age == 3}
    assert today == {"effusion", "pain_step_down", "front_of_knee", "lateral_heel_touch"}
    strength = {age for (_, code), age in ages.items() if code in ("quadriceps", "single_hop")}
    assert strength == {42}


def test_no_hop_is_asked_before_running():
    measures = {
        m: {c.measure for n, c in every_criterion() if n == m} for m, _ in every_criterion()
    }
    hops = {"single_hop", "timed_hop_6m"}
    assert {m for m, found in measures.items() if found & hops} == {"competition"}


def test_no_quadriceps_gate_on_hip_work():
    found = [
        c.hard for m, c in every_criterion() if (m, c.code) == ("step_down_work", "quadriceps")
    ]
    assert found == [False]


def test_strength_by_body_mass_is_advice_for_adults_by_sex_angle_and_mode():
    found = next(c for _, c in every_criterion() if c.form is Form.PER_BODY_MASS)
    assert (found.hard, found.adults_only, found.key) == (
        False,
        True,
        "device=fixed;knee_angle=90",
    )
    assert set(found.value_by_sex) == {"male", "female"}


def test_codes_are_those_of_the_record():
    """A misspelt limit would block nothing and nobody would notice."""
    kinds = {code for code, _ in care.RESTRICTION_KINDS}
    assert set(RESTRICTIONS) == set(HELD) == kinds - {"none", "set_aside", "taken_back"}
    assert set(GRAFTS) == {code for code, _ in care.GRAFTS}
    assert set(KINDS) == {code for code, _ in care.EPISODE_KINDS}
    assert set(GOALS) == {code for code, _ in care.GOALS} - {"not_stated"}


def test_every_limit_blocks_competition():
    assert set(PROTOCOL.milestones[-1].blocked_by) == set(RESTRICTIONS)


def test_the_stored_form_restores_the_protocol():
    assert protocol_from(json.loads(canonical_json(SEED)), CATALOGUE) == PROTOCOL


def changed(path, value):
    mapping = deepcopy(SEED)
    part = mapping
    for step in path[:-1]:
        part = part[step]
    if value is REMOVED:
        del part[path[-1]]
    else:
        part[path[-1]] = value
    return mapping


RUN, COMPETE = ["milestones", 1], ["milestones", 3]
SEX = ["criteria", 8, "value_by_sex"]
REFUSED = [
    (["label"], REMOVED, "starter-1.toml: label: is missing"),
    (["note"], "x", "starter-1.toml: note: is not known"),
    (["last_by_goal", "pivoting"], REMOVED, "last_by_goal: must name each of"),
    (["last_by_goal", "pivoting"], "flying", "last_by_goal: names a milestone that is not there"),
    ([*RUN, "code"], "competition", "milestones: names one twice"),
    ([*RUN, "criteria"], [], "milestones[1]: criteria: is missing"),
    ([*RUN, "blocked_by"], ["jumping"], "milestones[1]: blocked_by: 'jumping' is none of"),
    ([*RUN, "gate", "weeks"], REMOVED, "gate: weeks: give either weeks or months"),
    ([*RUN, "gate", "months"], 3, "gate: weeks: give either weeks or months"),
    ([*RUN, "gate", "sources"], [], "gate: sources: is missing"),
    ([*RUN, "gate", "waived_for"], ["rest"], "waived_for: 'rest' is none of"),
    ([*COMPETE, "gate", "later", "graft:wood"], 12, "later.graft:wood: is not known"),
    ([*COMPETE, "gate", "later", "under_16"], 9, "later.under_16: must be whole months, later"),
    ([*RUN, "criteria", 0, "measure"], "squat", "criteria[0]: measure: 'squat' is not in"),
    ([*RUN, "criteria", 1, "code"], "extension", "criteria: names one twice"),
    ([*RUN, "criteria", 0, "form"], "symmetry", "form: symmetry does not go with knee_extension"),
    ([*RUN, "criteria", 0, "form"], "grade", "form: grade does not go with knee_extension"),
    ([*RUN, "criteria", 3, "form"], "involved", "form: involved does not go with effusion"),
    ([*RUN, "criteria", 7, "form"], "short_of_other", "form: short_of_other does not go with"),
    ([*RUN, "criteria", 0, "threshold", "unit"], "cm", "threshold: the unit 'cm' does not go"),
    ([*RUN, "criteria", 7, "threshold", "unit"], "N.m", "threshold: the unit 'N.m' does not go"),
    ([*RUN, "criteria", 7, "threshold", "value"], "700", "threshold: 700 is outside 1 to 150"),
    ([*RUN, "criteria", 2, "threshold", "value"], "190", "threshold: 190 is outside 0 to 170"),
    ([*RUN, "criteria", 3, "threshold", "value"], "1", "threshold: value: '1' is none of zero"),
    ([*RUN, "criteria", 3, "threshold", "operator"], "=", "operator: '=' is none of >"),
    ([*RUN, "criteria", 0, "maximum_age_days"], 0, "maximum_age_days: must be at least 1"),
    ([*RUN, "criteria", 0, "sources"], [], "criteria[0]: sources: is missing"),
    ([*RUN, "criteria", 6, "key"], "step_height=20.0", "key: is written 'step_height=20'"),
    ([*RUN, "criteria", 6, "key"], "height=20", "key: Lateral heel touch: pelvic drop has no"),
    ([*RUN, "criteria", 6, "key"], "20", "criteria[6]: key: "),
    ([*RUN, "criteria", 6, "alike_to"], "slight", "alike_to: is a grade worse than the value"),
    ([*COMPETE, *SEX, "female"], REMOVED, "value_by_sex: female: is missing"),
    ([*COMPETE, *SEX, "other"], "3", "value_by_sex: other: is not known"),
]  # fmt: skip


def test_incomplete_or_contradictory_protocols_are_refused_by_file_and_key():
    for path, value, said in REFUSED:
        with pytest.raises(SeedError) as refused:
            protocol_from(changed(path, value), CATALOGUE, where=NAME)
        assert str(refused.value).startswith(f"{NAME}: ")
        assert said in str(refused.value)


def test_advisory_criteria_alone_make_no_milestone():
    mapping = deepcopy(SEED)
    for criterion in mapping["milestones"][1]["criteria"]:
        criterion["hard"] = False
    with pytest.raises(SeedError, match="needs a hard one: never time alone"):
        protocol_from(mapping, CATALOGUE, where=NAME)
