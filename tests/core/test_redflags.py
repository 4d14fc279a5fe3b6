"""Eight questions in three tiers; a short yes stands until its own questions are answered."""

import pytest

from outcomes.core.redflags import QUESTIONS, SHORT_FORM, flags, questions_for, tier
from outcomes.core.values import Tier
from tests.core.tables import every_case

EIGHT = {question.code for question in QUESTIONS}


def test_eight_questions_and_a_short_four_that_open_only_these():
    assert len(EIGHT) == len(QUESTIONS) == 8
    assert len(SHORT_FORM) == 4
    opened = [code for question in SHORT_FORM for code in question.opens]
    assert sorted(opened) == sorted(EIGHT - {"colour_pain"})


@every_case("question", SHORT_FORM, ids=lambda q: q.code)
def test_a_short_question_has_the_higher_tier_of_those_it_opens(question):
    opened = dict.fromkeys(question.opens, True)
    assert question.tier is tier(answers=opened)


@every_case(
    ("answers", "expected"),
    [
        ({}, None),
        (dict.fromkeys(EIGHT, False), None),
        ({"giving_way": True}, Tier.THIS_WEEK),
        ({"locking": True, "calf": True}, Tier.TODAY),
        ({"locking": True, "calf": True, "foot": True}, Tier.NOW),
        ({"short_calf": True}, Tier.NOW),
        ({"short_calf": True, "calf": True, "chest": False}, Tier.NOW),
        ({"short_calf": True, "calf": True, "chest": False, "foot": False}, Tier.TODAY),
        ({"short_pop": True, "pop": False, "giving_way": True}, Tier.THIS_WEEK),
        ({"short_pop": True, "pop": False, "giving_way": False}, None),
        ({"short_pop": False}, None),
    ],
)
def test_the_most_urgent_tier_stands(answers, expected):
    assert tier(answers=answers) is expected


def test_what_stands_comes_most_urgent_first():
    found = flags(answers={"colour_pain": True, "hot_knee": True, "chest": True, "pop": False})
    assert [question.code for question in found] == ["chest", "hot_knee", "colour_pain"]


@every_case(("week", "number"), [(None, 8), (0, 8), (13, 8), (14, 4), (80, 4)])
def test_the_short_form_begins_after_week_13(week, number):
    assert len(questions_for(week=week)) == number


def test_an_unknown_code_is_an_error():
    with pytest.raises(KeyError):
        tier(answers={"headache": True})
