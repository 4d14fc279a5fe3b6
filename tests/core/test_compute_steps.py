"""The next step as a call asks for it."""

import json
from typing import Any

from outcomes.queries.compute import answer_line

EPISODE = {
    "knee": "left", "kind": "reconstruction", "index_date": "2026-04-06", "graft": "hamstring",
    "graft_from": "same_limb", "other_limb": "healthy", "sex": "female",
    "birth_date": "2000-05-05", "goal": "pivoting",
}  # fmt: skip
READING = {"measure": "knee_flexion", "limb": "left", "value": 118.5, "date": "2026-06-08"}
STEP: dict[str, Any] = {
    "calc": "next_step", "on": "2026-06-08", "episode": EPISODE, "readings": [],
    "progression": "hip_control", "level": "side_plank", "since": "2026-05-25",
}  # fmt: skip


def answered(**changes: Any) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(answer_line(line=json.dumps({**STEP, **changes}))[0])
    return found


def test_the_next_step_is_that_of_the_core_with_numbers_as_numbers() -> None:
    found = answered(readings=[READING], restrictions=[{"kind": "brace", "from": "2026-06-01"}])
    assert (found["proposal"], found["level"]) == ("regress", "side_lying_leg_raise")
    assert found["dose"] == {"sets": 3, "reps": 10, "load_kg": 0, "days_a_week": 3}
    assert found["blocked_by"] == [{"kind": "brace", "from": "2026-06-01", "until": None}]
    rules = {one["rule"]: one for one in found["reasons_for"]}
    against = {one["rule"]: one for one in found["reasons_against"]}
    assert (against["week_reached"]["week"], against["week_reached"]["earliest_week"]) == (9, 6)
    assert rules["pain_not_known"] == {
        "rule": "pain_not_known", "effect": "holds", "days": 14,
        "sentence": "Pain not asked in the last 14 days",
    }  # fmt: skip


def test_a_level_of_another_progression_is_refused_and_an_empty_one_is_not_begun() -> None:
    assert answered(progression="landing")["error"].startswith('"level" cannot be "side_plank"')
    assert answered(level="")["dose"] is None


def test_nobody_is_judged_before_their_birth() -> None:
    unborn = {**EPISODE, "birth_date": "2026-06-09", "index_date": None, "kind": "waiting"}
    assert answered(episode=unborn)["error"].startswith('"birth_date" lies after "on"')
