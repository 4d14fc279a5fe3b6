"""Usual limits after a procedure against the table they come from, and which tests they hold.

The figures are those of protocols that surgeon groups have posted and of a rehabilitation book
chapter, gathered in one table of ranges (second-hand or from memory, as each file says); they
differ between surgeons. Which kind of limit holds which test is common practice, no source.
"""

from copy import deepcopy
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.models import care
from outcomes.catalogue.fields import SeedError
from outcomes.core.holds import HELD, KINDS, Hold, ending, holds_of, not_confirmed
from outcomes.core.looks import reasons_to_look
from outcomes.core.values import Mark, Restriction, Unconfirmed
from outcomes.protocols.limits_reading import limit_templates, limits_from
from outcomes.queries.attendance import WITHOUT_LIMITS
from tests.core.builders import CATALOGUE, facts, visits
from tests.core.steps import TODAY
from tests.core.tables import every_case

DAY = timedelta(days=1)
SECOND_HAND, MEMORY, PRACTICE = Mark.SECOND_HAND, Mark.MEMORY, Mark.COMMON_PRACTICE
TABLE = {
    # weeks: shortest and longest end in the table of ranges; the mark of that row there
    "meniscal_repair": {
        "weight_bearing": ((4, 6), SECOND_HAND),  # crutches 4-6; full in weeks 5-6
        "range": ((6, 6), SECOND_HAND),  # 0-135 by week 6
        "brace": ((4, 6), SECOND_HAND),  # unlocked to weeks 4-6
        "loaded_flexion": ((4, 6), SECOND_HAND),  # none past 90 for 4 weeks or more
        "open_chain": ((5, 5), SECOND_HAND),  # 90-30 from week 5
        "hamstring_load": ((7, 8), SECOND_HAND),  # curls from weeks 7-8
        "pivoting": ((4, 6), SECOND_HAND),  # no tibial rotation 4-6
        "impact": ((12, 16), SECOND_HAND),  # jog from weeks 12-16
    },
    "meniscal_repair_complex": {
        "weight_bearing": ((6, 8), SECOND_HAND),  # full in weeks 7-8
        "range": ((4, 6), SECOND_HAND),  # at most 90 for 4-6
        "brace": ((6, 6), SECOND_HAND),
        "loaded_flexion": ((12, 16), SECOND_HAND),  # none past 90 until 12-16
        "open_chain": ((5, 8), MEMORY),  # as a simple repair, later
        "hamstring_load": ((8, 12), MEMORY),
        "pivoting": ((6, 8), MEMORY),
        "impact": ((16, 20), MEMORY),  # 4 weeks or more later
    },
    "meniscal_root_repair": {
        "weight_bearing": ((4, 6), SECOND_HAND),  # none 4-6
        "range": ((6, 6), SECOND_HAND),  # 0-90 for 6
        "brace": ((2, 6), SECOND_HAND),
        "loaded_flexion": ((12, 16), SECOND_HAND),  # to week 12, or to month 3-4
        "hamstring_load": ((6, 12), SECOND_HAND),
        "impact": ((14, 24), MEMORY),  # run from 14-16, many 5-6 months
    },
    "meniscal_transplant": {
        "weight_bearing": ((4, 6), SECOND_HAND),
        "range": ((2, 2), SECOND_HAND),
        "brace": ((6, 6), SECOND_HAND),
        "loaded_flexion": ((8, 8), SECOND_HAND),
        "hamstring_load": ((8, 8), SECOND_HAND),
        "pivoting": ((8, 8), SECOND_HAND),
        "impact": ((13, 26), SECOND_HAND),  # jog 3-6 months
    },
    "cartilage_procedure": {
        "weight_bearing": ((4, 8), SECOND_HAND),  # 4-6 (8)
        "range": ((6, 6), SECOND_HAND),
        "brace": ((1, 6), SECOND_HAND),
        "loaded_flexion": ((6, 8), SECOND_HAND),  # closed chain from 6-8
        "open_chain": ((6, 8), PRACTICE),
        "impact": ((13, 26), SECOND_HAND),  # 3 months, conservative 6
    },
    "collateral_medial": {
        "weight_bearing": ((4, 8), SECOND_HAND),
        "range": ((6, 6), SECOND_HAND),
        "brace": ((6, 6), SECOND_HAND),
        "pivoting": ((26, 39), SECOND_HAND),  # sport 9 months
        "impact": ((26, 26), SECOND_HAND),  # jog 6 months
    },
    "collateral_lateral": {
        "weight_bearing": ((6, 6), MEMORY),
        "range": ((2, 4), MEMORY),
        "brace": ((6, 12), MEMORY),
        "hamstring_load": ((8, 12), MEMORY),
        "pivoting": ((39, 52), MEMORY),  # sport from 9-12 months
        "impact": ((26, 26), MEMORY),  # run from 6 months
    },
    "lateral_procedure": {"pivoting": ((4, 6), MEMORY)},
}
TEMPLATES = limit_templates()
SEED: dict[str, Any] = {
    "procedure": "made_up",
    "limits": [
        {
            "kind": "brace",
            "limit": "locked",
            "from_week": 0,
            "until_weeks": [4, 6],
            "sources": [{"text": "Common practice, no source", "mark": "common_practice"}],
        }
    ],
}


def test_the_shipped_figures_are_those_of_the_table():
    assert {
        code: {
            one.kind: (one.until_weeks, *(source.mark for source in one.sources))
            for one in template.limits
        }
        for code, template in TEMPLATES.items()
    } == TABLE
    assert {one.from_week for template in TEMPLATES.values() for one in template.limits} == {0}


def test_every_procedure_that_asks_for_limits_has_them_each_kind_once():
    assert set(TEMPLATES) == {code for code, _ in care.PROCEDURES} - WITHOUT_LIMITS
    for template in TEMPLATES.values():
        assert len(template.kinds) == len(template.limits)


def test_days_count_from_the_operation_by_the_longer_time():
    (first,) = limits_from(SEED).limits
    assert first.days(operated=date(2026, 8, 12)) == (date(2026, 8, 12), date(2026, 9, 23))
    later = limits_from({**SEED, "limits": [{**SEED["limits"][0], "from_week": 2}]}).limits[0]
    assert later.days(operated=date(2026, 8, 12))[0] == date(2026, 8, 26)


@every_case(
    ("changes", "named"),
    [
        ({"kind": "walking"}, "kind"),
        ({"until_weeks": [6, 4]}, "until_weeks"),
        ({"until_weeks": [4]}, "until_weeks"),
        ({"until_weeks": [0, 0]}, "until_weeks"),
        ({"sources": []}, "sources"),
        ({"since": 3}, "since"),
    ],
)
def test_a_template_that_contradicts_itself_is_refused_by_file_and_key(changes, named):
    wrong = deepcopy(SEED)
    wrong["limits"][0] |= changes
    with pytest.raises(SeedError, match=rf"made_up\.toml.*{named}"):
        limits_from(wrong, where="made_up.toml")


def test_only_tests_of_the_catalogue_are_held_and_jumps_by_every_limit_that_jumps_break():
    assert frozenset().union(*HELD.values()) <= set(CATALOGUE)
    assert {kind for kind in KINDS if "single_hop" in HELD[kind]} == {
        "weight_bearing", "loaded_flexion", "impact",
    }  # fmt: skip
    assert {kind for kind in KINDS if "quadriceps_torque" in HELD[kind]} == {"open_chain"}
    assert not any("effusion" in held for held in HELD.values())


def limit(kind, *, until=None):
    return Restriction(kind=kind, limit="as told", since=TODAY, until=until)


def test_what_is_not_confirmed_comes_first_and_a_limit_holds_only_while_it_is_in_force():
    bend = limit("loaded_flexion", until=TODAY + timedelta(days=7))
    root = Unconfirmed(words="root repair", kinds=("loaded_flexion",))

    def found(on, asked=(root,)):
        return holds_of(
            measures=["single_leg_squat", "single_hop", "side_plank_hold", "knee_flexion"],
            restrictions=[bend], unconfirmed=asked, on=on,
        )  # fmt: skip

    both = (Hold(procedure="root repair"), Hold(limit=bend))
    assert found(TODAY) == {"single_leg_squat": both, "single_hop": both}
    late = TODAY + timedelta(days=8)
    assert found(late) == dict.fromkeys(["single_leg_squat", "single_hop"], both[:1])
    assert found(late, asked=()) == {}


@given(st.sets(st.sampled_from(KINDS)), st.sampled_from(KINDS))
def test_one_more_limit_never_frees_a_test(kinds, more):
    def held(some):
        return holds_of(
            measures=list(CATALOGUE), restrictions=[limit(kind) for kind in some],
            unconfirmed=[], on=TODAY,
        )  # fmt: skip

    assert set(held(kinds)) <= set(held(kinds | {more}))


def test_a_limit_ends_within_a_week_unless_something_follows_it():
    first = limit("brace", until=TODAY + timedelta(days=20))
    days = [TODAY + timedelta(days=n) for n in (12, 13, 20, 21)]
    found = [ending(restrictions=[first], on=day) for day in days]
    assert found == [(), (first,), (first,), ()]
    after_it = Restriction(kind="brace", limit="", since=first.until + DAY, until=None)
    assert ending(restrictions=[first, after_it], on=days[2]) == ()
    late = Restriction(kind="brace", limit="", since=first.until + 2 * DAY, until=None)
    other = Restriction(kind="impact", limit="", since=TODAY, until=None)
    assert ending(restrictions=[first, late, other], on=days[2]) == (first,)


def test_one_more_limit_that_ends_is_a_new_matter():
    def raised(*limits):
        found = reasons_to_look(
            facts=facts(), catalogue=CATALOGUE, readings=[], restrictions=limits,
            visits=visits(booked_on=TODAY), red_flags=(), on=TODAY,
        )  # fmt: skip
        return [one for one in found if one.code == "limit_ends"]

    brace, bend = (
        limit(kind, until=TODAY + days * DAY) for kind, days in (("brace", 2), ("range", 5))
    )
    (one,), (two,) = raised(brace), raised(bend, brace)
    assert (one.since, one.alarm, two.size > one.size) == (TODAY, False, True)
    assert raised(bend, limit("impact", until=TODAY + 8 * DAY))[0].size == two.size
    assert raised(limit("impact", until=TODAY + 8 * DAY), limit("brace")) == []


def test_the_sentence():
    assert not_confirmed(procedure="meniscal root repair") == (
        "Surgeon's limits not confirmed (meniscal root repair): ask before loading"
    )
