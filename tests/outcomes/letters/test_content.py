"""From facts to paragraphs: three stories word by word, and what a letter never says.

The order (bottom line, question, status, criteria, red flags, limits, plan, signature) and the
rules (raw values beside every index, methods named, "not asked" is not "none", no promise) follow
the house's own letter; that recipients want structured letters with the plan is from Tattersall
2002 (Med J Aust 177:516).
"""

import json
import re
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.charts.beam import Beam
from outcomes.letters.content import ALL_MET, Typed, drafted, letter_content
from outcomes.letters.facts import FlagsAsked, from_json, to_json
from outcomes.letters.spelling import texts
from tests.core.builders import few
from tests.outcomes.letters.stories import (
    ENVELOPE,
    TODAY,
    concern,
    row,
    slower,
    trend,
    usual,
)
from tests.test_house import PERMISSION


def letter(facts, *, envelope=ENVELOPE, **typed):
    return letter_content(
        facts=facts, typed=replace(drafted(facts=facts), **typed), envelope=envelope
    )


def notes(content):
    return {note.label: note.text for note in (*content.notes, *content.plan)}


def test_as_usual_word_by_word():
    content = letter(usual())
    assert content.title == "Letter about Ines Marlow, record H-0412, 25 Nov 2026"
    assert content.heading == "Ines Marlow: right knee, week 15"
    assert content.about == ("Ines Marlow", "born 3 May 2001", "record H-0412")
    assert content.who == (
        "Right knee, operated 12 Aug 2026, hamstring autograft and meniscal repair. "
        "Goal: pivoting or contact sport, handball."
    )
    assert content.bottom_line == ("As usual for week 15.",)
    assert content.rests_on == (
        "From the record of 25 Nov 2026: no finding for concern, nothing worse, nothing late."
    )
    assert content.question == ("No question with this letter.",)
    assert notes(content) == {
        "Red flags": "the short four questions asked on 25 Nov 2026: none.",
        "Surgeon’s limits": "we follow until 9 Dec: impact, no impact.",
        "Events": "none on record.",
        "Attendance": "11 visits since surgery, 1 missed; last 25 Nov 2026.",
        "Plan": "Test pain during test and pelvic drop, lateral.",
        "Next test": "8 Dec 2026.",
    }
    assert content.copies == "Dr Oriol Mascaré, Quayside Family Practice and the patient"
    assert content.footer == "Ines Marlow, record H-0412, letter 1a2b3c4d"


def test_slower_word_by_word():
    content = letter(slower())
    assert content.bottom_line == (
        "Slower than usual for week 22: not met four weeks after its earliest date: "
        "Flexion at least 120° (step-down work).",
    )
    assert content.question == ("Please tell us: the graft.",)
    assert notes(content) == {
        "Red flags": "not asked at the last visit (25 Nov 2026); 6 of 8 questions asked on "
        "4 Nov 2026: reported: Knee gave way; the others not asked.",
        "Surgeon’s limits": "asked, none set.",
        "Events": "none on record.",
        "Attendance": "1 visit since 20 Jul 2026, none missed; last 25 Nov 2026.",
        "Plan": "Work on flexion and effusion.",
        "Next test": "no date yet.",
    }
    assert (content.rows, content.ledger, content.trend) == ((), None, None)


def test_concern_word_by_word():
    content = letter(concern())
    assert content.bottom_line == (
        "Concern: extension 8° short at week 7, under 3° gained since 2 Nov 2026.",
    )
    assert content.question == (
        "Extension 8° short at week 7, under 3° gained since 2 Nov 2026. End feel [soft or hard], "
        "pinch at the front [yes or no]. Please review?",
    )
    assert notes(content)["Red flags"] == "not asked."
    assert notes(content)["Surgeon’s limits"] == (
        "noted from 1 Dec: brace, at night; not confirmed for meniscal repair: affected tests and "
        "exercises are held."
    )


@pytest.mark.parametrize("code", ["infection_signs", "red_flag_calf"])
def test_what_cannot_wait_for_a_letter_says_who_was_called(code):
    facts = usual(verdict=replace(concern().verdict, code=code))
    assert drafted(facts=facts).question == "We called [whom, when]. Please review?"


def test_findings_are_told_task_by_task():
    rows = (
        row("a", name="Pelvic drop, lateral", finding="Standing on the right, it stays level."),
        row("b", name="Pelvic drop, forward", finding="Standing on the right, it drops."),
    )
    assert notes(letter(usual(rows=rows)))["Seen"] == (
        "pelvic drop, lateral: standing on the right, it stays level; "
        "pelvic drop, forward: standing on the right, it drops."
    )


def test_the_clinicians_words_stand_and_the_record_is_still_quoted():
    content = letter(
        concern(), bottom_line="Stiff knee.\n\n Please see him. ", plan="", question=""
    )
    assert content.bottom_line == ("Stiff knee.", "Please see him.")
    assert content.question == ("No question with this letter.",)
    assert content.rests_on.endswith("1 finding for concern, the one above.")
    assert notes(content)["Plan"] == "not written."


@pytest.mark.parametrize(
    ("change", "question"),
    [
        ({"limits": concern().limits}, "Which limits hold after meniscal repair, and until when?"),
        (
            {"ahead": replace(usual().ahead, headline=ALL_MET)},
            "Running: do you see a reason to wait, or a limit to set?",
        ),
        ({"ahead": replace(usual().ahead, headline=ALL_MET, decision="Decision recorded")}, ""),
    ],
)
def test_the_one_question_is_what_only_the_recipient_can_answer(change, question):
    assert drafted(facts=usual(**change)).question == question


@pytest.mark.parametrize(
    ("flags", "said"),
    [
        (None, "not asked."),
        ((8, 8, ()), "all eight questions asked on 25 Nov 2026: none."),
        ((0, 4, ()), "not asked."),
        ((1, 4, ()), "1 of 4 questions asked on 25 Nov 2026: none; the others not asked."),
        ((4, 4, ("A", "B")), "the short four questions asked on 25 Nov 2026: reported: A; B."),
    ],
)
def test_not_asked_is_not_none(flags, said):
    asked = FlagsAsked(on=TODAY, asked=flags[0], of=flags[1], reported=flags[2]) if flags else None
    assert notes(letter(usual(flags=asked)))["Red flags"] == said


def test_the_patients_left_is_the_left_column_and_every_index_has_raw_values():
    content = letter(usual())
    assert [head.words for head in content.heads] == ["Left, other side", "Right, operated"]
    assert content.ledger is not None
    assert content.ledger.title == "Limb against limb: quadriceps and extension"
    assert [(one.name, one.left, one.right) for one in content.ledger.rows] == [
        ("Quadriceps, N·m", "158.0", "121.0"),
        ("Extension", "straight", "lacks 1°"),
    ]
    assert all(row.left and row.right for row in content.rows if "LSI" in row.symmetry)
    assert content.rows[1].method == "fixed dynamometer, knee angle 90°"


def test_the_course_in_a_letter_is_symmetry_alone_where_there_is_one():
    drawn = letter(usual()).trend
    assert drawn is not None
    assert (drawn.left, drawn.right) == (None, None)
    assert [line.label for line in drawn.thresholds] == ["Running: 70"]
    limbs_only = replace(trend(), symmetry=None)
    assert letter(usual(trend=limbs_only)).trend == limbs_only


@pytest.mark.parametrize("story", [usual, slower, concern])
def test_no_word_reads_as_permission_or_promise_and_no_milestone_has_a_date(story):
    everything = "\n".join(texts(letter(story())))
    assert PERMISSION.findall(everything) == []
    assert re.findall(r"expected|by week|until week", everything) == []


@few
@given(
    name=st.text(min_size=1, max_size=30),
    day=st.dates(min_value=date(1990, 1, 1)),
    error=st.decimals(min_value=0, max_value=99, places=6),
    tilt=st.floats(-1, 1),
    counts=st.booleans(),
)
def test_a_snapshot_reads_back_exactly(name, day, error, tilt, counts):
    facts = usual(patient=name, on=day, booked_on=None)
    beam = Beam(left_mark="other", right_mark="involved", title=name, tilt=tilt, error=error)
    lines = tuple(replace(line, counts=counts) for line in facts.ahead.lines)
    facts = replace(
        facts,
        rows=(replace(facts.rows[0], beam=beam), facts.rows[1]),
        ahead=replace(facts.ahead, lines=lines),
    )
    again = from_json(body=json.loads(json.dumps(to_json(facts=facts))))
    assert again == facts
    assert [type(row.beam.lsi) for row in again.rows if row.beam] == [type(None), Decimal]
    assert type(again.verdict.kind) is type(facts.verdict.kind)


def test_a_letter_that_is_typed_stays_as_typed():
    typed = Typed(bottom_line="A", question="B?", plan="C", next_test_on=None)
    content = letter_content(facts=usual(), typed=typed, envelope=ENVELOPE)
    assert (content.bottom_line, content.question) == (("A",), ("B?",))
    assert notes(content)["Plan"] == "C"


def test_events_are_told_newest_first_and_the_oldest_as_a_number():
    told = tuple(f"giving way, {day} Nov 2026" for day in (14, 12, 9, 7, 5, 3))
    assert notes(letter(usual(events=told)))["Events"] == (
        "giving way, 14 Nov 2026; giving way, 12 Nov 2026; giving way, 9 Nov 2026; "
        "giving way, 7 Nov 2026; 2 earlier."
    )
