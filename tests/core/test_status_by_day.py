"""Every change that time alone brings was announced: one story judged day by day."""

from datetime import date

from outcomes.core.values import Event, Restriction
from tests.core.builders import (
    LATERAL,
    NONE,
    SURGERY,
    L,
    after,
    both,
    facts,
    reading,
    visits,
)  # fmt: skip
from tests.core.test_status import EXT, QUAD, status


def test_day_by_day_every_change_was_announced():
    """One invented story around weeks 12 to 24, judged on each of 100 days."""
    rows = [
        *both(EXT, "6", "0", after(weeks=3)),
        *both(EXT, "0", "0", after(weeks=7)),
        reading("effusion", L, "1+", after(weeks=3)),
        reading("effusion", L, "zero", after(weeks=12)),
        *both(LATERAL, "level", "level", after(weeks=12)),
        *both("knee_flexion", "140", "142", after(weeks=12)),
        *both(QUAD, "160", "200", after(weeks=14)),
        reading("body_mass", NONE, "70", after(weeks=14)),
    ]
    story = {
        "rows": rows,
        "who": facts(birth_date=date(2010, 10, 10)),
        "limits": [Restriction(kind="impact", limit="none", since=SURGERY, until=after(weeks=13))],
        "seen": visits(last_on=after(weeks=14), booked_on=after(weeks=22)),
        "events": [Event(code="giving_way", limb=L, on=after(days=109), ref=1)],
    }
    seen, before = [], status(**story, on=after(days=75))
    for days in range(76, 176):
        today = status(**story, on=after(days=days))
        if today.kept != before.kept:
            assert today.judged_on == before.next_change_on
        if content(today) != content(before):
            seen.append(days)
        before = today
    assert seen == [
        80,  # extension of week 7 is over 30 days old
        84,  # tested in week 12, which is also the earliest date of running
        88,  # effusion and step-down are over 3 days old, for running
        92,  # the limit of impact has ended
        98,  # quadriceps tested in week 14
        99,  # effusion is over 14 days old, for the other milestones
        109,  # the knee gave way
        112,  # week 16: earliest date of hopping and landing
        115,  # flexion is over 30 days old
        141,  # quadriceps is over 42 days old
        151,  # that is six weeks ago
        155,  # the booked visit did not take place, and the next one was overdue
    ]


def content(found):
    return found.measures, found.milestones, found.reasons
