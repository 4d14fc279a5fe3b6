"""The shipped measures, and what the reader of seeds refuses."""

import json
import re
from copy import deepcopy
from decimal import Decimal
from typing import Any

import pytest

from outcomes.catalogue.fields import SeedError
from outcomes.catalogue.measures import measure_from
from outcomes.catalogue.seeds import canonical_json, fingerprint, load_catalogue, measure_seeds
from outcomes.core.readings import comparison_key, conditions_of
from outcomes.core.values import Better, EntryKind, Mark, SymmetryForm
from tests.core.builders import CATALOGUE, KEYS, sem_of

SEEDS = {mapping["code"]: (name, mapping) for name, mapping in measure_seeds()}
REMOVED = object()


def test_the_measures_to_start_with():
    assert sorted(CATALOGUE) == [
        "body_mass",
        "effusion",
        "knee_extension",
        "knee_flexion",
        "pain_during_test",
        "pain_front_of_knee",
        "pain_worst_24h",
        "pelvic_drop_forward_heel_touch",
        "pelvic_drop_lateral_heel_touch",
        "quadriceps_torque",
        "single_hop",
        "standing_hip_hold",
        "timed_hop_6m",
    ]


@pytest.mark.parametrize(
    ("code", "form"),
    [
        ("single_hop", SymmetryForm.RATIO),
        ("quadriceps_torque", SymmetryForm.RATIO),
        ("standing_hip_hold", SymmetryForm.RATIO),
        ("timed_hop_6m", SymmetryForm.INVERTED_RATIO),
        ("knee_extension", SymmetryForm.DIFFERENCE),
        ("knee_flexion", SymmetryForm.DIFFERENCE),
        ("pelvic_drop_lateral_heel_touch", SymmetryForm.DIFFERENCE),
        ("pelvic_drop_forward_heel_touch", SymmetryForm.DIFFERENCE),
        ("effusion", SymmetryForm.NONE),
        ("pain_worst_24h", SymmetryForm.NONE),
        ("pain_during_test", SymmetryForm.NONE),
        ("pain_front_of_knee", SymmetryForm.NONE),
        ("body_mass", SymmetryForm.NONE),
    ],
)
def test_never_a_ratio_of_angles_grades_or_pain(code, form):
    assert CATALOGUE[code].symmetry is form


def test_the_other_knee_is_not_asked_about_effusion_and_pain():
    not_asked = {code for code, measure in CATALOGUE.items() if not measure.other_limb_asked}
    pain = {"pain_worst_24h", "pain_during_test", "pain_front_of_knee"}
    assert not_asked == {"effusion", *pain}


def test_lower_is_better_only_where_it_is():
    lower = {code for code, measure in CATALOGUE.items() if measure.better is Better.LOWER}
    assert lower == {code for code in CATALOGUE if code.startswith(("pain", "pelvic"))} | {
        "effusion",
        "timed_hop_6m",
    }


@pytest.mark.parametrize("code", KEYS)
def test_keys_used_in_tests_are_keys_of_the_catalogue(code):
    conditions = conditions_of(key=KEYS[code])
    assert comparison_key(measure=CATALOGUE[code], conditions=conditions) == KEYS[code]


def test_grades_carry_their_words():
    effusion, drop = CATALOGUE["effusion"], CATALOGUE["pelvic_drop_lateral_heel_touch"]
    assert effusion.grades == ("zero", "trace", "1+", "2+", "3+")
    assert drop.grades == ("level", "slight", "moderate", "marked")
    assert [drop.word(value=drop.rank(word=word)) for word in drop.grades] == list(drop.grades)
    with pytest.raises(ValueError, match="not in tuple"):
        drop.rank(word="clear")


def test_errors_carry_population_method_and_mark():
    errors = [error for measure in CATALOGUE.values() for error in measure.errors]
    assert len(errors) == 6
    assert {error.source.mark for error in errors} == {Mark.SEEN, Mark.COMPUTED}
    assert [error for error in errors if not (error.population and error.method)] == []


def test_computed_errors_follow_from_what_their_method_says():
    root = Decimal(2).sqrt()
    of_one = Decimal("3.5") / (Decimal("1.96") * root)
    assert sem_of("knee_extension", "value") == round(of_one, 2)
    assert sem_of("knee_extension", "difference") == round(of_one * root, 2)
    quadriceps = 90 * Decimal("0.031") * root
    assert Decimal("3.5") < quadriceps < sem_of("quadriceps_torque", "symmetry")


@pytest.mark.parametrize("code", SEEDS)
def test_the_stored_form_restores_the_measure(code):
    text = canonical_json(SEEDS[code][1])
    assert measure_from(json.loads(text)) == CATALOGUE[code]
    turned = dict(reversed(list(SEEDS[code][1].items())))
    assert canonical_json(turned) == text
    assert re.fullmatch("[0-9a-f]{64}", fingerprint(text))


def test_a_changed_text_has_another_fingerprint():
    mapping = SEEDS["effusion"][1]
    changed = {**mapping, "label": mapping["label"] + "."}
    assert fingerprint(canonical_json(mapping)) != fingerprint(canonical_json(changed))


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
    ("single_hop", ["grades"], ["a", "b"], "grades: go with entry grade and with no other"),
    ("single_hop", ["per_limb"], False, "symmetry: needs a value for each limb"),
    ("single_hop", ["cap"], "300", "cap: is the upper hard limit of a timed"),
    ("single_hop", ["per_body_mass"], True, "relative: body_mass goes with the unit N.m"),
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
    ("effusion", ["grades"], REMOVED, "grades: go with entry grade"),
    ("effusion", ["grades"], ["zero", "trace"], "hard: of grades are the first and last rank"),
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
]


def test_incomplete_or_contradictory_seeds_are_refused_by_file_and_key():
    for code, path, value, said in REFUSED:
        name = SEEDS[code][0]
        with pytest.raises(SeedError) as refused:
            measure_from(changed(code, path, value), where=name)
        assert str(refused.value).startswith(f"{name}: ")
        assert said in str(refused.value)


def test_entries_fit_their_kind():
    kinds = {code: measure.entry for code, measure in CATALOGUE.items()}
    assert kinds["knee_extension"] is EntryKind.EXTENSION
    assert kinds["quadriceps_torque"] is EntryKind.TORQUE
    assert {code for code, kind in kinds.items() if kind is EntryKind.GRADE} == {
        "effusion",
        "pelvic_drop_forward_heel_touch",
        "pelvic_drop_lateral_heel_touch",
    }


def test_loading_twice_gives_the_same_catalogue():
    assert load_catalogue() == CATALOGUE
