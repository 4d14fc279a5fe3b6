"""Reasons to look that come from events. How long each holds is a setting of this house."""

from datetime import timedelta

from outcomes.core.looks import NOTE
from outcomes.core.sentences import WRITERS, sentence_of
from outcomes.core.values import Event, RedFlag, Tier
from tests.core.builders import L, R, after, reading
from tests.core.tables import every_case
from tests.core.test_looks import looks
from tests.core.test_sentences import LONGEST

NOW = after(weeks=20)


def event(code, *, days=10, limb=L, **more):
    return Event(code=code, limb=limb, on=NOW - timedelta(days=days), **{"ref": 1, **more})


def reasons(*events, on=NOW, flags=(), **changes):
    found = looks([], on=on, flags=flags, events=events, **changes)
    return [reason for reason in found if reason.code != "no_visit"]


def codes(*events, **rest):
    return [reason.code for reason in reasons(*events, **rest)]


def test_giving_way_once_is_this_week_and_twice_is_for_the_surgeon():
    """Single giving way: this week. Two: discuss with the surgeon, never a verdict (setting)."""
    once, twice = event("giving_way"), event("giving_way", days=90)
    first, second = reasons(once)[0], reasons(once, twice)[0]
    assert sentence_of(reason=first) == "Knee gave way (10 Jul 2026): look at it this week"
    assert sentence_of(reason=second) == (
        "Knee gave way on 2 days, last 10 Jul 2026: discuss with the surgeon"
    )
    assert second.rank > first.rank > NOTE
    assert codes(once, twice) == ["event_giving_way_again"]
    assert "fail" not in sentence_of(reason=second)


def test_twice_on_one_day_is_one_day():
    assert codes(event("giving_way"), event("giving_way", ref=2)) == ["event_giving_way"]


def test_without_surgery_giving_way_is_judged_the_same():
    once, twice = event("giving_way"), event("giving_way", days=90)
    changes = {"kind": "without_surgery", "graft": "", "graft_from": ""}
    assert codes(once, twice, **changes) == ["event_giving_way_again"]


def test_what_a_red_flag_says_already_is_said_once():
    def flag(days):
        on = NOW - timedelta(days=days)
        return [RedFlag(code="giving_way", tier=Tier.THIS_WEEK, on=on)]

    assert codes(event("giving_way"), flags=flag(10)) == ["red_flag_giving_way"]
    assert codes(event("giving_way"), flags=flag(11)) == ["event_giving_way", "red_flag_giving_way"]
    again = [event("giving_way"), event("giving_way", days=20)]
    assert codes(*again, flags=flag(10)) == ["event_giving_way_again", "red_flag_giving_way"]


@every_case(
    ("code", "days", "limb", "rest", "sentence"),
    [
        ("graft_rupture", 182, L, {},
         "Graft rupture ({}): this episode is still open, tell the surgeon"),
        ("infection", 42, L, {"detail": "joint"},
         "Infection of the joint ({}): the plan of the surgeon’s team comes first"),
        ("infection", 42, L, {"detail": "not_known"},
         "Infection ({}): the plan of the surgeon’s team comes first"),
        ("clot", 84, L, {"detail": "leg"},
         "Blood clot in the leg ({}): the plan of the treating doctor comes first"),
        ("fracture", 84, R, {"detail": "patella"},
         "Fracture of the patella, right ({}): ask the surgeon before loading"),
        ("fracture", 84, L, {"detail": "other"},
         "Fracture, left ({}): ask the surgeon before loading"),
        ("other_knee_acl_injury", 182, R, {},
         "ACL injury of the right knee ({}): no episode follows that knee yet"),
        ("new_injury", 42, L, {}, "New injury, left knee ({}): look at it this week"),
        ("giving_way", 42, L, {}, "Knee gave way ({}): look at it this week"),
    ],
)  # fmt: skip
def test_each_reason_its_sentence_and_the_last_day_it_holds(code, days, limb, rest, sentence):
    happened = event(code, days=0, limb=limb, **rest)
    last = NOW + timedelta(days=days - 1)
    found = reasons(happened, on=last)
    assert [reason.code for reason in found] == [f"event_{code}"]
    text = sentence_of(reason=found[0])
    assert text == sentence.format("20 Jul 2026")
    assert len(text) <= LONGEST
    assert found[0].alarm
    assert reasons(happened, on=last + timedelta(days=1)) == []


def test_every_sentence_of_an_event_was_seen_above():
    named = {
        "giving_way", "giving_way_again", "new_injury", "graft_rupture", "other_knee_acl_injury",
        "infection", "clot", "fracture",
    }  # fmt: skip
    assert {code for code in WRITERS if code.startswith("event_")} == {f"event_{n}" for n in named}


def test_the_other_knee_speaks_for_itself_once_it_is_followed():
    happened = event("other_knee_acl_injury", limb=R)
    assert codes(happened, other_knee_followed=True) == []


def test_returns_and_later_operations_are_no_reason_to_look():
    done = [
        event("reoperation", detail="washout"), event("stiffness_procedure", detail="release"),
        event("return_to_running", early=True), event("return_to_competition"),
    ]  # fmt: skip
    assert codes(*done) == []


def test_what_lies_before_the_operation_is_no_reason_after_it():
    early = Event(code="giving_way", limb=L, on=after(days=-3), ref=1)
    assert codes(early, on=after(days=1)) == []
    assert codes(early, on=after(days=-1)) == ["event_giving_way"]
    assert codes(early, on=after(days=1), index_date=None, kind="waiting") == ["event_giving_way"]
    assert codes(early, on=after(days=-4)) == []
    assert codes(early, on=after(days=0)) == []
    same_day = Event(code="giving_way", limb=L, on=after(days=0), ref=1)
    assert codes(same_day, on=after(days=1)) == ["event_giving_way"]


def test_twice_is_told_for_half_a_year():
    happened = [event("giving_way", days=days) for days in (0, 20)]
    assert codes(*happened, on=NOW + timedelta(days=181)) == ["event_giving_way_again"]
    assert codes(*happened, on=NOW + timedelta(days=182)) == []


def test_a_red_flag_of_today_speaks_for_what_happened_today():
    flag = RedFlag(code="giving_way", tier=Tier.THIS_WEEK, on=NOW)
    assert codes(event("giving_way", days=0), flags=[flag]) == ["red_flag_giving_way"]


def test_an_ended_episode_is_silent_and_a_followed_one_is_not():
    happened = event("infection", detail="joint")
    assert codes(happened, care_state="discharged") == []
    assert codes(happened, care_state="follow_up_only") == ["event_infection"]


def test_a_later_operation_opens_the_window_for_signs_of_infection_again():
    """Signs of infection are looked for in weeks 0 to 12; a washout starts such weeks anew."""
    rows = [
        reading("effusion", L, "2+", NOW),
        reading("knee_flexion", L, "130", after(weeks=19)),
        reading("knee_flexion", L, "115", NOW),
    ]

    def found(*events):
        return [r.code for r in looks(rows, on=NOW, events=events) if r.code == "infection_signs"]

    assert found() == []
    assert found(event("reoperation", detail="washout")) == ["infection_signs"]
    assert found(event("stiffness_procedure", days=0)) == ["infection_signs"]
    assert found(event("stiffness_procedure", days=90)) == ["infection_signs"]
    assert found(event("stiffness_procedure", days=91)) == []
    assert found(event("giving_way")) == []
