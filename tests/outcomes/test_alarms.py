"""Alarms from the question or the value to the sentence: raw values, few, most pressing first."""

from datetime import date, timedelta

import pytest

from outcomes.core.looks import MOST
from outcomes.core.redflags import QUESTIONS
from outcomes.core.values import RedFlag, Tier
from outcomes.forms.red_flags import instruction_of
from outcomes.models.record import RedFlagCheck
from outcomes.queries.look_words import looks_of
from tests.core.builders import CATALOGUE, LATERAL, L, after, both, reading
from tests.core.test_looks import EXT, FLEX, QUAD, WEEK_7, looks
from tests.outcomes.paper import Paper, open_visit
from tests.web import signed_in, words_of

TIERS = {
    "chest": Tier.NOW,
    "foot": Tier.NOW,
    "calf": Tier.TODAY,
    "hot_knee": Tier.TODAY,
    "pop": Tier.TODAY,
    "giving_way": Tier.THIS_WEEK,
    "locking": Tier.THIS_WEEK,
    "colour_pain": Tier.THIS_WEEK,
}
"""What is urgent and how (a setting of the house; the local pathway goes before it)."""


def test_each_of_the_eight_has_its_tier():
    assert {question.code: question.tier for question in QUESTIONS} == TIERS


@pytest.mark.parametrize(
    ("tier", "title", "sooner"),
    [
        (Tier.NOW, "Call now: 3333", "Follow your local emergency pathway"),
        (Tier.TODAY, "Medical assessment today", "When unsure, treat it as an emergency."),
        (Tier.THIS_WEEK, "Tell the surgeon's team this week", "treat it as more urgent."),
    ],
)
def test_each_tier_says_what_to_do_and_defers_to_the_local_pathway(tier, title, sooner):
    told = instruction_of(tier=tier, line="3333")
    assert told.title == title
    assert sooner in told.text
    assert "local" in told.text
    assert "surgeon's team" in f"{told.title} {told.text}"


@pytest.mark.parametrize(
    ("code", "says"),
    [("foot", "act now"), ("pop", "today"), ("colour_pain", "this week")],
)
def test_a_yes_never_stops_the_signature_and_stands_first_until_it_is_answered(cast, code, says):
    cast.surgery.date = date(2026, 11, 4)
    cast.surgery.save()
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    assert paper.type({f"f:{code}": "yes"}).sign().status_code == 302
    check = RedFlagCheck.objects.get()
    assert (check.answers, check.tier) == ({code: True}, TIERS[code].value)
    page = paper.client.get(f"/episodes/{cast.episode.uid}/looks")
    first = page.context["parts"][0].look
    assert first.code == f"red_flag_{code}"
    assert says in first.sentence.lower()
    assert "Seen, with this plan" in words_of(page)


def many():
    """Ten reasons of one knee in its seventh week."""
    rows = [
        *both(EXT, "6", "0", WEEK_7),
        reading("effusion", L, "2+", WEEK_7),
        reading("pain_worst_24h", L, "1", after(weeks=6)),
        reading("pain_worst_24h", L, "5", WEEK_7),
        reading("pain_front_of_knee", L, "5", WEEK_7),
        reading(FLEX, L, "84", WEEK_7),
        *both(LATERAL, "marked", "slight", WEEK_7),
    ]
    flags = [
        RedFlag(code="giving_way", tier=Tier.THIS_WEEK, on=WEEK_7),
        RedFlag(code="locking", tier=Tier.THIS_WEEK, on=WEEK_7),
        RedFlag(code="chest", tier=Tier.NOW, on=WEEK_7),
    ]
    return rows, looks(rows, flags=flags, graft="patellar_tendon")


def test_at_most_seven_are_shown_the_most_pressing_first(cast):
    rows, reasons = many()
    assert len(reasons) == 10
    shown = looks_of(
        episode_id=cast.episode.pk, reasons=reasons, on=WEEK_7, zone="UTC",
        measures=CATALOGUE, readings=rows,
    )  # fmt: skip
    assert MOST == 7
    assert [look.code for look in shown] == [
        "red_flag_chest", "infection_signs", "extension_short_letter", "red_flag_giving_way",
        "red_flag_locking", "flexion_low", "effusion_regress",
    ]  # fmt: skip


@pytest.mark.parametrize("code", ["hot_knee", "short_hot_knee"])
def test_a_hot_knee_counts_for_infection_also_while_only_the_short_question_was_answered(code):
    """After a later operation the short form is asked while infection is looked for again."""
    week = after(weeks=9)
    rows = [
        reading("effusion", L, "trace", week - timedelta(days=7)),
        reading("effusion", L, "1+", week),
    ]

    def codes(*flags):
        return [one.code for one in looks(rows, flags=flags) if one.code == "infection_signs"]

    assert codes() == []
    assert codes(RedFlag(code=code, tier=Tier.TODAY, on=week)) == ["infection_signs"]
    other = RedFlag(code="short_locking", tier=Tier.THIS_WEEK, on=week)
    assert codes(other) == []


def test_a_test_that_is_out_of_date_is_no_reason_to_look():
    rows = both(QUAD, "77", "100", after(weeks=20))
    assert looks(rows, on=after(weeks=60)) == ()
