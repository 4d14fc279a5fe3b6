"""The record that a call sends: read exactly, in the codes of the site, refused with its place."""

import json
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from clinic.models import care, people
from outcomes.core.values import Limb, ReadingStatus
from outcomes.queries.compute import read
from outcomes.queries.compute_asked import Asked, Refused
from outcomes.queries.compute_record import GRAFT_FROM, OTHER_LIMB, SEXES, Recorded, record_from
from tests.core.builders import CATALOGUE

EPISODE = {
    "knee": "left", "kind": "reconstruction", "index_date": "2026-04-06",
    "birth_date": "2000-05-05",
}  # fmt: skip
READING: dict[str, Any] = {
    "measure": "knee_flexion", "limb": "left", "value": 118.5, "date": "2026-06-08",
}  # fmt: skip


def recorded(**changes: Any) -> Recorded:
    sent = json.dumps({"episode": EPISODE, **changes})
    return record_from(Asked(values=read(line=sent)), catalogue=CATALOGUE)


def refused(**changes: Any) -> str:
    with pytest.raises(Refused) as found:
        recorded(**changes)
    return str(found.value)


def test_codes_are_those_of_the_record() -> None:
    assert set(GRAFT_FROM) == {code for code, _ in care.GRAFT_FROM}
    assert set(OTHER_LIMB) == {code for code, _ in care.OTHER_LIMB}
    assert set(SEXES) == {code for code, _ in people.SEXES}


def test_what_is_left_out_of_an_episode_is_not_known() -> None:
    facts = recorded().facts
    assert (facts.graft, facts.graft_from, facts.other_limb, facts.sex, facts.goal) == (
        "unknown", "unknown", "not_stated", "not_stated", "not_stated",
    )  # fmt: skip
    null = {"graft": None, "other_limb": None, "goal": None}
    assert recorded(episode={**EPISODE, **null}).facts == facts
    waiting = {**EPISODE, "kind": "waiting", "index_date": None}
    assert recorded(episode=waiting).facts.index_date is None


def test_a_reading_keeps_its_exact_value_its_conditions_and_its_details() -> None:
    hold = {
        "measure": "standing_hip_hold", "limb": "right", "value": 24.6, "date": "2026-06-08",
        "conditions": {"hand_support": "no", "added_load": 2.0}, "details": {"end_reason": "lean"},
    }  # fmt: skip
    (one,) = recorded(readings=[hold]).readings
    assert (one.value, one.key, one.details, one.limb, one.ref) == (
        Decimal("24.6"), "added_load=2;hand_support=no", {"end_reason": "lean"}, Limb.RIGHT, 1,
    )  # fmt: skip
    (bare,) = recorded(readings=[{**hold, "conditions": {}}]).readings
    (some,) = recorded(readings=[{**hold, "conditions": {"hand_support": "no"}}]).readings
    assert (bare.key, some.key) == ("", "hand_support=no")


def test_grades_come_by_their_word_and_tests_without_a_value_by_their_status() -> None:
    swollen = {"measure": "effusion", "limb": "left", "value": "1+", "date": "2026-06-08"}
    walks = {"measure": "gait_without_limp", "value": "yes", "date": "2026-06-08"}
    unable = {**READING, "value": None, "status": "unable"}
    first, second, third = recorded(readings=[swollen, walks, unable]).readings
    assert (first.value, second.value, second.limb) == (Decimal(2), Decimal(1), Limb.NONE)
    assert (third.value, third.status) == (None, ReadingStatus.UNABLE)


def test_events_by_side_and_limits_without_an_end() -> None:
    events = [
        {"kind": "giving_way", "date": "2026-06-01"},
        {"kind": "new_injury", "side": "other", "date": "2026-06-01"},
        {"kind": "fracture", "side": "right", "date": "2026-06-01"},
        {"kind": "return_to_running", "date": "2026-06-01"},
    ]
    found = recorded(events=events, restrictions=[{"kind": "impact", "from": "2026-04-06"}])
    assert [one.limb.value for one in found.events] == ["left", "right", "right", "none"]
    assert found.restrictions[0].in_force(on=date(2199, 1, 1))


REFUSED = [
    ({"episode": {**EPISODE, "birth_date": "1899-12-31"}}, "a date from 1900 to 2199"),
    ({"episode": {"knee": "left"}}, 'episode: The key "kind" is missing'),
    ({"episode": {**EPISODE, "knee": "none"}}, 'episode: "knee" cannot be "none"'),
    ({"episode": {**EPISODE, "colour": 1}}, 'episode: The key "colour" is not known'),
    ({"episode": {**EPISODE, "birth_date": "2026-05-05"}}, '"birth_date" lies after'),
    ({"readings": {}}, '"readings" cannot be an object: send a list of objects'),
    ({"readings": [READING, {**READING, "value": "much"}]}, 'readings[1]: "value" cannot be'),
    ({"readings": [{**READING, "value": 171}]}, "Type a value from 0 to 170"),
    ({"readings": [{**READING, "limb": "none"}]}, 'readings[0]: "limb" cannot be "none"'),
    ({"readings": [{**READING, "value": None}]}, '"value" cannot be null'),
    ({"readings": [{**READING, "conditions": {"hour": 8}}]}, 'has no condition "hour"'),
    ({"readings": [{**READING, "conditions": {"device": "ruler"}}]}, "Choose device"),
    ({"readings": [{**READING, "conditions": {"device": None}}]}, '"device" cannot be null'),
    ({"readings": [{**READING, "details": {"mood": "good"}}]}, 'The key "mood" is not known'),
    ({"readings": [{**READING, "measure": "hamstring_quadriceps_ratio"}]}, "is worked out"),
    ({"scores": [{"code": "koos.sport", "value": None, "date": "2026-06-08"}]}, "scores[0]:"),
    ({"events": [{"kind": "party", "date": "2026-06-08"}]}, 'events[0]: "kind" cannot be'),
    ({"restrictions": [{"kind": "impact", "from": "2026-06-08", "until": "2026-06-07"}]},
     'restrictions[0]: "until" lies before "from"'),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "said"), REFUSED)
def test_what_cannot_be_is_refused_with_its_place(changes: dict[str, Any], said: str) -> None:
    assert said in refused(**changes)
