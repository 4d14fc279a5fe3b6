"""A reason as one sentence that starts with the reason."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from outcomes.core.redflags import QUESTIONS, SHORT_FORM
from outcomes.core.sentences import WRITERS, day_in_words, sentence_of
from outcomes.core.values import LateTyping, Reading, RedFlag, Restriction
from tests.core.builders import LATERAL, SURGERY, L, R, after, both, reading, visits
from tests.core.tables import every_case
from tests.core.test_looks import EXT, FLEX, QUAD, WEEK_7, looks, said

MAR_30 = after(weeks=4)
LONGEST = 200
"""Characters that the kept row has room for."""


def ends(kind: str, days: int) -> Restriction:
    until = WEEK_7 + timedelta(days=days)
    return Restriction(kind=kind, limit="as told", since=SURGERY, until=until)


SAID: list[tuple[list[Reading], dict[str, Any], str]] = [
    (both(EXT, "1", "0", after(weeks=2)), {}, "Extension 1° short at week 2: not straight yet"),
    (
        both(EXT, "3", "0", after(weeks=3)),
        {},
        "Extension 3° short at week 3: recheck weekly with prone heel height, hamstring guarding?",
    ),
    (both(EXT, "5.5", "0", after(weeks=5)), {}, "Extension 5.5° short at week 5: tell the surgeon"),
    (
        [*both(EXT, "7", "0", after(weeks=5)), *both(EXT, "6", "0", WEEK_7)],
        {},
        "Extension 6° short at week 7, under 3° gained since 6 Apr 2026: "
        "letter to the surgeon this week",
    ),
    (
        [reading("effusion", L, "zero", MAR_30), reading("effusion", L, "trace", WEEK_7)],
        {},
        "Effusion up from zero to trace, at week 7",
    ),
    (
        [reading("effusion", L, "zero", MAR_30), reading("effusion", L, "1+", WEEK_7)],
        {},
        "Effusion up from zero to 1+, at week 7: hold impact",
    ),
    ([reading("effusion", L, "2+", WEEK_7)], {}, "Effusion 2+, at week 7: go back a step"),
    (
        [reading("effusion", L, "2+", MAR_30), reading("effusion", L, "2+", WEEK_7)],
        {},
        "Effusion 2+, at week 7: go back a step",
    ),
    (
        [reading("effusion", L, "1+", MAR_30), reading("effusion", L, "2+", WEEK_7)],
        {},
        "Effusion up from 1+ to 2+, at week 7: go back a step",
    ),
    (
        [
            reading("effusion", L, grade, after(weeks=week))
            for week, grade in [(13, "zero"), (14, "trace"), (15, "1+")]
        ],
        {},
        "Effusion up on two visits, from zero to 1+, at week 15: go back a step",
    ),
    (
        [reading("pain_worst_24h", L, "2", MAR_30), reading("pain_worst_24h", L, "5", WEEK_7)],
        {},
        "Worst pain up from 2 to 5 of 10 between 30 Mar 2026 and 20 Apr 2026",
    ),
    (
        [reading("pain_front_of_knee", L, "5", WEEK_7)],
        {"graft": "unknown"},
        "Front-of-knee pain 5 of 10 with a graft not known yet (20 Apr 2026)",
    ),
    ([reading(FLEX, L, "84", WEEK_7)], {}, "Flexion 84°, under 90°, at week 7: ask the surgeon"),
    (
        [*both(QUAD, "90", "100", after(weeks=20)), *both(QUAD, "71.3", "100", after(weeks=26))],
        {},
        "Quadriceps symmetry down from 90.0 to 71.3 % since 20 Jul 2026",
    ),
    (
        [
            row
            for week, value in [(20, "90"), (24, "88"), (28, "87")]
            for row in both(QUAD, value, "100", after(weeks=week))
        ],
        {},
        "Quadriceps symmetry down twice in a row from 90.0 to 87.0 % since 20 Jul 2026",
    ),
    (
        [
            row
            for week, value in [(20, "95"), (24, "90"), (28, "75")]
            for row in both(QUAD, value, "100", after(weeks=week))
        ],
        {},
        "Quadriceps symmetry down twice in a row from 95.0 to 75.0 % since 20 Jul 2026",
    ),
    (
        [*both(QUAD, "90", "100", after(weeks=20)), *both(QUAD, "69.99", "100", after(weeks=26))],
        {},
        "Quadriceps symmetry down from 90.0 to 69.9 % since 20 Jul 2026",
    ),
    (
        [*both(QUAD, "150", "140", after(weeks=20)), *both(QUAD, "120", "140", after(weeks=26))],
        {"graft_from": "other_limb"},
        "Quadriceps torque down from 150.0 to 120.0 N·m since 20 Jul 2026, own values only",
    ),
    (
        [
            reading(LATERAL, L, "level", WEEK_7, details={"kept_level_by": "trunk_leans"}),
            reading(LATERAL, R, "slight", WEEK_7),
        ],
        {},
        "Pelvic drop slight standing on the right, level, by leaning on the left "
        "(lateral heel touch)",
    ),
    (
        [reading("effusion", L, "2+", after(weeks=1, days=6))],
        {},
        "Effusion 2+, at week 1: no new load but quad sets",
    ),
    (
        [reading("effusion", L, "2+", after(weeks=2)), *both(QUAD, "90", "100", after(weeks=2))],
        {},
        "Effusion 2+, at week 2: go back a step",
    ),
    (
        both(LATERAL, "slight", "marked", WEEK_7),
        {},
        "Pelvic drop marked standing on the right, slight on the left (lateral heel touch)",
    ),
    (
        [reading(LATERAL, L, "marked", WEEK_7)],
        {},
        "Pelvic drop marked standing on the left (lateral heel touch)",
    ),
    ([], {"on": after(weeks=2)}, "No baseline: measure the other leg now, before it weakens"),
    (
        [],
        {"seen": visits(last_on=after(weeks=14)), "on": after(weeks=20)},
        "No visit since 8 Jun 2026, overdue from 14 Jul 2026",
    ),
    ([], {"on": after(weeks=9), "seen": visits()}, "No visit yet, overdue from 13 Mar 2026"),
    (
        [],
        {"seen": visits(unsigned_since=MAR_30, last_on=WEEK_7), "on": WEEK_7},
        "Visit of 30 Mar 2026 not signed",
    ),
    *(
        (
            [],
            {
                "seen": visits(
                    last_on=WEEK_7,
                    late_typing=LateTyping(visits=count, oldest_on=MAR_30, came_on=WEEK_7),
                ),
                "on": WEEK_7,
            },
            f"Typed without network at the visit of 30 Mar 2026{more}, not in the record: "
            "read it on that visit’s page",
        )
        for count, more in ((1, ""), (3, " and at 2 more"))
    ),
    (
        [],
        {"seen": visits(limits_to_confirm=("meniscal root repair",), last_on=WEEK_7), "on": WEEK_7},
        "Surgeon's limits not confirmed (meniscal root repair): ask before loading",
    ),
    (
        [],
        {"seen": visits(limits_to_confirm=("a", "b", "c", "d"), last_on=WEEK_7), "on": WEEK_7},
        "Surgeon's limits not confirmed (a, b and 2 more): ask before loading",
    ),
    (
        [],
        {
            "limits": [ends("brace", 2), ends("impact", 5)],
            "seen": visits(last_on=WEEK_7),
            "on": WEEK_7,
        },
        "Surgeon's limit ends 22 Apr 2026 and 1 more: ask what follows (brace, as told)",
    ),
]


@every_case(("rows", "rest", "sentence"), SAID, ids=[case[2][:40] for case in SAID])
def test_the_sentence(rows, rest, sentence):
    found = said(rows, **rest)
    assert [text for text in found if not text.startswith("No baseline") or not rows] == [sentence]


def test_the_infection_sentence():
    rows = [
        reading("effusion", L, "2+", WEEK_7),
        reading(FLEX, L, "120", after(weeks=6)),
        reading(FLEX, L, "105", WEEK_7),
    ]
    assert said(rows)[0] == (
        "Effusion with flexion down at week 7: infection possible, "
        "assess and call the surgeon's team today"
    )


@every_case("question", [*QUESTIONS, *SHORT_FORM], ids=lambda q: q.code)
def test_a_red_flag_names_its_tier_first(question):
    flags = [RedFlag(code=question.code, tier=question.tier, on=WEEK_7)]
    reason = looks([], on=WEEK_7, flags=flags, seen=visits(last_on=WEEK_7))[0]
    word = {"now": "act now", "today": "today", "this_week": "this week"}[question.tier]
    text = sentence_of(reason=reason)
    assert text == f"Red flag, {word}: {question.text} (20 Apr 2026)"
    assert len(text) <= LONGEST


def test_a_red_flag_that_came_late_says_what_to_do_first():
    came = datetime(2026, 4, 20, 10, tzinfo=UTC)
    late = LateTyping(
        visits=1, oldest_on=MAR_30, came_on=WEEK_7, flagged_on=MAR_30, flag_came_at=came
    )
    assert said([], on=WEEK_7, seen=visits(last_on=WEEK_7, late_typing=late))[0] == (
        "Red flag answered yes without network at the visit of 30 Mar 2026, not in the record: "
        "ask now, follow your local emergency pathway, read it on that visit’s page"
    )


def test_every_kind_of_sentence_was_seen_above():
    seen = {reason.code for rows, rest, _ in SAID for reason in looks(rows, **rest)}
    of_events = {code for code in WRITERS if code.startswith("event_")}
    assert set(WRITERS) - seen - of_events == {"infection_signs", "late_red_flag"}


def test_a_code_without_a_sentence_is_an_error():
    reason = looks(both(EXT, "6", "0", WEEK_7))[0]
    object.__setattr__(reason, "code", "unheard_of")
    with pytest.raises(KeyError):
        sentence_of(reason=reason)


def test_days_are_written_alike_in_every_locale():
    assert day_in_words(iso="2026-03-14") == "14 Mar 2026"
