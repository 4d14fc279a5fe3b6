"""Keying a paper form: who may, what is refused, what is kept, and that it is kept once."""

import re
from datetime import timedelta
from uuid import uuid4

import pytest

from clinic.models.audit import AuditEntry
from outcomes.models.questionnaires import CompletedQuestionnaire
from outcomes.models.versions import Switch
from tests.cast import MOMENT, TODAY
from tests.factories.clinic import EpisodeFactory, VisitFactory
from tests.factories.outcomes import KOOS, keyed, signed_visit
from tests.web import signed_in, words_of


@pytest.fixture
def visit(cast):
    """Ines has come today, and koos is in use."""
    Switch.objects.create(code="koos", state="on", changed_at=MOMENT, changed_by=cast.lead)
    return VisitFactory(
        patient=cast.ines, site=cast.harbour, clinician=cast.clinician, state="arrived"
    )


def post(client, visit, texts, *, code="koos", key=None, **more):
    """Post a sheet: item to text, and the rest of the form."""
    fields = {f"i:{item}": text for item, text in texts.items()}
    body = {"key": str(key or uuid4()), **fields, **more}
    return client.post(f"/visits/{visit.uid}/questionnaires/{code}/right", body)


def checked(answer):
    """What must be posted again unchanged."""
    return re.findall(r'name="checked" value="(\w+)"', answer.content.decode())[0]


def keep(client, visit, texts, **more):
    """Post, look at the check, post again."""
    return post(client, visit, texts, checked=checked(post(client, visit, texts, **more)), **more)


def test_what_is_in_use_is_offered_and_a_switch_wins(cast, visit):
    Switch.objects.create(code="ikdc", state="off", changed_at=MOMENT, changed_by=cast.lead)
    EpisodeFactory(patient=cast.ines, site=cast.harbour, knee="left")
    page = signed_in(cast.clinician).get(f"/visits/{visit.uid}/questionnaires/")
    offered = re.findall(r"<strong>([^<]+)</strong> <span", page.content.decode())
    assert offered == [
        "ACL-RSI, left knee",
        "ACL-RSI, right knee",
        "KOOS, left knee",
        "KOOS, right knee",
    ]
    assert (
        signed_in(cast.clinician).get(f"/visits/{visit.uid}/questionnaires/ikdc/right").status_code
        == 404
    )


@pytest.mark.parametrize("forms", [1, 3])
def test_the_list_takes_a_constant_number_of_statements(
    cast, visit, forms, django_assert_num_queries
):
    for code in ("koos", "acl_rsi", "sane")[:forms]:
        keyed(visit=visit, instrument=code, answers={"1": "10"})
    client = signed_in(cast.clinician)
    with django_assert_num_queries(10):
        client.get(f"/visits/{visit.uid}/questionnaires/")


def test_a_blank_is_missing_and_the_check_says_what_it_does(cast, visit):
    client = signed_in(cast.desk)
    answer = post(client, visit, {"P1": "0", "P2": "1", "P3": "2", "P4": "0", "Q1": "3", "Q2": "3"})
    said = words_of(answer)
    assert "36 items are blank and counted as missing: S1, S2" in said
    assert "Pain: 4 of 9 answered, at least 5 are needed, so it is not formed." in said
    assert "Quality of life: 2 of 4 answered, it is formed." in said
    assert not CompletedQuestionnaire.objects.exists()
    keep(client, visit, {"P1": "0", "Q1": "3"})
    kept = CompletedQuestionnaire.objects.get()
    assert (kept.answers["P1"], kept.answers["P5"], kept.answers["Q1"]) == ("0", None, "3")
    assert (kept.limb, kept.layout, kept.typed, kept.keyed_twice) == ("right", "points", {}, False)
    assert AuditEntry.objects.filter(act="key_questionnaire", subject="questionnaire").count() == 1


@pytest.mark.parametrize(
    "text", ["5", "-1", "x", "1.5", "1/9", "1//2", "²", "00000000000000000000"]
)
def test_an_answer_the_item_does_not_take_is_refused_beside_it(cast, visit, text):
    answer = post(signed_in(cast.desk), visit, {"P1": text, "P2": "1"})
    assert answer.status_code == 422
    beside = re.findall(r'<p class="error" id="(e-\w+)">(.*?)</p>', answer.content.decode())
    assert beside == [("e-P1", "Item P1 takes 0, 1, 2, 3 or 4, or leave it blank.")]
    assert not CompletedQuestionnaire.objects.exists()


def test_a_sheet_without_an_answer_is_not_kept(cast, visit):
    answer = post(signed_in(cast.desk), visit, {"P1": " "})
    assert answer.status_code == 422
    assert "Nothing is keyed. A sheet without any answer is not kept." in words_of(answer)


def test_of_two_marks_the_more_severe_counts_and_both_are_kept(cast, visit):
    client = signed_in(cast.desk)
    texts = {"P1": "1/3", "P2": "2 / 0", "P3": "1/1"}
    assert "Item P1: 1/3 counts as 3" in words_of(post(client, visit, texts))
    keep(client, visit, texts)
    kept = CompletedQuestionnaire.objects.get()
    assert [kept.answers[code] for code in texts] == ["3", "2", "1"]
    assert kept.typed == {"P1": "1/3", "P2": "2/0"}


def test_without_a_published_rule_two_marks_are_asked_about(cast, visit):
    answer = post(signed_in(cast.desk), visit, {"1": "2/3"}, code="ikdc", layout="points")
    assert answer.status_code == 422
    assert "Item 1: ask which mark counts and type that one, or leave it blank." in words_of(answer)


def test_a_print_that_runs_the_other_way_is_chosen_first_and_told(cast, visit):
    client = signed_in(cast.desk)
    address = f"/visits/{visit.uid}/questionnaires/ikdc/right"
    said = words_of(client.get(address))
    assert "On this form items 2 and 3 run the other way: 0 counts as 10, 10 as 0." in said
    assert 'name="i:1"' not in client.get(address).content.decode()
    texts = {"2": "3", "1": "4"}
    keep(client, visit, texts, code="ikdc", layout="zero_best")
    kept = CompletedQuestionnaire.objects.get()
    assert (kept.answers["2"], kept.answers["1"], kept.typed) == ("7", "4", {"2": "3"})
    assert kept.layout == "zero_best"


def test_what_changed_since_the_check_is_checked_again(cast, visit):
    client = signed_in(cast.desk)
    mark = checked(post(client, visit, {"P1": "1"}))
    again = post(client, visit, {"P1": "2"}, checked=mark)
    assert "Before it is kept" in words_of(again)
    assert not CompletedQuestionnaire.objects.exists()


def test_a_second_keying_begins_empty_and_lists_what_differs(cast, visit):
    client = signed_in(cast.desk)
    again = post(client, visit, {"P1": "1", "P2": "2"}, again="1").content.decode()
    assert re.findall(r'name="i:P[12]" value="(\d*)"', again) == ["", ""]
    first = {"second": "1", "f:P1": "1", "f:P2": "2"}
    said = words_of(post(client, visit, {"P1": "1", "P2": "3", "P3": "0"}, **first))
    assert "The two keyings differ" in said
    assert "Item P2: first 2, now 3 Item P3: first blank, now 0" in said
    keep(client, visit, {"P1": "1", "P2": "2"}, **first)
    kept = CompletedQuestionnaire.objects.get()
    assert (kept.keyed_twice, kept.answers["P2"]) == (True, "2")


def test_a_doubled_post_keeps_one_and_another_sheet_is_told_it_is_there(cast, visit):
    client, key = signed_in(cast.clinician), uuid4()
    texts = {"P1": "1"}
    mark = checked(post(client, visit, texts))
    answers = [post(client, visit, texts, key=key, checked=mark) for _ in range(2)]
    assert [(a.status_code, a["Location"]) for a in answers] == [
        (302, f"/visits/{visit.uid}/questionnaires/")
    ] * 2
    late = post(client, visit, {"P1": "2"})
    assert late.status_code == 409
    assert "KOOS, right knee is kept for this visit already: 25 Nov 2026" in words_of(late)
    raced = post(client, visit, texts, checked=mark)
    assert raced.status_code == 409
    assert CompletedQuestionnaire.objects.count() == 1


def test_the_front_desk_sees_neither_score_nor_earlier_answer(cast, visit):
    earlier = signed_visit(
        patient=cast.ines, site=cast.harbour, by=cast.clinician, on=TODAY - timedelta(days=30)
    )
    keyed(visit=earlier, instrument="koos", answers=dict.fromkeys(KOOS, "3"))
    client = signed_in(cast.desk)
    texts = dict.fromkeys(KOOS, "1")
    pages = [
        client.get(f"/visits/{visit.uid}/questionnaires/koos/right"),
        post(client, visit, texts),
        client.get(keep(client, visit, texts)["Location"]),
    ]
    for page in pages:
        body = page.content.decode()
        assert page.status_code == 200
        assert 'value="3"' not in body
        assert not re.search(r"\b(75|25)\b(?! Nov)", words_of(page))
        assert "/questionnaires/" + str(CompletedQuestionnaire.objects.latest("pk").uid) not in body
    assert "Kept 25 Nov 2026, 09:00, Dora Quill" in words_of(pages[2])


@pytest.mark.parametrize(
    ("who", "state", "days", "status"),
    [
        ("desk", "signed", 0, 200),
        ("desk", "signed", 1, 422),
        ("clinician", "signed", 1, 200),
        ("clinician", "booked", 0, 422),
        ("clinician", "missed", 1, 422),
    ],
)
def test_the_desk_keys_on_the_day_and_nobody_before_arrival(cast, who, state, days, status):
    on = TODAY - timedelta(days=days)
    if state == "signed":
        made = signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=on)
    else:
        made = VisitFactory(
            patient=cast.ines, site=cast.harbour, state=state, date=on,
            arrived_at=None, opened_at=None,
        )  # fmt: skip
    answer = signed_in(getattr(cast, who)).get(f"/visits/{made.uid}/questionnaires/")
    assert answer.status_code == status


def test_an_adults_form_for_a_child_says_so(cast, visit):
    cast.ines.birth_date = TODAY.replace(year=2011)
    cast.ines.save()
    said = words_of(signed_in(cast.desk).get(f"/visits/{visit.uid}/questionnaires/"))
    assert said.count("Made for adults; this person is 15.") == 1


def test_the_day_and_the_person_lead_to_the_sheets_once_the_patient_is_here(cast, visit):
    client, address = signed_in(cast.desk), f"/visits/{visit.uid}/questionnaires/"
    pages = ("/today/", f"/patients/{cast.ines.uid}/person")
    assert [address in client.get(page).content.decode() for page in pages] == [True, True]
    type(visit).objects.update(state="booked", arrived_at=None, opened_at=None)
    assert [address in client.get(page).content.decode() for page in pages] == [False, False]
