"""The shipped progressions: every level, its evidence marks, and what the reader refuses."""

import re
from copy import deepcopy
from decimal import Decimal
from typing import Any

import pytest

from outcomes.catalogue.fields import SeedError
from outcomes.core.progressions import Level, Nature, Progression, Requirement, Variable, load_in_kg
from outcomes.core.values import Limb, Mark, Reading, Source
from outcomes.protocols.progression_seeds import (
    load_progressions,
    progression_from,
    progression_seeds,
)
from tests.core.builders import CATALOGUE, after
from tests.core.tables import every_case

PROGRESSIONS = load_progressions(CATALOGUE)
SEEDS = dict(progression_seeds())
HIP, QUADRICEPS, LANDING = (
    PROGRESSIONS[code] for code in ("hip_control", "quadriceps_loading", "landing")
)
EVERY_LEVEL = [(one, level) for one in PROGRESSIONS.values() for level in one.levels]
each_level = every_case(("progression", "level"), EVERY_LEVEL, ids=lambda one: one.code)
REMOVED = object()


def weeks(progression: Progression) -> dict[str, int]:
    return {level.code: level.earliest_week for level in progression.levels}


def test_levels_in_their_order_with_their_earliest_weeks() -> None:
    assert weeks(HIP) == {
        "side_lying_leg_raise": 2,
        "side_plank": 2,
        "supported_standing_hip_hold": 6,
        "standing_hip_hold": 7,
        "standing_hip_hold_with_weight": 7,
        "moving_hip_hold": 8,
        "lateral_heel_touch": 8,
        "forward_heel_touch": 10,
        "forward_heel_touch_with_weight": 12,
    }
    assert list(weeks(QUADRICEPS).values()) == [0, 2, 2, 4, 5, 8, 10, 16]
    assert list(weeks(LANDING).values()) == [8, 10, 12, 14, 16, 18, 20, 26]


def requirements(level: Level) -> tuple[Requirement, ...]:
    return (*level.enter, *level.advance, *level.step_back)


def sources(progression: Progression) -> list[Source]:
    found = [*progression.sources, *(s for one in progression.advice for s in one.sources)]
    for level in progression.levels:
        found += level.sources
        found += [s for one in requirements(level) for s in one.sources]
        found += [s for one in level.cautions for s in one.sources]
    return found


@each_level
def test_every_level_says_all_that_a_patient_and_a_clinician_need(
    progression: Progression, level: Level
) -> None:
    texts = (level.label, level.exercise, level.how, level.why, level.feel, level.stop)
    assert all(texts)
    assert all(len(text) < 200 for text in (level.why, level.feel, level.stop))
    assert level.stop.startswith("Stop when ")
    assert (level.dose.reps is None) is not (level.dose.hold_s is None)
    assert level.sources
    assert all(one.sources for one in requirements(level))
    assert level.advance or level.look_for


def test_what_is_the_houses_own_common_practice_or_from_memory_says_so() -> None:
    said = {
        "setting of this house": Mark.CLINIC_SETTING,
        "common practice, no source": Mark.COMMON_PRACTICE,
        "from memory, unverified": Mark.MEMORY,
    }
    for source in (s for one in PROGRESSIONS.values() for s in sources(one)):
        for words, mark in said.items():
            assert (words in source.text) is (source.mark is mark)


@every_case(("name", "seed"), SEEDS.items())
def test_no_source_is_named_in_vain(name: str, seed: dict[str, Any]) -> None:
    used = {source.text for source in sources(PROGRESSIONS[seed["code"]])}
    assert {one["text"] for one in seed["named"].values()} == used


def level(code: str) -> Level:
    return HIP.levels[HIP.place(code=code)]


def practice(found: Level) -> str:
    return " ".join(s.text for s in found.sources if s.mark is Mark.COMMON_PRACTICE)


def test_facts_of_common_practice_about_the_standing_hip_hold() -> None:
    hold, free, loaded = (
        level(code)
        for code in (
            "supported_standing_hip_hold",
            "standing_hip_hold",
            "standing_hip_hold_with_weight",
        )
    )
    for one in (hold, free, loaded):
        assert one.dose.hold_s is not None
        assert (one.dose.hold_s.least, one.dose.hold_s.most) == (15, 20)
        assert "15 to 20 s" in practice(one)
    assert (hold.earliest_week, [one.code for one in hold.enter]) == (6, ["stands_on_one_leg"])
    assert "Not before about week 6" in practice(hold)
    assert (hold.minimum_days, free.minimum_days) == (14, 14)
    assert "two weeks before load" in practice(hold)
    assert "two weeks before load" in practice(free)
    assert "feels the side of the hip work, without leaning" in hold.look_for[0]
    assert [one.steps for one in (hold, free)] == [None, None]
    assert loaded.steps is not None
    assert (loaded.steps.variable, loaded.steps.first, loaded.steps.last) == (
        Variable.LOAD,
        Decimal("2.5"),
        Decimal(10),
    )
    assert "free side makes it harder" in practice(loaded)


def test_facts_of_common_practice_about_heel_touches() -> None:
    order = [one.code for one in HIP.levels]
    assert order.index("lateral_heel_touch") < order.index("forward_heel_touch")
    assert "lateral heel touch comes before" in practice(level("lateral_heel_touch"))
    for code in ("lateral_heel_touch", "forward_heel_touch"):
        assert "both sides look alike" in practice(level(code))
        assert level(code).alike == (f"pelvic_drop_{code}",)
    assert HIP.hip_work == "standing_hip_hold"


def test_a_lateral_heel_touch_needs_flexion_no_limp_and_little_effusion() -> None:
    found = {
        one.code: (c.measure, c.operator.value, c.value, one.hard)
        for one in level("lateral_heel_touch").enter
        for c in one.criteria
    }
    assert found == {
        "flexion_120": ("knee_flexion", ">=", Decimal(120), True),
        "no_limp": ("gait_without_limp", ">=", Decimal(1), True),
        "effusion_trace": ("effusion", "<=", Decimal(1), True),
        "front_of_knee": ("pain_front_of_knee", "<=", Decimal(2), True),
    }


def test_no_quadriceps_gate_on_hip_work_and_the_value_is_advice() -> None:
    gates = [
        one.code
        for found in HIP.levels
        for one in requirements(found)
        for c in one.criteria
        if c.measure == "quadriceps_torque"
    ]
    assert (gates, [(one.code, one.hard) for one in HIP.advice]) == (
        [],
        [("quadriceps_lsi", False)],
    )


@each_level
def test_a_loaded_knee_bend_warns_of_a_patellar_tendon_graft(
    progression: Progression, level: Level
) -> None:
    bends = level.nature & {Nature.LOADED_BEND, Nature.IMPACT}
    warned = [one for one in level.cautions if "patellar_tendon" in one.grafts]
    if bends:
        assert [one.grafts[-1] for one in warned] == ["unknown"]
        assert {s.mark for one in warned for s in one.sources} == {Mark.COMMON_PRACTICE}


def test_a_hamstring_graft_has_no_load_on_seated_extension_before_week_12() -> None:
    seated = QUADRICEPS.levels[QUADRICEPS.place(code="open_chain_knee_extension")]
    assert [
        (one.grafts, one.before_week) for one in seated.cautions if "hamstring" in one.grafts
    ] == [(("hamstring", "unknown"), 12)]
    heavy = QUADRICEPS.levels[QUADRICEPS.place(code="heavy_one_leg_strength")]
    assert dict(heavy.later) == {"graft:hamstring": 12, "graft:unknown": 12}


def test_limits_block_what_they_limit() -> None:
    for limit, code in (("impact", Nature.IMPACT), ("open_chain", Nature.OPEN_CHAIN)):
        assert {one.code for _, one in EVERY_LEVEL if limit in one.blocked_by} >= {
            one.code for _, one in EVERY_LEVEL if code in one.nature
        }
    assert {one.code for one in HIP.levels if "loaded_flexion" in one.blocked_by} == {
        "moving_hip_hold",
        "lateral_heel_touch",
        "forward_heel_touch",
        "forward_heel_touch_with_weight",
    }
    assert level("side_lying_leg_raise").blocked_by == ()


@every_case(
    ("mass", "percent", "kilograms"),
    [("62", "2.5", "1.5"), ("70", "2.5", "2.0"), ("80", "10", "8.0"), ("68.4", "15", "10.5")],
)
def test_loads_are_in_kilograms_rounded_to_half(mass: str, percent: str, kilograms: str) -> None:
    body = Reading(measure="body_mass", limb=Limb.NONE, value=Decimal(mass), on=after())
    assert str(load_in_kg(percent=Decimal(percent), body_mass=body)) == kilograms
    assert load_in_kg(percent=Decimal(percent), body_mass=None) is None


def changed(path: str, value: object) -> dict[str, Any]:
    seed = deepcopy(SEEDS["hip_control.toml"])
    *way, last = [int(part) if part.isdigit() else part for part in path.split(".")]
    part: Any = seed
    for step in way:
        part = part[step]
    if value is REMOVED:
        del part[last]
    else:
        part[last] = value
    return seed


@every_case(
    ("path", "value", "said"),
    [
        ("aim", REMOVED, "aim: is missing"),
        ("colour", "red", "colour: is not known"),
        ("levels.0.why", "", "levels[0]: why: is empty"),
        ("levels.0.look_for", [], "levels[0]: advance: is missing"),
        ("levels.0.nature", [], "levels[0]: nature: is missing"),
        ("levels.0.nature", ["magic"], "levels[0]: nature: 'magic' is none of"),
        ("levels.1.code", "side_lying_leg_raise", "levels: needs two or more, none twice"),
        ("levels.1.earliest_week", 1, "levels: side_plank comes earlier than"),
        ("levels.0.sources", [], "levels[0]: sources: is missing"),
        ("levels.0.sources", ["nobody"], "levels[0]: sources: 'nobody' is none of"),
        ("levels.0.blocked_by", ["swimming"], "levels[0]: blocked_by: 'swimming' is none of"),
        ("levels.5.blocked_by", ["brace"], "moving_hip_hold must be blocked by loaded_flexion"),
        ("levels.5.cautions", [], "moving_hip_hold needs one for patellar_tendon"),
        ("levels.5.cautions.0.grafts", [], "cautions[0]: grafts: is missing"),
        ("levels.0.dose.hold_s", [5, 10], "dose: reps: give either repetitions or a hold"),
        ("levels.0.dose.reps", [15, 10], "dose: reps: must be two whole numbers"),
        ("levels.0.dose.days_a_week", [3, 8], "dose: days_a_week: a week has seven days"),
        ("levels.4.steps.by", "4", "steps: by: does not lead from the first to the last"),
        ("levels.4.steps.last", "2", "steps: steps: go upward"),
        ("levels.4.steps.variable", "exercise", "steps: variable: a step within a level"),
        ("levels.4.steps.measure", REMOVED, "steps: condition: goes with a measure"),
        ("levels.4.steps.measure", "nothing", "steps: measure: 'nothing' is no measure"),
        ("levels.4.steps.condition", "hand_support", "'hand_support' does not show the load"),
        ("levels.4.steps.variable", "height", "'added_load' does not show the height"),
        ("levels.3.advance.0.at_step", True, "at_step: standing_hip_hold: only before a step"),
        ("levels.3.step_back.0.hard", False, "step_back: standing_hip_hold: what takes back"),
        ("levels.6.enter.0.any", [], "enter[0]: any: is missing"),
        ("levels.6.enter.0.code", "flexion_lsi", "enter[0]: code: ends in _lsi"),
        ("levels.6.enter.0.any.0.value", "500", "threshold: 500 is outside"),
        ("levels.6.enter.0.any.0.measure", "nothing", "'nothing' is not in the catalogue"),
        ("levels.6.enter.0.any.0.form", "grade", "grade does not go with knee_flexion"),
        ("levels.6.enter.1.code", "flexion_120", "enter: names one twice"),
        ("levels.7.enter.0.any.0.key", "height=20", "has no condition 'height'"),
        ("levels.7.enter.0.any.0.key", "step_height=20.0", "is written 'step_height=20'"),
        ("levels.7.enter.0.any.0.key", "step_height=high", "Type step height as a number"),
        ("levels.6.alike", ["knee_flexion"], "levels[6]: alike: 'knee_flexion' is none of"),
        ("hip_work", "lateral_heel_touch", "hip_work: must name a level of hip work"),
        ("hip_work", REMOVED, "hip_work: must name a level of hip work"),
        ("weeks_later", {"graft:wool": 4}, "weeks_later.graft:wool: is not known"),
        ("levels.0.later", {"graft:hamstring": 2}, "must be whole weeks above 2"),
        ("last_by_goal", {"chess": "side_plank"}, "last_by_goal.chess: names a goal"),
        ("last_by_goal", {"no_sport": "nothing"}, "last_by_goal.no_sport: names a goal"),
        ("advice.0.hard", True, "advice: holds nothing"),
        ("named.order.mark", "gossip", "named.order: mark: 'gossip' is none of"),
    ],
)
def test_the_reader_refuses_with_file_and_key(path: str, value: object, said: str) -> None:
    with pytest.raises(SeedError) as refused:
        progression_from(changed(path, value), CATALOGUE, where="hip_control.toml")
    assert str(refused.value).startswith("hip_control.toml: ")
    assert said in str(refused.value)


def test_a_hard_quadriceps_criterion_on_hip_work_is_refused() -> None:
    gate = {
        "code": "gate_lsi",
        "label": "Quadriceps",
        "any": [
            {"measure": "quadriceps_torque", "form": "symmetry", "operator": ">=", "value": "70"}
        ],
        "sources": ["order"],
    }
    with pytest.raises(SeedError, match="no quadriceps gate on hip work"):
        progression_from(changed("levels.2.enter", [gate]), CATALOGUE)
    advice = {**gate, "hard": False}
    assert progression_from(changed("levels.2.enter", [advice]), CATALOGUE).code == "hip_control"


VOWELS = re.compile(r"[aeiouy]+")


def grade_level(text: str) -> float:
    """Flesch-Kincaid grade (Kincaid 1975, from memory), syllables counted as groups of vowels."""
    words = re.findall(r"[a-z]+", text.lower())
    syllables = sum(max(1, len(VOWELS.findall(re.sub(r"e$", "", word)))) for word in words)
    sentences = len(re.findall(r"[.!?](?:\s|$)", text))
    return 0.39 * len(words) / sentences + 11.8 * syllables / len(words) - 15.59


@each_level
def test_what_the_patient_reads_is_plain(progression: Progression, level: Level) -> None:
    """Grade 5 of the formula is about eleven years."""
    assert grade_level(f"{level.why} {level.feel} {level.stop}") <= 5
    assert grade_level("Quadriceps inhibition necessitates neuromuscular re-education.") > 12
