"""Kinds of events: the record and the core know the same ones, and each says what it changes."""

from outcomes.core.events import (
    BY_CODE,
    INJURIES,
    KINDS,
    PROCEDURES,
    RETURNS,
    Side,
    asks_for_limits,
    chart_words,
    event_words,
    injuries,
    limb_of,
)
from outcomes.core.values import Event
from tests.core.builders import NONE, L, R, after
from tests.core.tables import every_case


def event(code, *, weeks=10, **more):
    return Event(code=code, **{"limb": L, "on": after(weeks=weeks), **more})


def test_every_kind_says_what_it_changes_and_has_a_code_of_its_own():
    assert len(BY_CODE) == len(KINDS)
    assert {kind.code for kind in KINDS if len(kind.effect) < 40} == set()
    assert set(RETURNS) | set(INJURIES) | set(PROCEDURES) < set(BY_CODE)


def test_only_an_injury_a_fracture_or_the_other_acl_can_be_on_the_other_side():
    other = {kind.code for kind in KINDS if Side.OTHER in kind.sides}
    assert other == {"new_injury", "fracture", "other_knee_acl_injury"}
    assert {kind.code for kind in KINDS if Side.PERSON in kind.sides} == set(RETURNS)


def test_sides_are_seen_from_the_followed_knee():
    assert [limb_of(side=side, knee=R) for side in Side] == [R, L, NONE]


def test_a_procedure_for_stiffness_has_one_meaning_only():
    """It is a kind of its own, and so no detail of a reoperation."""
    assert "stiffness_procedure" not in BY_CODE["reoperation"].details
    assert BY_CODE["stiffness_procedure"].after_operation


@every_case(
    ("code", "detail", "asked"),
    [
        ("reoperation", "meniscal_repair", True),
        ("reoperation", "cartilage_procedure", True),
        ("reoperation", "implant_removal", True),
        ("reoperation", "other", True),
        ("reoperation", "not_known", True),
        ("reoperation", "cyclops_removal", False),
        ("reoperation", "washout", False),
        ("reoperation", "partial_meniscectomy", False),
        ("stiffness_procedure", "release", False),
        ("infection", "joint", False),
    ],
)
def test_after_which_the_surgeons_limits_are_asked_for(code, detail, asked):
    """Common practice, no source: load and range follow the ACL operation after a smaller one."""
    assert asks_for_limits(event=event(code, detail=detail)) is asked


@every_case(
    ("happened", "long", "short"),
    [
        (event("giving_way"), "giving way", "gave way"),
        (event("graft_rupture"), "graft rupture", "graft rupture"),
        (
            event("other_knee_acl_injury", limb=R),
            "ACL injury of the other knee",
            "ACL injury, other knee",
        ),
        (
            event("reoperation", detail="cyclops_removal"),
            "reoperation: removal of scar tissue at the front",
            "removal of scar tissue at the front",
        ),
        (event("reoperation", detail="other"), "reoperation: other", "reoperation"),
        (event("infection", detail="joint"), "infection: of the joint", "infection"),
        (
            event("return_to_running", limb=NONE, early=True),
            "return to running, earlier than advised",
            "running, early",
        ),
    ],
)
def test_an_event_in_words_and_in_the_fewest_words(happened, long, short):
    assert (event_words(event=happened), chart_words(event=happened)) == (long, short)


def test_injuries_mark_decisions_and_nothing_else_does():
    found = [event(kind.code, weeks=20 - n) for n, kind in enumerate(KINDS)]
    assert [one.code for one in injuries(events=found)] == [
        "fracture", "other_knee_acl_injury", "graft_rupture", "new_injury",
    ]  # fmt: skip
