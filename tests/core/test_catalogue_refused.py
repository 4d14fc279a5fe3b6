"""What the reader of seeds refuses: the incomplete and the contradictory, by file and key."""

from copy import deepcopy
from dataclasses import replace
from typing import Any

import pytest

from outcomes.catalogue.fields import SeedError
from outcomes.catalogue.measure_checks import check_inputs
from outcomes.catalogue.measures import measure_from
from outcomes.catalogue.seeds import measure_seeds
from outcomes.core.values import Group
from tests.core.builders import CATALOGUE
from tests.core.tables import every_case

SEEDS = {mapping["code"]: (name, mapping) for name, mapping in measure_seeds()}
REMOVED = object()
RATIO = "hamstring_quadriceps_ratio"


def changed(code, path, value):
    mapping = deepcopy(SEEDS[code][1])
    part = mapping
    for step in path[:-1]:
        part = part[step]
    if value is REMOVED:
        del part[path[-1]]
    else:
        part[path[-1]] = value
    return mapping


REFUSED: list[tuple[str, list[Any], Any, str]] = [
    ("single_hop", ["label"], REMOVED, "single_hop.toml: label: is missing"),
    ("single_hop", ["label"], " ", "single_hop.toml: label: is empty"),
    ("single_hop", ["lable"], "x", "single_hop.toml: lable: is not known"),
    ("single_hop", ["code"], "Single hop", "code: 'Single hop' is not a code"),
    ("single_hop", ["version"], 0, "version: must be at least 1"),
    ("single_hop", ["version"], True, "version: must be a whole number"),
    ("single_hop", ["per_limb"], "yes", "per_limb: must be true or false"),
    ("single_hop", ["unit"], "centimetre", "unit: 'centimetre' is not a known UCUM code"),
    ("single_hop", ["better"], "more", "better: 'more' is none of higher"),
    ("single_hop", ["hard"], ["0"], "hard: must be a list of two numbers"),
    ("single_hop", ["hard"], [0.5, 300.0], "hard: must be a list of two numbers"),
    ("single_hop", ["hard"], ["300", "0"], "hard: the lower limit comes first"),
    ("single_hop", ["hard"], ["0", "far"], "hard: 'far' is not a number"),
    ("single_hop", ["soft"], ["20", "301"], "soft: lies outside hard"),
    ("single_hop", ["sources"], [], "sources: is missing"),
    ("single_hop", ["sources", 0, "mark"], "sure", "sources[0]: mark: 'sure' is none of"),
    ("single_hop", ["entry_units"], ["cm", "kg"], "entry_units: 'kg' does not convert to cm"),
    ("single_hop", ["entry_units"], ["m"], "entry_units: must hold cm too"),
    ("single_hop", ["entry_units"], ["cm", "cm"], "entry_units: names one twice"),
    ("single_hop", ["better"], "lower", "symmetry: ratio goes with better higher"),
    ("single_hop", ["symmetry"], "difference", "errors[0]: of: symmetry does not go"),
    ("single_hop", ["trials"], 1, "trials: one trial goes with summary single"),
    ("height", ["grades"], ["a", "b"], "grades: go with entry grade and with no other"),
    ("single_hop", ["per_limb"], False, "symmetry: needs a value for each limb"),
    ("single_hop", ["cap"], "300", "cap: is the upper hard limit of a timed"),
    ("thigh_girth", ["per_body_mass"], True, "relative: body_mass goes with the unit N.m"),
    ("single_hop", ["other_limb_asked"], False, "other_limb_asked: a symmetry needs the other"),
    ("single_hop", ["conditions", 0, "unit"], "cm", "conditions[0]: unit: give either choices"),
    ("single_hop", ["conditions", 0, "choices", 0], 3, "choices[0]: is not a table"),
    ("single_hop", ["conditions", 1, "code"], "hands", "conditions: names a condition, detail or"),
    ("single_hop", ["errors", 0, "sem"], "0", "errors[0]: sem: must be above zero"),
    ("single_hop", ["errors", 0, "sem"], 5.59, "errors[0]: sem: must be a number written as text"),
    ("single_hop", ["errors", 0, "of"], "luck", "errors[0]: of: 'luck' is none of value"),
    ("single_hop", ["errors", 0, "method"], REMOVED, "errors[0]: method: is missing"),
    ("single_hop", ["errors", 0, "source"], REMOVED, "errors[0]: source: is missing"),
    ("single_hop", ["cautions", "effusion"], "", "cautions.effusion: must be a text"),
    ("single_hop", ["cautions", "Effusion"], "x", "cautions.Effusion: is not a code"),
    ("standing_hip_hold", ["cap"], "30", "cap: is the upper hard limit of a timed"),
    ("standing_hip_hold", ["conditions", 1, "unit"], "stone", "unit: 'stone' is not a known UCUM"),
    ("soreness_after_session", ["grades"], REMOVED, "grades: go with entry grade"),
    (
        "soreness_after_session",
        ["grades"],
        ["zero", "trace"],
        "hard: of grades are the first and last rank",
    ),
    ("effusion", ["symmetry"], "ratio", "symmetry: angles, grades and pain have no ratio"),
    ("pain_worst_24h", ["symmetry"], "inverted_ratio", "symmetry: angles, grades and pain have"),
    ("knee_flexion", ["symmetry"], "ratio", "symmetry: angles, grades and pain have no ratio"),
    ("knee_extension", ["unit"], "cm", "unit: of entry extension is deg"),
    ("quadriceps_torque", ["unit"], "N", "unit: of entry torque is N.m"),
    ("quadriceps_torque", ["better"], "neither", "symmetry: ratio goes with better higher"),
    (
        "pelvic_drop_lateral_heel_touch",
        ["details", 1, "spoils"],
        ["upright", "trunk_leans", "hand_used", "free_side_hitched"],
        "details[1]: spoils: must name some of the choices, not all",
    ),
    (
        "pelvic_drop_lateral_heel_touch",
        ["details", 1, "spoils"],
        ["leaning"],
        "details[1]: spoils: must name some of the choices",
    ),
    ("single_hop", ["group"], "jumps", "group: 'jumps' is none of symptoms, range"),
    ("single_hop", ["relative"], "leg", "relative: 'leg' is none of body_mass"),
    ("single_hop", ["relative"], "body_weight", "relative: body_weight goes with the unit N"),
    ("single_hop", ["items"], "x", "items: must be a list of tables"),
    ("single_hop", ["entry"], "items", "items: go with entry items and with no other"),
    ("single_hop", ["entry"], "jump", "entry_units: of a jump must hold s, its flight time"),
    ("single_hop", ["entry"], "derived", "derived: goes with entry derived and with no other"),
    ("single_hop", ["errors", 0, "tester"], "me", "errors[0]: tester: 'me' is none of same"),
    ("single_hop", ["errors", 0, "conditions"], {"hands": "tied"}, "errors[0]: hands 'tied' is no"),
    ("single_hop", ["errors", 0, "conditions"], {"floor": "wood"}, "errors[0]: floor 'wood' is no"),
    ("knee_extension", ["errors", 1, "of"], "symmetry", "errors[1]: of: symmetry does not go"),
    ("step_down_score", ["items"], REMOVED, "items: go with entry items and with no other"),
    (
        "step_down_score",
        ["hard"],
        ["0", "7"],
        "hard: of items are 0 and the sum of their points, 6",
    ),
    ("step_down_score", ["unit"], "cm", "unit: of entry items is {score}"),
    (
        "step_down_score",
        ["items", 0, "choices", 1, "points"],
        0,
        "items[0]: choices: need different",
    ),
    (
        "step_down_score",
        ["items", 0, "choices", 0, "points"],
        2,
        "items[0]: choices: need different",
    ),
    ("step_down_score", ["items", 0, "choices", 1, "code"], "no", "items[0]: choices: names one"),
    ("step_down_score", ["items", 0, "code"], "knee", "conditions: names a condition, detail or"),
    ("step_down_score", ["thresholds", 0, "value"], "7", "thresholds[0]: 7 is outside 0 to 6"),
    ("step_down_score", ["thresholds", 0, "operator"], "=", "thresholds[0]: operator: '=' is none"),
    (
        "step_down_score",
        ["thresholds", 0, "of"],
        "symmetry",
        "thresholds[0]: of: symmetry does not",
    ),
    ("step_down_score", ["thresholds", 0, "of"], "height", "thresholds[0]: of: height does not go"),
    ("step_down_score", ["thresholds", 0, "source"], REMOVED, "thresholds[0]: source: is missing"),
    ("step_down_score", ["trials"], 3, "trials: one trial goes with summary single"),
    ("vertical_jump", ["entry_units"], ["cm", "kg"], "entry_units: of a jump must hold s"),
    ("vertical_jump", ["entry_units"], ["cm", "s", "kg"], "entry_units: 'kg' does not convert"),
    ("vertical_jump", ["thresholds", 0, "value"], "-1", "thresholds[0]: must not be below zero"),
    (RATIO, ["derived"], REMOVED, "derived: goes with entry derived and with no other"),
    (RATIO, ["derived", "formula"], "sum", "derived: formula: 'sum' is none of ratio"),
    (RATIO, ["derived", "inputs"], ["hamstring_torque"], "derived: ratio has 2 inputs other than"),
    (RATIO, ["derived", "inputs"], ["x", RATIO], "derived: ratio has 2 inputs other than itself"),
    (RATIO, ["derived", "carried"], ["height"], "derived: carried must name some of the inputs"),
    (RATIO, ["derived", "alike"], ["device"], "derived: alike must name every condition"),
    (RATIO, ["entry_units"], ["1"], "derived: a value that is not typed has no units"),
]


def test_incomplete_or_contradictory_seeds_are_refused_by_file_and_key():
    for code, path, value, said in REFUSED:
        name = SEEDS[code][0]
        with pytest.raises(SeedError) as refused:
            measure_from(changed(code, path, value), where=name)
        assert str(refused.value).startswith(f"{name}: ")
        assert said in str(refused.value)


@every_case(
    ("change", "said"),
    [
        ({"inputs": ("hamstring_torque", "own_grip")}, "'own_grip' is no typed measure"),
        ({"inputs": ("hamstring_torque", "height")}, "'height' is no typed measure"),
        ({"inputs": ("hamstring_torque", "reach_composite")}, "'reach_composite' is no typed"),
        ({"inputs": ("hamstring_torque", "leg_press_rm")}, "'leg_press_rm' lacks a condition"),
    ],
)
def test_a_derived_measure_needs_inputs_that_can_feed_it(change, said):
    measure = CATALOGUE[RATIO]
    assert measure.derived is not None
    wrong = replace(measure, derived=replace(measure.derived, **change))
    with pytest.raises(SeedError, match=f"{RATIO}.toml: derived: {said}"):
        check_inputs(measure=wrong, catalogue=CATALOGUE)


def test_version_1_of_a_measure_can_still_be_read():
    first = changed("quadriceps_torque", ["relative"], REMOVED)
    first = {**first, "version": 1, "per_body_mass": True}
    del first["group"], first["thresholds"]
    measure = measure_from(first, where="kept")
    assert measure.per_body_mass
    assert measure.group is Group.OTHER
    assert measure.thresholds == ()
