"""Reasons to look: opened to their facts, answered, and back only if worse or due."""

from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from clinic import clock
from clinic.http import Conflict, KeyReused, Unprocessable
from clinic.models.audit import AuditEntry
from clinic.permissions import Actor
from outcomes.models.record import LookAnswer
from outcomes.models.status import EpisodeStatus
from outcomes.queries.looks import LONGEST
from outcomes.services import looks, status
from tests.cast import MOMENT, TODAY
from tests.factories.outcomes import ReadingFactory, both_limbs, signed_visit
from tests.outcomes.followed import cells
from tests.web import signed_in, words_of

SENTENCE = "Extension 6° short at week 13: letter to the surgeon this week"
STATEMENTS = 11
"""Session, person, roles, episode, its sites, audit row; what is in force (twice), the episode with
its status; the answers, the readings they rest on."""

CODE = "extension_short_letter"


def measured(cast, on, degrees):
    visit = signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=on)
    both_limbs(visit=visit, measure="knee_extension", left=0, right=degrees)
    return visit


@pytest.fixture
def short(cast):
    """Ines lacks 6° at week 13, seen on 12 November."""
    measured(cast, date(2026, 11, 12), 6)
    status.rebuild(episode_ids=[cast.episode.pk])
    return cast


def actor(cast):
    return Actor(staff_id=cast.clinician.pk, site_id=cast.harbour.pk, request_id=uuid4())


def answered(cast, **changed):
    body = {
        "actor": actor(cast),
        "key": uuid4(),
        "episode_id": cast.episode.pk,
        "code": CODE,
        "size": Decimal(6),
        "plan": "prone hangs twice daily, letter sent",
        "look_again_on": TODAY + timedelta(weeks=2),
    } | changed
    return looks.answer(**body)


def first(cast):
    row = EpisodeStatus.objects.get(episode=cast.episode)
    return row.look_sentence, row.looks


def form(**changed):
    return {
        "key": str(uuid4()),
        "code": CODE,
        "size": "6.000000",
        "plan": "prone hangs twice daily, letter sent",
        "again": "2",
        "on": "",
    } | changed


def address(cast):
    return f"/episodes/{cast.episode.uid}/looks"


def test_a_reason_is_opened_to_its_facts(short):
    words = words_of(signed_in(short.lead).get(address(short)))
    assert (
        f"{SENTENCE} 12 Nov 2026: Knee extension, passive, right, lacks 6° "
        "12 Nov 2026: Knee extension, passive, left, straight "
        "Judged on the value as it was measured; measurement error does not quiet it." in words
    )
    assert "in 1 week, 2 Dec in 2 weeks, 9 Dec in 4 weeks, 23 Dec" in words


def test_a_setback_of_strength_says_that_the_tester_is_not_compared(cast):
    for on, torque in ((date(2026, 10, 15), 140), (date(2026, 11, 12), 100)):
        visit = signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=on)
        both_limbs(visit=visit, measure="quadriceps_torque", left=160, right=torque)
    status.rebuild(episode_ids=[cast.episode.pk])
    words = words_of(signed_in(cast.lead).get(address(cast)))
    assert "Quadriceps symmetry down from 87.5 to 62.5 % since 15 Oct 2026" in words
    assert (
        "Same device and conditions; who tested is not compared: see whether it was the same. "
        "Judged on the value as it was measured" in words
    )


def test_an_answer_takes_the_reason_from_the_list_and_is_remembered(short):
    client = signed_in(short.clinician)
    assert cells(client.get("/caseload/"))[0][1] == SENTENCE
    response = client.post(address(short), form())
    assert (response.status_code, response["Location"]) == (302, address(short))
    assert cells(client.get("/caseload/"))[0][1] == "no reason to look"
    assert cells(client.get("/caseload/?look=1")) == []
    kept = LookAnswer.objects.get()
    assert (kept.code, kept.size, kept.plan, kept.look_again_on, kept.answered_by) == (
        CODE, Decimal(6), "prone hangs twice daily, letter sent", date(2026, 12, 9),
        short.clinician,
    )  # fmt: skip
    words = words_of(client.get(address(short)))
    assert (
        "Seen 25 Nov 2026 by Tess Okafor: prone hangs twice daily, letter sent. "
        "Look again on 9 Dec 2026." in words
    )
    assert "Answered: it returns when it is worse or due." in words


@pytest.mark.parametrize(("degrees", "back"), [(5, False), (6, False), (7, True)])
def test_an_answered_reason_returns_only_when_it_is_worse(short, degrees, back):
    """decision of this house: worse than the size that was answered, not merely measured again."""
    answered(short)
    assert first(short) == ("", 0)
    measured(short, TODAY, degrees)
    status.rebuild(episode_ids=[short.episode.pk])
    assert bool(first(short)[1]) is back


@pytest.mark.parametrize(("days", "back"), [(13, False), (14, True)])
def test_an_answered_reason_returns_on_its_day_without_anything_new(short, days, back):
    answered(short)
    with clock.held_at(MOMENT + timedelta(days=days)):
        sentence = cells(signed_in(short.lead).get("/caseload/"))[0][1]
    assert sentence.startswith("Extension 6° short") is back


def test_an_answer_silences_only_its_own_reason(short):
    visit = signed_visit(patient=short.ines, site=short.harbour, by=short.clinician, on=TODAY)
    ReadingFactory(visit=visit, measure="effusion", limb="right", value=Decimal(3))
    status.rebuild(episode_ids=[short.episode.pk])
    assert first(short)[1] == 2
    answered(short)
    assert first(short) == ("Effusion 2+, at week 15: go back a step", 1)
    words = words_of(signed_in(short.lead).get(address(short)))
    assert words.index("Effusion 2+") < words.index("Extension 6°")


def test_a_reason_that_returned_shows_the_earlier_answer_beside_its_form(short):
    answered(short)
    with clock.held_at(MOMENT + timedelta(weeks=2)):
        words = words_of(signed_in(short.lead).get(address(short)))
    assert "Seen 25 Nov 2026 by Tess Okafor: prone hangs twice daily, letter sent." in words
    assert "Seen, with this plan" in words


def test_the_same_form_twice_is_one_answer(short):
    client, body = signed_in(short.clinician), form()
    assert [client.post(address(short), body).status_code for _ in range(2)] == [302, 302]
    assert LookAnswer.objects.count() == 1
    assert client.post(address(short), body | {"plan": "other"}).status_code == 409
    assert LookAnswer.objects.count() == 1
    assert AuditEntry.objects.filter(act="answer_look", subject="episode").count() == 1


def test_the_key_with_another_body_is_refused(short):
    key = uuid4()
    kept = answered(short, key=key)
    assert answered(short, key=key) == kept
    with pytest.raises(KeyReused):
        answered(short, key=key, plan="something else")


def test_a_reason_that_got_worse_meanwhile_is_not_answered_as_it_was(short):
    measured(short, TODAY, 8)
    status.rebuild(episode_ids=[short.episode.pk])
    with pytest.raises(Conflict):
        answered(short, size=Decimal(6))
    response = signed_in(short.clinician).post(address(short), form(size="6"))
    assert (response.status_code, LookAnswer.objects.count()) == (409, 0)


@pytest.mark.parametrize(
    "changed",
    [
        {"code": "flexion_low"},
        {"plan": "   "},
        {"look_again_on": TODAY},
        {"look_again_on": TODAY + LONGEST + timedelta(days=1)},
    ],
)
def test_what_does_not_fit_is_refused_and_nothing_is_kept(short, changed):
    with pytest.raises(Unprocessable):
        answered(short, **changed)
    assert (LookAnswer.objects.count(), first(short)) == (0, (SENTENCE, 1))
    assert AuditEntry.objects.filter(act="answer_look").count() == 0


@pytest.mark.parametrize("ahead", [timedelta(days=1), LONGEST])
def test_the_nearest_and_the_farthest_day_are_taken(short, ahead):
    assert answered(short, look_again_on=TODAY + ahead).look_again_on == TODAY + ahead


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"plan": " "}, "Plan: Write in a few words what is planned."),
        ({"again": ""}, "Look again: Choose when to look again."),
        ({"again": "on"}, "Give a day from 26 Nov 2026 to 26 May 2027."),
        ({"again": "on", "on": "2026-11-25"}, "Give a day from 26 Nov 2026 to 26 May 2027."),
        ({"again": "on", "on": "2027-05-27"}, "Give a day from 26 Nov 2026 to 26 May 2027."),
        ({"again": "on", "on": "soon"}, "Type the date as 2026-03-14."),
    ],
)
def test_a_form_that_does_not_fit_keeps_what_was_typed(short, changed, sentence):
    response = signed_in(short.clinician).post(address(short), form(**changed))
    assert (response.status_code, LookAnswer.objects.count()) == (422, 0)
    assert sentence in words_of(response)
    assert ('value="prone hangs twice daily, letter sent"' in response.content.decode()) is (
        changed.get("plan") != " "
    )


def test_another_day_can_be_chosen(short):
    client = signed_in(short.clinician)
    client.post(address(short), form(again="on", on="2026-12-01"))
    assert LookAnswer.objects.get().look_again_on == date(2026, 12, 1)


def test_htmx_gets_the_reasons_alone(short):
    client, headers = signed_in(short.clinician), {"HX-Request": "true"}
    opened = client.get(address(short), headers=headers).content.decode().strip()
    assert opened.startswith(f'<div id="looks-{short.episode.uid}"')
    saved = client.post(address(short), form(), headers=headers)
    assert saved.status_code == 200
    assert saved.content.decode().strip().startswith(f'<div id="looks-{short.episode.uid}"')
    assert "Answered: it returns when it is worse or due." in words_of(saved)


def test_who_may_open_and_answer(short):
    codes = {
        person.username: (
            signed_in(person).get(address(short)).status_code,
            signed_in(person).post(address(short), form()).status_code,
        )
        for person in (short.desk, short.outsider, short.lead, short.clinician)
    }
    assert codes == {
        "desk": (403, 403), "outsider": (404, 404), "lead": (200, 302), "clinician": (200, 302),
    }  # fmt: skip


def test_nothing_to_look_at_is_said(cast):
    cast.episode.care_state = "discharged"
    cast.episode.save()
    status.rebuild(episode_ids=[cast.episode.pk])
    words = words_of(signed_in(cast.lead).get(address(cast)))
    assert "No reason to look at this episode today." in words


def reasons_at_once(cast, number):
    visit = signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=TODAY)
    both_limbs(visit=visit, measure="knee_extension", left=0, right=6)
    if number == 3:
        for measure, value in (("effusion", 3), ("pain_front_of_knee", 9), ("knee_flexion", 70)):
            ReadingFactory(visit=visit, measure=measure, limb="right", value=Decimal(value))
    status.rebuild(episode_ids=[cast.episode.pk])
    return first(cast)[1]


@pytest.mark.parametrize("number", [1, 3])
def test_the_page_costs_the_same_for_one_reason_and_for_three(cast, number):
    client = signed_in(cast.lead)
    assert reasons_at_once(cast, number) == number
    client.get(address(cast))
    with CaptureQueriesContext(connection) as statements:
        client.get(address(cast))
    assert len(statements) == STATEMENTS
