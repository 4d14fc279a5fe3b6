"""The order in which a visit goes through the measures: one for the form, lists and letters."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import chain
from typing import Final

from outcomes.core.values import Group

GROUPS: Final[Mapping[Group, tuple[str, ...]]] = {
    Group.SYMPTOMS: (
        "wound_closed", "pain_rest", "pain_worst_24h", "pain_front_of_knee",
        "soreness_after_session", "effusion",
    ),
    Group.RANGE: (
        "knee_extension", "heel_height_difference", "extensor_lag", "knee_flexion",
        "ankle_dorsiflexion",
    ),
    Group.DAILY: (
        "gait_without_aids", "gait_without_limp", "reciprocal_stairs",
        "brisk_walk_30min_without_swelling", "task_pain_settled_next_morning",
        "home_exercise_days", "run_walk_sessions", "sport_programme_done",
    ),
    Group.HOLDS: ("single_leg_stance", "standing_hip_hold", "side_plank_hold", "wall_sit_hold"),
    Group.MOVEMENT: (
        "quad_set_with_glide", "straight_leg_raise_without_lag",
        "pelvic_drop_lateral_heel_touch", "pelvic_drop_forward_heel_touch", "trunk_lean",
        "trunk_flexion", "forward_knee_travel", "knee_medial_position",
        "ten_level_step_downs_20cm", "step_down_score", "pelvic_drop_angle",
        "knee_projection_angle",
    ),
    Group.BALANCE: (
        "reach_anterior", "reach_posteromedial", "reach_posterolateral", "reach_composite",
    ),
    Group.STRENGTH: (
        "quadriceps_torque", "hamstring_torque", "hamstring_quadriceps_ratio",
        "quadriceps_rate_of_torque", "knee_extension_rm", "leg_press_rm", "hip_abduction_force",
        "hip_external_rotation_force",
    ),
    Group.REPETITIONS: (
        "single_leg_bridge", "heel_raise", "single_leg_sit_to_stand", "single_leg_squat",
    ),
    Group.HOPS: (
        "two_leg_landing_tolerated", "controlled_landing", "single_hop", "triple_hop",
        "crossover_hop", "timed_hop_6m", "vertical_jump", "side_hop_30s",
        "reactive_strength_index", "landing_error_score", "agility_t_test",
    ),
    Group.AFTER: ("pain_during_test",),
    Group.SIZE: ("thigh_girth", "anterior_laxity"),
    Group.BODY: ("leg_length", "height", "body_mass"),
}  # fmt: skip
"""Ask, look and feel, move, load, and what it did. Common practice, no source."""

LABELS: Final[Mapping[Group, str]] = {
    Group.SYMPTOMS: "Symptoms",
    Group.RANGE: "Range",
    Group.DAILY: "Walking and daily tasks",
    Group.HOLDS: "Holds",
    Group.MOVEMENT: "Movement",
    Group.BALANCE: "Balance",
    Group.STRENGTH: "Strength",
    Group.REPETITIONS: "Repetitions",
    Group.HOPS: "Hops and landing",
    Group.AFTER: "After the tests",
    Group.SIZE: "Size and laxity",
    Group.BODY: "Body",
    Group.OTHER: "Others",
}
"""The groups as the screen names them, in the order of a visit."""

ORDER: Final = tuple(chain.from_iterable(GROUPS.values()))

_RANKS: Final = {code: place for place, code in enumerate(ORDER)}


def rank(code: str) -> int:
    """The place of a measure in a visit; measures that have none come last.

    >>> rank("effusion") < rank("single_hop") < rank("own_grip")
    True
    """
    return _RANKS.get(code, len(ORDER))
