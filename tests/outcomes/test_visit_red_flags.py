"""Red flags: asked out loud, kept as asked, urgent ones first, and nothing is blocked."""

from datetime import date, timedelta

import pytest

from clinic import clock
from outcomes.models.record import RedFlagCheck
from tests.cast import MOMENT
from tests.outcomes.paper import Paper, key, open_visit
from tests.web import signed_in, words_of


@pytest.fixture
def early(cast):
    """The cast in the third week, when all eight are asked."""
    cast.surgery.date = date(2026, 11, 4)
    cast.surgery.save()
    cast.harbour.emergency_line = "extension 3333"
    cast.harbour.save()
    return cast


def test_all_eight_are_visible_and_blank_is_not_asked(early):
    paper = Paper(signed_in(early.clinician), open_visit(early))
    text = words_of(paper.response)
    for question in (
        "Chest pain, breathless or collapsed",
        "Foot cold, pale or numb",
        "Calf pain or calf swelling",
        "Knee hot, red, leaking or newly swollen",
        "Pop or snap, and cannot straighten the knee",
        "Knee gave way",
        "Knee locks and will not move",
        "Pain with a change of colour or temperature of the leg",
        "I asked all eight: none",
        "Red flags not asked.",
    ):
        assert question in text
    paper.sign()
    assert not RedFlagCheck.objects.exists()


def test_one_tap_is_kept_as_asked(early):
    paper = Paper(signed_in(early.clinician), open_visit(early))
    assert "8 asked, none" in words_of(paper.type({"f:none": "1"}).send_row("flags"))
    paper.sign()
    check = RedFlagCheck.objects.get()
    assert (check.form, check.tier) == ("eight", "")
    assert check.answers == dict.fromkeys(
        ["chest", "foot", "calf", "hot_knee", "pop", "giving_way", "locking", "colour_pain"], False
    )


def test_a_yes_beside_the_tap_stands(early):
    paper = Paper(signed_in(early.clinician), open_visit(early))
    paper.type({"f:none": "1", "f:calf": "yes"}).sign()
    check = RedFlagCheck.objects.get()
    assert (check.answers["calf"], check.answers["chest"], check.tier) == (True, False, "today")


def test_now_shows_the_call_first_and_blocks_nothing(early):
    visit = open_visit(early)
    paper = Paper(signed_in(early.clinician), visit)
    answer = paper.type({"f:chest": "yes"}).send_row("flags")
    text = words_of(answer)
    assert text.index("Call now: extension 3333") < text.index("Red flags")
    assert "Follow your local emergency pathway" in text
    page = words_of(Paper(paper.client, visit).response)
    assert page.index("Call now") < page.index("Worst pain, 24 h")
    assert Paper(paper.client, visit).sign().status_code == 302
    check = RedFlagCheck.objects.get()
    assert (check.answers, check.tier, check.action) == ({"chest": True}, "now", "")


def test_what_was_done_can_be_added_after_signing(early):
    visit = open_visit(early)
    paper = Paper(signed_in(early.clinician), visit)
    paper.type({"f:calf": "yes"}).sign()
    page = paper.client.get(paper.address)
    assert "Medical assessment today" in words_of(page)
    was = '{"f:calf":"yes","f:action":"","f:contacted":""}'
    data = {"key": key(), "sheet": key(), "was": was, "f:calf": "yes", "f:action": "Scan at two"}
    data["f:contacted"] = "Mr Pryce's team"
    for _ in range(2):
        assert paper.client.post(f"{paper.address}red-flags", data).status_code == 302
    newest = RedFlagCheck.objects.latest("id")
    assert RedFlagCheck.objects.count() == 2
    assert (newest.answers, newest.action, newest.contacted) == (
        {"calf": True},
        "Scan at two",
        "Mr Pryce's team",
    )
    text = words_of(paper.client.get(paper.address))
    assert "1 of 8 asked, 1 yes: Calf pain or calf swelling. Done: Scan at two." in text
    assert "Told: Mr Pryce's team." in text
    with clock.held_at(MOMENT + timedelta(days=9)):
        later = words_of(signed_in(early.clinician).get(paper.address))
    assert "Calf pain or calf swelling" in later
    assert "Medical assessment today" not in later


def test_the_short_four_open_their_questions_and_the_higher_tier_stands_until_then(cast):
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    text = words_of(paper.response)
    assert "I asked all four: none" in text
    assert "Pop, or knee gave way" in text
    first = words_of(paper.type({"f:short_pop": "yes"}).send_row("flags"))
    assert "Medical assessment today" in first
    opened = {"f:pop": "no", "f:giving_way": "yes"}
    assert "this week" in words_of(paper.type(opened).send_row("flags"))
    paper.sign()
    check = RedFlagCheck.objects.get()
    assert (check.form, check.tier, check.answers) == (
        "four",
        "this_week",
        {"short_pop": True, "pop": False, "giving_way": True},
    )
