"""The shipped measures, and what the reader of seeds refuses."""

import json
import re

import pytest

from outcomes.catalogue.measures import measure_from
from outcomes.catalogue.seeds import canonical_json, fingerprint, load_catalogue, measure_seeds
from outcomes.core.readings import comparison_key, conditions_of
from outcomes.core.values import Better, EntryKind, Group, Mark, SymmetryForm
from tests.core.builders import CATALOGUE, KEYS
from tests.core.tables import every_case

SEEDS = {mapping["code"]: (name, mapping) for name, mapping in measure_seeds()}


MEASURED = (
    "knee_extension", "knee_flexion", "heel_height_difference", "extensor_lag",
    "ankle_dorsiflexion", "effusion", "pain_rest", "pain_worst_24h", "pain_during_test",
    "pain_front_of_knee", "soreness_after_session", "quadriceps_torque", "hamstring_torque",
    "hamstring_quadriceps_ratio", "quadriceps_rate_of_torque", "knee_extension_rm", "leg_press_rm",
    "hip_abduction_force", "hip_external_rotation_force", "single_hop", "triple_hop",
    "crossover_hop", "timed_hop_6m", "vertical_jump", "side_hop_30s", "reactive_strength_index",
    "agility_t_test", "reach_anterior", "reach_posteromedial", "reach_posterolateral",
    "reach_composite", "step_down_score", "pelvic_drop_lateral_heel_touch",
    "pelvic_drop_forward_heel_touch", "trunk_lean", "trunk_flexion", "forward_knee_travel",
    "knee_medial_position", "pelvic_drop_angle", "knee_projection_angle", "single_leg_stance",
    "standing_hip_hold", "side_plank_hold", "wall_sit_hold", "single_leg_sit_to_stand",
    "single_leg_bridge", "heel_raise", "single_leg_squat", "thigh_girth", "anterior_laxity",
    "landing_error_score", "leg_length", "body_mass", "height",
)  # fmt: skip
FOUND_OR_NOT = (
    "wound_closed", "quad_set_with_glide", "straight_leg_raise_without_lag", "gait_without_aids",
    "gait_without_limp", "reciprocal_stairs", "controlled_landing", "two_leg_landing_tolerated",
    "brisk_walk_30min_without_swelling", "ten_level_step_downs_20cm",
    "task_pain_settled_next_morning", "sport_programme_done",
)  # fmt: skip
COUNTED = (
    "run_walk_sessions", "home_exercise_days",
)  # fmt: skip


def test_every_measure_of_the_outcome_sets_is_there_and_no_other():
    assert sorted(CATALOGUE) == sorted([*MEASURED, *FOUND_OR_NOT, *COUNTED])
    assert {code for code, one in CATALOGUE.items() if one.yes_or_no} == set(FOUND_OR_NOT)


@every_case(
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


def test_the_other_knee_is_not_asked_about_effusion_pain_and_early_findings():
    asked = {code for code, measure in CATALOGUE.items() if measure.other_limb_asked}
    assert set(CATALOGUE) - asked == {
        *(code for code in CATALOGUE if code.startswith("pain_")),
        *("effusion", "soreness_after_session", "extensor_lag", "wound_closed"),
        *("quad_set_with_glide", "straight_leg_raise_without_lag"),
        *("brisk_walk_30min_without_swelling", "task_pain_settled_next_morning"),
    }


@every_case(
    ("better", "codes"),
    [
        (
            Better.LOWER,
            "pain_rest pain_worst_24h pain_during_test pain_front_of_knee soreness_after_session "
            "effusion extensor_lag pelvic_drop_lateral_heel_touch pelvic_drop_forward_heel_touch "
            "trunk_lean forward_knee_travel knee_medial_position step_down_score "
            "pelvic_drop_angle timed_hop_6m agility_t_test landing_error_score anterior_laxity",
        ),
        (Better.TOWARD_ZERO, "heel_height_difference knee_projection_angle"),
        (Better.MATCH_OTHER, "knee_extension trunk_flexion leg_length"),
        (Better.NEITHER, "hamstring_quadriceps_ratio body_mass height"),
    ],
)
def test_more_is_better_only_where_it_is(better, codes):
    assert {c for c, one in CATALOGUE.items() if one.better is better} == set(codes.split())


@every_case("code", KEYS)
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


@every_case("code", SEEDS)
def test_every_number_says_where_it_is_from_and_every_measure_how_it_is_used(code):
    measure = CATALOGUE[code]
    sources = [*measure.sources, *(e.source for e in measure.errors)]
    sources += [threshold.source for threshold in measure.thresholds]
    assert [source for source in sources if not source.text] == []
    memory = [source.text for source in sources if source.mark is Mark.MEMORY]
    assert [text for text in memory if "memory" not in text.lower()] == []
    assert measure.group is not Group.OTHER
    for text in (measure.when_to_use, measure.how_to_do, measure.how_to_read):
        assert 10 < len(text) < 520
        assert text.endswith(".")


@every_case("code", SEEDS)
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


def test_entries_fit_their_kind():
    special = (EntryKind.EXTENSION, EntryKind.TORQUE, EntryKind.JUMP, EntryKind.ITEMS)
    kinds = {code: one.entry for code, one in CATALOGUE.items() if one.entry in special}
    assert kinds == {
        "knee_extension": EntryKind.EXTENSION,
        "quadriceps_torque": EntryKind.TORQUE,
        "hamstring_torque": EntryKind.TORQUE,
        "vertical_jump": EntryKind.JUMP,
        "step_down_score": EntryKind.ITEMS,
    }
    derived = {code for code, one in CATALOGUE.items() if not one.typed}
    assert derived == {"hamstring_quadriceps_ratio", "reach_composite"}


def test_loading_twice_gives_the_same_catalogue():
    assert load_catalogue() == CATALOGUE
