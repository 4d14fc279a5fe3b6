"""The first line that the record suggests: a rule of this house, no published norm."""

from datetime import timedelta

import pytest

from outcomes.core.looks import reasons_to_look
from outcomes.core.status import judge
from outcomes.core.values import RedFlag, Tier
from outcomes.letters.verdict import Kind, told, verdict
from tests.core.builders import (
    CATALOGUE,
    PROTOCOL,
    SURGERY,
    L,
    after,
    both,
    facts,
    reading,
    visits,
)

EXT, FLEX, QUAD = "knee_extension", "knee_flexion", "quadriceps_torque"


def suggested(rows, *, on, week="week 9", limits_to_confirm=(), **changes):
    who = facts(**changes)
    seen = visits(last_on=on, booked_on=on + timedelta(days=5), limits_to_confirm=limits_to_confirm)
    status = judge(
        facts=who,
        catalogue=CATALOGUE,
        protocol=PROTOCOL,
        readings=rows,
        restrictions=(),
        visits=seen,
        red_flags=(),
        on=on,
    )
    return verdict(
        facts=who,
        reasons=status.reasons,
        milestones=status.milestones,
        week=week,
        on=on,
    )


def quiet(on):
    """Everything that step-down work asks for, and nothing to look at."""
    return [
        *both(EXT, "0", "0", on),
        *both(FLEX, "135", "140", on),
        reading("effusion", L, "trace", on),
        reading("pain_front_of_knee", L, "1", on),
    ]


def test_a_finding_for_the_surgeon_is_a_concern_and_comes_first():
    day = after(weeks=7)
    rows = [
        *both(EXT, "6", "0", day - timedelta(days=14)),
        *both(EXT, "6", "0", day),
        reading("effusion", L, "trace", day - timedelta(days=14)),
        reading("effusion", L, "2+", day),
    ]
    found = suggested(rows, on=day)
    assert (found.kind, found.code) == (Kind.CONCERN, "extension_short_letter")
    assert found.line == (
        "Concern: extension 6° short at week 7, under 3° gained since 6 Apr 2026."
    )
    assert found.rests_on == (
        "2 findings for concern, the one above; also: Effusion up from trace to 2+, at week 7."
    )


def test_a_setback_is_slower_and_says_what():
    day = after(weeks=9)
    rows = [
        *quiet(day),
        reading("pain_worst_24h", L, "1", day - timedelta(days=7)),
        reading("pain_worst_24h", L, "4", day),
    ]
    found = suggested(rows, on=day)
    assert (found.kind, found.code) == (Kind.SLOWER, "pain_rising")
    assert found.line == (
        "Slower than usual for week 9: worst pain up from 1 to 4 of 10 between 27 Apr 2026 and "
        "4 May 2026."
    )
    assert found.rests_on == "1 setback, the one above."


def test_the_fall_of_strength_after_the_operation_is_no_setback():
    before, day = SURGERY - timedelta(days=21), after(weeks=9)
    rows = [*quiet(day), *both(QUAD, "150", "160", before), *both(QUAD, "80", "160", day)]
    assert suggested(rows, on=day).kind is Kind.USUAL
    for newest, kind in (("79", Kind.USUAL), ("50", Kind.SLOWER)):
        later = day + timedelta(days=7)
        again = [*rows, *both(QUAD, newest, "160", later)]
        assert suggested(again, on=later).kind is kind


def test_not_met_is_slower_only_four_weeks_after_the_earliest_date():
    def flexion_100(weeks, days=0):
        day = after(weeks=weeks, days=days)
        rows = [row for row in quiet(day) if row.measure != FLEX] + both(FLEX, "100", "104", day)
        return suggested(rows, on=day)

    assert flexion_100(11, days=6).kind is Kind.USUAL
    late = flexion_100(12)
    assert late.kind is Kind.SLOWER
    assert late.line == (
        "Slower than usual for week 12: not met four weeks after its earliest date: "
        "Flexion at least 120° (step-down work)."
    )


def test_as_usual_rests_on_counts():
    found = suggested(quiet(after(weeks=9)), on=after(weeks=9))
    assert (found.kind, found.line) == (Kind.USUAL, "As usual for week 9.")
    assert found.rests_on == (
        "no finding for concern, no setback, nothing late. "
        "Step-down work: 4 of 4 recorded as met, 0 not tested."
    )


def test_missing_is_never_usual():
    day = after(weeks=9)
    one = suggested([reading("effusion", L, "trace", day)], on=day)
    assert (one.kind, one.line) == (
        Kind.TOO_LITTLE,
        "Week 9: too little tested to say whether this is as usual.",
    )
    two = suggested([*both(FLEX, "135", "140", day), reading("effusion", L, "trace", day)], on=day)
    assert two.kind is Kind.USUAL


@pytest.mark.parametrize(
    ("week", "changes"),
    [
        ("before surgery", {"index_date": None, "kind": "waiting"}),
        ("week 9 after the injury", {"kind": "without_surgery"}),
    ],
)
def test_without_a_week_after_surgery_nothing_is_called_usual(week, changes):
    found = suggested(quiet(after(weeks=9)), on=after(weeks=9), week=week, **changes)
    assert found.kind is Kind.NO_WEEK
    assert found.line == f"{week[0].upper()}{week[1:]}: no finding for concern."


def test_duties_of_the_staff_are_no_concern_of_the_knee():
    day = after(weeks=9)
    found = suggested(quiet(day), on=day, limits_to_confirm=("meniscal root repair",))
    assert found.kind is Kind.USUAL


def test_the_cut_leaves_a_red_flag_whole():
    reasons = reasons_to_look(
        facts=facts(),
        catalogue=CATALOGUE,
        readings=(),
        restrictions=(),
        visits=visits(last_on=after(weeks=3)),
        red_flags=[RedFlag(code="calf", tier=Tier.TODAY, on=after(weeks=3))],
        on=after(weeks=3),
    )
    assert told(reason=reasons[0]) == "Red flag, today: Calf pain or calf swelling (23 Mar 2026)"
