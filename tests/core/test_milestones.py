"""Milestones: the surgeon's limit, then the earliest date, then the hard criteria."""

from dataclasses import replace
from datetime import date, timedelta

from outcomes.core.gates import earliest_date
from outcomes.core.judge import judge_protocol, milestones_for
from outcomes.core.values import GateAside, MilestoneState, Restriction, Result, Unconfirmed
from tests.core.builders import (
    CATALOGUE,
    LATERAL,
    NONE,
    PROTOCOL,
    SURGERY,
    L,
    after,
    both,
    facts,
    reading,
)
from tests.core.tables import every_case

TODAY = after(weeks=40)
SINCE = TODAY - timedelta(days=9)
MILESTONES = {milestone.code: milestone for milestone in PROTOCOL.milestones}
QUAD, EXT = "quadriceps_torque", "knee_extension"


def running_rows(on):
    """All that the running milestone asks for, good."""
    return [
        *both(EXT, "0", "-1", on),
        *both("knee_flexion", "138", "142", on),
        reading("effusion", L, "zero", on),
        reading("pain_during_test", L, "1", on, key=f"during={LATERAL}"),
        reading("pain_front_of_knee", L, "1", on),
        *both(LATERAL, "level", "level", on),
        *both(QUAD, "160", "200", on),
    ]


def alone(code, **given):
    """One milestone of the protocol, judged as the only one of it."""
    protocol = replace(PROTOCOL, milestones=(MILESTONES[code],), last_by_goal={})
    (found,) = judge_protocol(protocol=protocol, **given)
    return found


def running(rows, on=TODAY, restrictions=(), unconfirmed=(), asides=(), **changes):
    return alone(
        "running",
        catalogue=CATALOGUE,
        readings=rows,
        facts=facts(**changes),
        restrictions=restrictions,
        on=on,
        unconfirmed=unconfirmed,
        asides=asides,
    )


def limit(kind="impact", since=TODAY, until=None):
    return Restriction(kind=kind, limit="as told", since=since, until=until, ref=1)


@every_case(
    ("on", "drop", "limits", "state"),
    [
        (TODAY, None, [], MilestoneState.RECORDED_AS_MET),
        (TODAY, QUAD, [], MilestoneState.CRITERIA_MISSING),
        (TODAY, "pain_front_of_knee", [], MilestoneState.CRITERIA_MISSING),
        (after(weeks=12), None, [], MilestoneState.RECORDED_AS_MET),
        (after(weeks=12, days=-1), None, [], MilestoneState.BEFORE_EARLIEST_DATE),
        (TODAY, None, [limit()], MilestoneState.BLOCKED),
        (TODAY, None, [limit("pivoting")], MilestoneState.RECORDED_AS_MET),
        (TODAY, None, [limit(since=TODAY + timedelta(days=1))], MilestoneState.RECORDED_AS_MET),
        (TODAY, None, [limit(since=SINCE, until=TODAY)], MilestoneState.BLOCKED),
        (
            TODAY,
            None,
            [limit(since=SINCE, until=TODAY - timedelta(days=1))],
            MilestoneState.RECORDED_AS_MET,
        ),
        (after(weeks=2), QUAD, [limit(since=after(weeks=1))], MilestoneState.BLOCKED),
    ],
)
def test_state_of_a_milestone(on, drop, limits, state):
    rows = [row for row in running_rows(on) if row.measure != drop]
    found = running(rows, on=on, restrictions=limits)
    assert found.state is state
    assert found.earliest == after(weeks=12)
    assert bool(found.blocked_by) is (state is MilestoneState.BLOCKED)


@every_case("on", [after(weeks=11), TODAY, TODAY + timedelta(weeks=200)])
def test_a_procedure_that_is_not_confirmed_blocks_what_its_limits_break_and_no_day_ends_it(on):
    asked = [
        Unconfirmed(words="root repair", kinds=("brace", "impact")),
        Unconfirmed(words="root repair", kinds=("impact",)),
        Unconfirmed(words="lateral procedure", kinds=("pivoting",)),
    ]
    found = running(running_rows(on), on=on, unconfirmed=asked)
    assert (found.state, found.unconfirmed) == (MilestoneState.BLOCKED, ("root repair",))
    free = running(running_rows(on), on=on, unconfirmed=asked[2:])
    assert (free.state is MilestoneState.BLOCKED, free.unconfirmed) == (False, ())


ASIDE = GateAside(milestone="running", on=after(weeks=10), by="Tess", reason="agreed")


@every_case(
    ("on", "aside", "state"),
    [
        (after(weeks=10), ASIDE, MilestoneState.RECORDED_AS_MET),
        (after(weeks=10, days=-1), ASIDE, MilestoneState.BEFORE_EARLIEST_DATE),
        (after(weeks=10), replace(ASIDE, milestone="hopping_landing"),
         MilestoneState.BEFORE_EARLIEST_DATE),
        (after(weeks=10), replace(ASIDE, on=SURGERY), MilestoneState.RECORDED_AS_MET),
        (after(weeks=10), replace(ASIDE, on=SURGERY - timedelta(days=1)),
         MilestoneState.BEFORE_EARLIEST_DATE),
        (after(weeks=10), replace(ASIDE, on=SURGERY, until=after(weeks=10)),
         MilestoneState.RECORDED_AS_MET),
        (after(weeks=10), replace(ASIDE, on=SURGERY, until=after(weeks=10, days=-1)),
         MilestoneState.BEFORE_EARLIEST_DATE),
    ],
)  # fmt: skip
def test_an_earliest_date_that_was_set_aside_does_not_count_from_that_day_on(on, aside, state):
    found = running(running_rows(on), on=on, asides=[aside])
    assert (found.state, found.earliest) == (state, after(weeks=12))
    assert (found.aside is aside) is (state is MilestoneState.RECORDED_AS_MET)


def test_a_gate_that_was_set_aside_lets_neither_limits_nor_criteria_go():
    on = after(weeks=10)
    held = running(running_rows(on), on=on, asides=[ASIDE], restrictions=[limit(since=on)])
    assert held.state is MilestoneState.BLOCKED
    rows = [row for row in running_rows(on) if row.measure != QUAD]
    assert running(rows, on=on, asides=[ASIDE]).state is MilestoneState.CRITERIA_MISSING


def test_advisory_criteria_never_count():
    rows = [row for row in running_rows(TODAY) if row.measure != "knee_flexion"]
    rows += both("knee_flexion", "130", "140", TODAY)
    found = running(rows)
    advisory = next(c for c in found.criteria if c.criterion.code == "flexion_130")
    assert (advisory.result, advisory.criterion.hard) == (Result.NOT_MET, False)
    assert found.state is MilestoneState.RECORDED_AS_MET


def test_signs_of_the_day_are_out_of_date_after_three_days():
    rows = running_rows(TODAY - timedelta(days=3))
    assert running(rows).state is MilestoneState.RECORDED_AS_MET
    late = running(rows, on=TODAY + timedelta(days=1))
    stale = {c.criterion.code for c in late.criteria if c.result is Result.OUT_OF_DATE}
    assert stale == {"effusion", "pain_step_down", "front_of_knee", "lateral_heel_touch"}
    assert late.state is MilestoneState.CRITERIA_MISSING


@every_case(
    ("changes", "earliest"),
    [
        ({}, date(2026, 12, 2)),
        ({"graft": "allograft"}, date(2027, 3, 2)),
        ({"graft": "unknown"}, date(2027, 3, 2)),
        ({"kind": "revision"}, date(2027, 3, 2)),
        ({"birth_date": date(2010, 3, 3)}, date(2027, 3, 2)),
        ({"birth_date": date(2010, 3, 2)}, date(2026, 12, 2)),
        ({"index_date": date(2026, 5, 31)}, date(2027, 2, 28)),
        ({"kind": "without_surgery", "graft": ""}, date(2026, 3, 2)),
        ({"kind": "waiting", "index_date": None}, None),
    ],
)
def test_earliest_date_of_competition(changes, earliest):
    gate = MILESTONES["competition"].gate
    assert earliest_date(gate=gate, facts=facts(**changes)) == earliest


def test_before_surgery_nothing_is_reached_and_criteria_are_judged_all_the_same():
    found = running(running_rows(TODAY), kind="waiting", index_date=None)
    assert (found.state, found.earliest) == (MilestoneState.BEFORE_EARLIEST_DATE, None)
    assert {c.result for c in found.criteria if c.criterion.hard} <= {
        Result.MET,
        Result.MET_BORDERLINE,
    }


def test_without_surgery_criteria_decide_alone_even_with_the_injury_date_unknown():
    changes = {"kind": "without_surgery", "graft": "", "index_date": None}
    assert running(running_rows(TODAY), **changes).state is MilestoneState.RECORDED_AS_MET
    assert running([], **changes).state is MilestoneState.CRITERIA_MISSING


@every_case(
    ("goal", "last"),
    [
        ("pivoting", "competition"),
        ("sideways", "competition"),
        ("straight_line", "running"),
        ("no_sport", "step_down_work"),
        ("not_stated", "competition"),
    ],
)
def test_milestones_stop_at_the_goal(goal, last):
    codes = [m.code for m in milestones_for(protocol=PROTOCOL, goal=goal)]
    every = list(MILESTONES)
    assert codes == every[: every.index(last) + 1]


def test_a_protocol_is_its_milestones_one_by_one():
    rows = [*running_rows(TODAY), reading("body_mass", NONE, "70", TODAY)]
    whole = judge_protocol(
        protocol=PROTOCOL,
        catalogue=CATALOGUE,
        readings=rows,
        facts=facts(goal="straight_line"),
        restrictions=[limit()],
        on=TODAY,
    )
    assert whole == tuple(
        alone(
            code,
            catalogue=CATALOGUE,
            readings=rows,
            facts=facts(goal="straight_line"),
            restrictions=[limit()],
            on=TODAY,
        )
        for code in ("step_down_work", "running")
    )


@every_case(
    ("age", "result"), [(90, Result.MET), (91, Result.NOT_ASSESSABLE), (-1, Result.NOT_ASSESSABLE)]
)
def test_body_mass_has_its_own_age_and_the_newest_counts(age, result):
    rows = [
        reading(QUAD, L, "200", TODAY),
        reading("body_mass", NONE, "70", TODAY - timedelta(days=age)),
    ]
    rows.append(reading("body_mass", NONE, "99", TODAY - timedelta(days=200)))
    found = alone(
        "competition",
        catalogue=CATALOGUE,
        readings=rows,
        facts=facts(),
        restrictions=[],
        on=TODAY,
    )
    assert (
        next(c for c in found.criteria if c.criterion.code == "quadriceps_per_kg").result is result
    )
