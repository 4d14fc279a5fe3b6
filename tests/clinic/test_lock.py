"""The idle lock and the ways through it: PIN, password, someone else, and the end of a shift."""

from contextlib import AbstractContextManager
from datetime import timedelta
from uuid import uuid4

import pytest
from django.contrib.auth.hashers import make_password
from django.test import Client
from django.urls import reverse

from clinic import clock
from clinic.models.audit import AuditEntry
from clinic.models.places import StaffMember, Tablet
from clinic.permissions import Actor
from clinic.services import own, tablets
from clinic.services.own import PinAnswer
from tests.cast import MOMENT, PASSWORD, Cast
from tests.web import signed_in, words_of

PIN = "702853"
BACK = "/me/?from=12"


def _later(**span: float) -> AbstractContextManager[None]:
    return clock.held_at(MOMENT + timedelta(**span))


def _acts(person: StaffMember) -> list[tuple[str, str]]:
    rows = AuditEntry.objects.filter(staff=person, subject="session").order_by("id")
    return [(row.act, row.outcome) for row in rows]


def _on_a_tablet(cast: Cast, client: Client, person: StaffMember) -> None:
    person.pin = make_password(PIN)
    person.save(update_fields=["pin"])
    answer = signed_in(cast.lead).post(
        "/tablets/", {"key": str(uuid4()), "label": "Gym tablet", "site": "harbour"}
    )
    client.cookies["tablet"] = answer.cookies["tablet"].value


def _locked(cast: Cast) -> Client:
    client = signed_in(cast.clinician)
    client.post("/lock/now", {"next": BACK})
    return client


def test_ten_quiet_minutes_lock_and_not_a_second_sooner(cast: Cast) -> None:
    client = signed_in(cast.clinician)
    with _later(seconds=600):
        assert client.get("/me/").status_code == 200
    with _later(seconds=1201):
        answer = client.get("/me/")
    assert (answer.status_code, answer.headers["Location"]) == (302, "/lock/?next=/me/")
    assert _acts(cast.clinician) == [("lock", "done")]


def test_activity_is_stored_at_most_once_a_minute(cast: Cast) -> None:
    client = signed_in(cast.clinician)
    with _later(seconds=59):
        client.get("/me/")
    assert client.session["last_activity"] == MOMENT.timestamp()
    with _later(seconds=60):
        client.get("/me/")
    assert client.session["last_activity"] == MOMENT.timestamp() + 60


def test_htmx_is_sent_to_the_lock_and_back_to_the_page_around_the_fragment(cast: Cast) -> None:
    client = signed_in(cast.clinician)
    with _later(minutes=11):
        answer = client.get(
            "/me/", headers={"HX-Request": "true", "HX-Current-URL": "http://testserver/clinic/"}
        )
    assert (answer.status_code, answer.content) == (401, b"")
    assert answer.headers["HX-Redirect"] == "/lock/?next=/clinic/"


def test_a_busy_shift_ends_all_the_same(cast: Cast) -> None:
    client = signed_in(cast.clinician)
    session = client.session
    session["last_activity"] = (MOMENT + timedelta(hours=12)).timestamp()
    session.save()
    with _later(hours=12):
        assert client.get("/me/").status_code == 200
    with _later(hours=12, seconds=1):
        answer = client.get("/me/")
        assert answer.headers["Location"] == "/accounts/login/?next=/me/"
        assert client.get("/me/").headers["Location"] == "/accounts/login/?next=/me/"
    assert _acts(cast.clinician) == [("shift_end", "done")]


def test_the_lock_hides_everything_but_the_name_of_who_is_signed_in(cast: Cast) -> None:
    client = _locked(cast)
    page = client.get(f"/lock/?next={BACK}")
    assert page.status_code == 200
    assert "Tess Okafor is signed in" in words_of(page)
    assert "Ines" not in page.content.decode()
    assert 'aria-label="Main"' not in page.content.decode()
    assert page.headers["Cache-Control"] == "no-store"
    for address in ("/me/", "/", "/accounts/2fa/", "/accounts/reauthenticate/"):
        assert client.get(address).headers["Location"].startswith("/lock/?next=")


def test_the_password_unlocks_and_the_session_gets_a_new_key(cast: Cast) -> None:
    client = _locked(cast)
    before = client.session.session_key
    answer = client.post("/lock/", {"password": PASSWORD, "next": BACK})
    assert (answer.status_code, answer.headers["Location"]) == (302, BACK)
    assert client.session.session_key != before
    assert client.get("/me/").status_code == 200
    assert _acts(cast.clinician) == [("lock", "done"), ("unlock", "done")]


def test_a_wrong_password_stays_locked(cast: Cast) -> None:
    client = _locked(cast)
    answer = client.post("/lock/", {"password": "wrong", "next": BACK})
    assert answer.status_code == 422
    assert "That is not your password" in words_of(answer)
    assert client.get("/me/").status_code == 302
    assert _acts(cast.clinician) == [("lock", "done"), ("unlock", "failed")]


@pytest.mark.parametrize("address", ["https://elsewhere.example/", "//elsewhere.example", "/lock/"])
def test_the_way_back_stays_inside(cast: Cast, address: str) -> None:
    answer = _locked(cast).post("/lock/", {"password": PASSWORD, "next": address})
    assert answer.headers["Location"] == "/"


def test_the_pin_unlocks_only_on_a_registered_tablet(cast: Cast) -> None:
    client = _locked(cast)
    cast.clinician.pin = make_password(PIN)
    cast.clinician.save(update_fields=["pin"])
    assert "six-digit PIN" not in words_of(client.get("/lock/"))
    assert client.post("/lock/", {"pin": PIN}).status_code == 422
    _on_a_tablet(cast, client, cast.clinician)
    assert "six-digit PIN" in words_of(client.get("/lock/"))
    answer = client.post("/lock/", {"pin": PIN, "next": BACK})
    assert (answer.status_code, answer.headers["Location"]) == (302, BACK)
    assert "tablet" in answer.cookies


def test_a_tablet_works_for_its_site_until_it_is_retired(cast: Cast) -> None:
    outsider = signed_in(cast.outsider)
    outsider.post("/lock/now")
    _on_a_tablet(cast, outsider, cast.outsider)
    assert outsider.post("/lock/", {"pin": PIN}).status_code == 422
    client = _locked(cast)
    _on_a_tablet(cast, client, cast.clinician)
    for row in Tablet.objects.all():
        tablets.retire(actor=_actor(cast), tablet_id=row.pk)
    assert client.post("/lock/", {"pin": PIN}).status_code == 422
    client.cookies["tablet"] = "forged:signature"
    assert client.post("/lock/", {"pin": PIN}).status_code == 422


def test_five_misses_ask_for_a_full_sign_in(cast: Cast) -> None:
    client = _locked(cast)
    _on_a_tablet(cast, client, cast.clinician)
    for _ in range(4):
        assert client.post("/lock/", {"pin": "111222"}).status_code == 422
    answer = client.post("/lock/", {"pin": "111222"})
    assert (answer.status_code, answer.headers["Location"]) == (302, "/accounts/login/")
    assert client.get("/me/").headers["Location"].startswith("/accounts/login/")
    assert _acts(cast.clinician) == [
        ("lock", "done"), *[("unlock", "failed")] * 5, ("sign_out", "done")
    ]  # fmt: skip
    assert own.try_pin(staff_id=cast.clinician.pk, pin=PIN) is PinAnswer.SPENT
    login = {"login": "clinician", "password": PASSWORD}
    assert client.post("/accounts/login/", login).status_code == 302
    assert own.try_pin(staff_id=cast.clinician.pk, pin=PIN) is PinAnswer.RIGHT


def test_a_right_pin_forgives_the_misses_before_it(cast: Cast) -> None:
    staff_id = cast.clinician.pk
    StaffMember.objects.filter(pk=staff_id).update(pin=make_password(PIN))
    for _ in range(2):
        tries = [own.try_pin(staff_id=staff_id, pin="111222") for _ in range(4)]
        assert tries == [PinAnswer.WRONG] * 4
        assert own.try_pin(staff_id=staff_id, pin=PIN) is PinAnswer.RIGHT


def test_a_pin_does_not_outlive_the_shift(cast: Cast) -> None:
    client = _locked(cast)
    _on_a_tablet(cast, client, cast.clinician)
    with _later(hours=12, seconds=1):
        answer = client.post("/lock/", {"pin": PIN})
        assert answer.headers["Location"] == "/accounts/login/"
        assert client.get("/me/").headers["Location"].startswith("/accounts/login/")


def test_someone_else_gets_a_session_of_their_own(cast: Cast) -> None:
    client = _locked(cast)
    before = client.session.session_key
    client.post("/accounts/logout/", {"next": "/accounts/login/"})
    client.post("/accounts/login/", {"login": "colleague", "password": PASSWORD})
    assert client.session.session_key != before
    assert "locked" not in client.session
    assert "Bram Solis" in words_of(client.get("/me/"))


def test_a_form_sent_to_a_locked_page_is_offered_again_to_the_same_person_only(cast: Cast) -> None:
    client = signed_in(cast.clinician)
    body = {"credential": "Physiotherapist, knees", "contact": "x", "password": "never kept"}
    with _later(minutes=11):
        assert client.post("/me/printed", body).status_code == 302
        answer = client.post("/lock/", {"password": PASSWORD})
        assert answer.status_code == 200
        assert 'action="/me/printed"' in answer.content.decode()
        assert 'value="Physiotherapist, knees"' in answer.content.decode()
        assert "never kept" not in answer.content.decode()
        cast.clinician.refresh_from_db()
        assert cast.clinician.credential == "Physiotherapist"
        client.post("/me/printed", {"credential": "Physiotherapist, knees", "contact": "x"})
    cast.clinician.refresh_from_db()
    assert cast.clinician.credential == "Physiotherapist, knees"


def test_opening_the_lock_locks(cast: Cast) -> None:
    client = signed_in(cast.clinician)
    assert client.get("/lock/?next=/me/").status_code == 200
    assert client.get("/me/").status_code == 302
    assert Client().get("/lock/").headers["Location"] == f"{reverse('account_login')}?next=%2F"


def _actor(cast: Cast) -> Actor:
    return Actor(staff_id=cast.lead.pk, site_id=cast.harbour.pk, request_id=uuid4())
