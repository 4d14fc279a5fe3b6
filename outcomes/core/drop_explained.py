"""The explanations of a pelvic drop in words: what it might be, what was found, what to do next."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from outcomes.core.drop_record import Finding
from outcomes.core.sentences import day_in_words

NO_DIAGNOSIS: Final = (
    "A drop is a sign to follow up, not a diagnosis. The order says nothing about how likely each "
    "one is; several may hold at once."
)
MIGHT_BE: Final[Mapping[str, str]] = {
    "hip_abductors": "The hip of the standing leg does not hold the pelvis",
    "quadriceps": "The quadriceps is weak or avoids the load, hip and trunk take over",
    "ankle": "The ankle bends too little",
    "leg_length": "The legs differ in length",
    "step_height": "The step is too high for this body",
    "lateral_hip_pain": "The side of the hip hurts and is spared",
    "irritated_knee": "The knee is swollen or hurts and the load is dodged",
    "fear": "The task is dodged out of fear or doubt",
    "usual_for_this_person": "This person stands like this on either leg",
}
NEXT: Final[Mapping[str, str]] = {
    "abduction_force_both_sides": "Hip abduction force on both sides, one position, same tester",
    "quadriceps_both_sides": "Quadriceps torque on both sides, and look at the forward knee travel",
    "repeat_with_heel_raised": "Dorsiflexion on both sides, then repeat with the heel raised",
    "repeat_with_lift": "Measure both legs, then repeat with a lift under the shorter one",
    "repeat_on_lower_step": "Repeat on a lower step",
    "abduction_against_resistance": "Press the side of the hip, abduction against resistance",
    "repeat_when_calm": "Ask for the pain in the task, repeat once the knee is calm",
    "repeat_with_a_hand": "Repeat with a hand on the wall and on a low step, ask what is feared",
    "other_side_same_conditions": "Grade the other side on the same step, after practice",
}
FOUND: Final[Mapping[str, str]] = {
    "abduction_less": "Hip abduction force {value} % of the other side, under {cut}",
    "abduction_even": "Hip abduction force {value} % of the other side, at least {cut}",
    "hold_short": "Standing hip hold {value} s, under 20",
    "hold_long": "Standing hip hold {value} s, at least 20",
    "first_movement": "The drop begins at the first movement",
    "only_at_depth": "The drop comes only at depth",
    "on_the_way_down": "The drop comes on the way down",
    "trunk_leans": "The trunk leans over the standing leg, which unloads the hip",
    "quadriceps_less": "Quadriceps {value} % of the other side, under {cut}",
    "quadriceps_even": "Quadriceps {value} % of the other side, at least {cut}",
    "knee_travel": "Forward knee travel {value}",
    "ankle_short": "Dorsiflexion {value}° short of the other ankle",
    "ankle_alike": "Dorsiflexion within 5° of the other ankle or more",
    "legs_unequal": "Legs {value} cm apart in length",
    "legs_alike": "Legs within 1 cm in length ({value} cm)",
    "step_high": "Step of {step} cm: {value} % of body height",
    "lower_step_better": "On a lower step {value}",
    "lower_step_same": "On a lower step {value} as well",
    "lateral_hip_pain": "Pain at the side of the hip",
    "no_lateral_hip_pain": "No pain at the side of the hip",
    "swollen": "Effusion {value}",
    "not_swollen": "Effusion {value}",
    "hurts": "Pain {value} of 10",
    "hurts_little": "Pain {value} of 10",
    "sore": "Sore in the task",
    "afraid": "Afraid of the task",
    "unsure": "Unsure in the task",
    "at_ease": "At ease in the task",
    "other_side_alike": "Standing on the other leg {value}, the same",
    "other_side_differs": "Standing on the other leg {value}",
}
NOT_KNOWN: Final[Mapping[str, str]] = {
    "hip_abduction_force": "hip abduction force on both sides",
    "standing_hip_hold": "standing hip hold",
    "quadriceps_torque": "quadriceps torque on both sides",
    "forward_knee_travel": "forward knee travel in this task",
    "ankle_dorsiflexion": "dorsiflexion on both sides",
    "leg_length": "leg length on both sides",
    "step_height": "step height",
    "height": "body height",
    "lower_step": "the same on a lower step",
    "lateral_hip_pain": "pain at the side of the hip",
    "effusion": "effusion",
    "pain_during_test": "pain in the task",
    "comfort": "how comfortable the task was",
    "other_side": "the other side under the same conditions",
}


def found_words(*, finding: Finding) -> str:
    """One finding as a sentence with its day. Raises ``KeyError`` for a new code.

    >>> found_words(finding=Finding(code="swollen", facts={"value": "2+", "date": "2026-06-08"}))
    'Effusion 2+ (8 Jun 2026)'
    """
    said = FOUND[finding.code].format(**finding.facts)
    return f"{said} ({day_in_words(iso=finding.facts['date'])})"


def not_known_words(*, code: str) -> str:
    """What was not looked at. Raises ``KeyError`` for a new code.

    >>> not_known_words(code="height")
    'body height'
    """
    return NOT_KNOWN[code]
