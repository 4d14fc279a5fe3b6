"""Every measure typed once, as a clinician types it, and what the patient page then says.

Left is the other side, right the operated one. A measure without limbs has one text. The second
pair is what stands on the left and on the right page, or the whole.
"""

from collections.abc import Iterator
from datetime import date

from outcomes.catalogue.seeds import load_catalogue
from outcomes.core.values import EntryKind, Limb, Measure, Reading
from outcomes.forms.ledger_tests import test_of

CATALOGUE = load_catalogue()
Pair = tuple[str, ...]

TYPED: dict[str, tuple[Pair, Pair]] = {
    "wound_closed": (("", "yes"), ("", "yes")),
    "pain_rest": (("", "1"), ("", "1 of 10")),
    "pain_worst_24h": (("", "3"), ("", "3 of 10")),
    "pain_front_of_knee": (("", "2"), ("", "2 of 10")),
    "soreness_after_session": (("", "warm-up then gone"), ("", "warm-up then gone")),
    "effusion": (("", "trace"), ("", "trace")),
    "knee_extension": (("beyond 2", "lacks 3"), ("2° beyond straight", "lacks 3°")),
    "heel_height_difference": (("1.5",), ("1.5 cm",)),
    "extensor_lag": (("", "5"), ("", "5°")),
    "knee_flexion": (("140", "132"), ("140°", "132°")),
    "ankle_dorsiflexion": (("41", "36"), ("41°", "36°")),
    "gait_without_aids": (("yes",), ("yes",)),
    "gait_without_limp": (("yes",), ("yes",)),
    "reciprocal_stairs": (("yes",), ("yes",)),
    "brisk_walk_30min_without_swelling": (("", "yes"), ("", "yes")),
    "task_pain_settled_next_morning": (("", "yes"), ("", "yes")),
    "home_exercise_days": (("5",), ("5 days",)),
    "run_walk_sessions": (("7",), ("7 sessions",)),
    "sport_programme_done": (("yes",), ("yes",)),
    "single_leg_stance": (("40", "31.5"), ("40.0", "31.5")),
    "standing_hip_hold": (("24.6", "19.2"), ("24.6", "19.2")),
    "side_plank_hold": (("60", "48"), ("60", "48")),
    "wall_sit_hold": (("30", "21"), ("30", "21")),
    "quad_set_with_glide": (("", "yes"), ("", "yes")),
    "straight_leg_raise_without_lag": (("", "yes"), ("", "yes")),
    "pelvic_drop_lateral_heel_touch": (("level", "moderate"), ("level", "moderate")),
    "pelvic_drop_forward_heel_touch": (("slight", "marked"), ("slight", "marked")),
    "trunk_lean": (("upright", "slight"), ("upright", "slight")),
    "trunk_flexion": (("some", "deep"), ("some", "deep")),
    "forward_knee_travel": (("full", "held back"), ("full", "held back")),
    "knee_medial_position": (("over foot", "inside big toe"), ("over foot", "inside big toe")),
    "ten_level_step_downs_20cm": (("yes", "no"), ("yes", "no")),
    "step_down_score": (("over_foot", "inside_foot"), ("2 of 6", "4 of 6")),
    "pelvic_drop_angle": (("1.5", "5"), ("1.5°", "5.0°")),
    "knee_projection_angle": (("-2", "8.5"), ("-2.0°", "8.5°")),
    "reach_anterior": (("66.5", "62"), ("66.5 75.6 % of leg length", "62.0 70.5 % of leg length")),
    "reach_posteromedial": (
        ("99", "98.5"),
        ("99.0 112.5 % of leg length", "98.5 111.9 % of leg length"),
    ),
    "reach_posterolateral": (
        ("95", "94"),
        ("95.0 108.0 % of leg length", "94.0 106.8 % of leg length"),
    ),
    "quadriceps_torque": (("164", "121"), ("164.0 2.59 N·m/kg", "121.0 1.91 N·m/kg")),
    "hamstring_torque": (("98", "80"), ("98.0 1.55 N·m/kg", "80.0 1.26 N·m/kg")),
    "quadriceps_rate_of_torque": (("900", "610"), ("900", "610")),
    "knee_extension_rm": (("40", "27.5"), ("40.0", "27.5")),
    "leg_press_rm": (("90", "80"), ("90.0", "80.0")),
    "hip_abduction_force": (
        ("205", "182"),
        ("205 33.0 % of body weight", "182 29.3 % of body weight"),
    ),
    "hip_external_rotation_force": (
        ("120", "110"),
        ("120 19.3 % of body weight", "110 17.7 % of body weight"),
    ),
    "single_leg_bridge": (("27", "20"), ("27", "20")),
    "heel_raise": (("28", "22"), ("28", "22")),
    "single_leg_sit_to_stand": (("24", "13"), ("24", "13")),
    "single_leg_squat": (("15", "9"), ("15", "9")),
    "two_leg_landing_tolerated": (("yes",), ("yes",)),
    "controlled_landing": (("yes", "no"), ("yes", "no")),
    "single_hop": (("160", "142"), ("160.0 95 % of height", "142.0 85 % of height")),
    "triple_hop": (("480", "430"), ("480.0 286 % of height", "430.0 256 % of height")),
    "crossover_hop": (("430", "380"), ("430.0 256 % of height", "380.0 226 % of height")),
    "timed_hop_6m": (("1.95", "2.1"), ("1.95", "2.10")),
    "vertical_jump": (("21.6", "17"), ("21.6 13 % of height", "17.0 10 % of height")),
    "side_hop_30s": (("48", "40"), ("48", "40")),
    "reactive_strength_index": (("0.6", "0.42"), ("0.60", "0.42")),
    "landing_error_score": (("6",), ("6.0 errors",)),
    "agility_t_test": (("11.9",), ("11.90 s",)),
    "pain_during_test": (("", "2"), ("", "2 of 10")),
    "thigh_girth": (("51", "48.5"), ("51.0", "48.5")),
    "anterior_laxity": (("6", "9.5"), ("6.0", "9.5")),
    "leg_length": (("88", "88"), ("88.0", "88.0")),
    "height": (("168",), ("168.0 cm",)),
    "body_mass": (("63.4",), ("63.4 kg",)),
}
DERIVED: dict[str, Pair] = {
    "reach_composite": ("98.7 %", "96.4 %"),
    "hamstring_quadriceps_ratio": ("0.60", "0.66"),
}
NUMBERS = {"cm": "20", "deg": "90", "deg/s": "", "kg": "0", "N": "134", "/min": "60", "1": "3"}
"""A number for each condition by its unit; an isokinetic speed is left out."""
ALL_ITEMS = {
    "arms": "yes",
    "trunk": "no",
    "pelvis": "yes",
    "knee": "inside_foot",
    "steadiness": "no",
}


def limbs_of(measure: Measure) -> tuple[str, ...]:
    """The limbs that are typed for, in the order of the table."""
    return ("left", "right") if measure.per_limb else ("none",)


def texts_of(code: str, typed: Pair) -> dict[str, str]:
    """The fields of one row."""
    measure = CATALOGUE[code]
    found = {f"r:{code}": "1"}
    for condition in measure.conditions:
        first = condition.choices[0].code if condition.choices else None
        text = first or NUMBERS.get(condition.unit, "8")
        found[f"c:{code}:{condition.code}"] = text
    for limb, text in zip(limbs_of(measure), typed, strict=True):
        if not text:
            continue
        if measure.entry is EntryKind.EXTENSION:
            choice, _, text = text.partition(" ")
            found[f"x:{code}:{limb}"] = choice
        if measure.entry is EntryKind.ITEMS:
            chosen = {**ALL_ITEMS, "knee": text}
            found |= {f"d:{code}:{limb}:{item}": one for item, one in chosen.items()}
            continue
        for number in range(1, measure.trials + 1):
            found[f"v:{code}:{limb}" + (f":{number}" if number > 1 else "")] = text
    return {name: text for name, text in found.items() if text}


def readings_of(code: str, typed: Pair, *, on: date, ref: int) -> Iterator[Reading]:
    """The readings that signing would insert for one row."""
    row = test_of(row=code, measures=CATALOGUE, texts=texts_of(code, typed))
    assert row.problems == ()
    for number, entry in enumerate(row.entries):
        yield Reading(
            measure=code,
            limb=Limb(entry.limb),
            value=entry.value,
            on=on,
            key=entry.key,
            details=entry.details,
            ref=ref + number + 1,
        )
