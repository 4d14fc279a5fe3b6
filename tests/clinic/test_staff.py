"""The clinic's page: one-time links, roles, sites, tablets, and each person's own page."""

import re
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.contrib.auth.hashers import check_password
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from zeal import zeal_ignore

from clinic import clock
from clinic.models.audit import AuditEntry
from clinic.models.places import Invitation, Membership, Site, StaffMember, Tablet
from tests.cast import MOMENT, PASSWORD, Cast
from tests.factories.clinic import MembershipFactory
from tests.web import signed_in, words_of

NEW = "seven quiet herons wade"
HERE = {"site": "harbour", "role": "clinician", "full_name": "Nadia Brook"}
CHOSEN = {"username": "nadia", "password": NEW, "password_again": NEW}


def _acts() -> list[tuple[str, str]]:
    rows = AuditEntry.objects.exclude(act__in=["manage_staff", "manage_tablets", "see_own_pages"])
    return list(rows.order_by("id").values_list("act", "subject"))


def _link(answer: Any) -> str:
    page = answer.content.decode()
    (link,) = re.findall(r">(http://testserver/invitations/\w+/)</textarea>", page)
    return str(link)


def _invite(cast: Cast, **changes: str) -> str:
    return _link(
        signed_in(cast.lead).post("/invitations/", {"key": str(uuid4()), **HERE, **changes})
    )


def _is_out(client: Client) -> bool:
    """Whether a client's session has ended; Django reads such a session twice."""
    with zeal_ignore():
        return client.get("/me/").headers.get("Location") == "/accounts/login/?next=/me/"


def test_a_link_is_shown_once_and_only_its_hash_is_kept(cast: Cast) -> None:
    link = _invite(cast)
    secret = link.rstrip("/").rsplit("/", 1)[-1]
    row = Invitation.objects.get()
    assert (row.full_name, row.role, row.site, row.invited_by) == (
        "Nadia Brook", "clinician", cast.harbour, cast.lead,
    )  # fmt: skip
    assert secret not in str(Invitation.objects.values().get())
    assert secret not in signed_in(cast.lead).get("/clinic/").content.decode()
    assert _acts() == [("invite", "invitation")]


def test_the_same_form_sent_twice_invites_once_and_shows_the_same_link(cast: Cast) -> None:
    lead, form = signed_in(cast.lead), {"key": str(uuid4()), **HERE}
    assert _link(lead.post("/invitations/", form)) == _link(lead.post("/invitations/", form))
    assert Invitation.objects.count() == 1
    assert lead.post("/invitations/", {**form, "role": "lead"}).status_code == 409


def test_whoever_holds_the_link_signs_in_from_then_on(cast: Cast) -> None:
    link = _invite(cast)
    page = Client().get(link)
    assert "You will work at Harbour Street as clinician" in words_of(page)
    assert Client().post(link, CHOSEN).headers["Location"] == "/accounts/login/"
    client = Client()
    client.post("/accounts/login/", {"login": "nadia", "password": NEW})
    assert "Nadia Brook Harbour Street, clinician" in words_of(client.get("/me/"))
    for answer in (Client().get(link), Client().post(link, {**CHOSEN, "username": "other"})):
        assert (answer.status_code, "does not work any more" in words_of(answer)) == (404, True)
    assert StaffMember.objects.filter(full_name="Nadia Brook").count() == 1
    assert Client().get("/invitations/" + "0" * 64 + "/").status_code == 404


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"password": "fourteen chars", "password_again": "fourteen chars"}, "at least 15"),
        ({"password_again": "seven quiet herons wode"}, "the same password in both"),
        ({"password": "nadia brook nadia", "password_again": "nadia brook nadia"}, "too similar"),
        ({"password": "harbour-knee-2026", "password_again": "harbour-knee-2026"}, "own words"),
        ({"password": "1qaz2wsx3edc4rfv", "password_again": "1qaz2wsx3edc4rfv"}, "common"),
        ({"username": "Nadia Brook"}, "small letters"),
        ({"username": "clinician"}, "is taken"),
    ],
)
def test_a_sign_in_that_will_not_do_says_why(
    cast: Cast, changes: dict[str, str], said: str
) -> None:
    answer = Client().post(_invite(cast), {**CHOSEN, **changes})
    assert answer.status_code == 422
    assert said in words_of(answer)
    assert not StaffMember.objects.filter(full_name="Nadia Brook").exists()
    assert Invitation.objects.get().accepted_at is None


def test_a_long_password_with_spaces_and_accents_counts_to_its_last_letter(cast: Cast) -> None:
    long = "é wandering  lantern keeps 61 brass umbrellas under the old quay!"
    assert len(long) > 64
    Client().post(_invite(cast), {**CHOSEN, "password": long, "password_again": long})
    answers = [
        Client().post("/accounts/login/", {"login": "nadia", "password": typed}).status_code
        for typed in (long[:-1], long)
    ]
    assert answers == [422, 302]


def test_a_link_ends_after_72_hours_or_when_it_is_withdrawn(cast: Cast) -> None:
    first, second = _invite(cast), _invite(cast, full_name="Olu Hart")
    with clock.held_at(MOMENT + timedelta(hours=72)):
        assert Client().get(first).status_code == 404
        assert Client().post(first, CHOSEN).status_code == 404
    row = Invitation.objects.get(full_name="Olu Hart")
    signed_in(cast.lead).post(f"/invitations/{row.pk}/withdraw")
    assert (Client().get(first).status_code, Client().get(second).status_code) == (200, 404)


def test_a_forgotten_password_is_renewed_by_a_link_and_the_second_factor_stays(cast: Cast) -> None:
    held = Membership.objects.get(staff=cast.clinician)
    old = signed_in(cast.clinician)
    link = _link(signed_in(cast.lead).post(f"/clinic/roles/{held.pk}/renew", {"key": uuid4()}))
    page = Client().get(link)
    assert "Choose a new password for clinician" in words_of(page)
    answer = Client().post(link, {"password": NEW, "password_again": NEW, "username": "hijack"})
    assert answer.status_code == 302
    cast.clinician.refresh_from_db()
    assert cast.clinician.username == "clinician"
    assert check_password(NEW, cast.clinician.password)
    assert Membership.objects.filter(staff=cast.clinician).count() == 1
    assert _is_out(old)


def test_a_lead_gives_and_ends_roles_at_their_own_sites_only(cast: Cast) -> None:
    lead = signed_in(cast.lead)
    form = {"staff": cast.desk.pk, "role": "clinician", "site": "harbour"}
    for _ in range(2):
        assert lead.post("/clinic/roles/", form).status_code == 302
    held = Membership.objects.get(staff=cast.desk, role="clinician")
    assert lead.post(f"/clinic/roles/{held.pk}/end").status_code == 302
    held.refresh_from_db()
    assert held.ended_on == MOMENT.date()
    assert lead.post("/clinic/roles/", form).status_code == 302
    held.refresh_from_db()
    assert held.ended_on is None
    assert lead.post("/clinic/roles/", {**form, "site": "millbank"}).status_code == 422
    elsewhere = Membership.objects.get(staff=cast.outsider)
    assert lead.post(f"/clinic/roles/{elsewhere.pk}/end").status_code == 404
    assert lead.post("/clinic/roles/999999/end").status_code == 404
    elsewhere.refresh_from_db()
    assert elsewhere.ended_on is None


def test_a_site_keeps_its_last_lead(cast: Cast) -> None:
    lead, held = signed_in(cast.lead), Membership.objects.get(staff=cast.lead)
    answer = lead.post(f"/clinic/roles/{held.pk}/end")
    assert (answer.status_code, "would have no lead" in words_of(answer)) == (422, True)
    MembershipFactory(staff=cast.clinician, site=cast.harbour, role="lead")
    assert lead.post(f"/clinic/roles/{held.pk}/end").status_code == 302
    assert lead.get("/clinic/").status_code == 403


def test_a_site_sets_zone_units_paper_and_letterhead(cast: Cast) -> None:
    lead = signed_in(cast.lead)
    settings = {
        "name": "Harbour Street", "zone": "Pacific/Auckland", "units": "us", "paper": "Letter",
        "emergency_line": "+000 112", "letterhead": "1 Harbour Street",
        "proposals": True, "pictures": True, "keep_pictures": True, "majority": 19,
    }  # fmt: skip
    assert lead.post("/clinic/sites/harbour/", settings).status_code == 302
    assert Site.objects.filter(code="harbour").values(*settings).get() == settings
    assert lead.post("/clinic/sites/harbour/", {**settings, "zone": "Mars"}).status_code == 422
    assert lead.post("/clinic/sites/harbour/", {**settings, "majority": 13}).status_code == 422
    alone = {**settings, "pictures": ""}
    assert "Switch on the angle from" in words_of(lead.post("/clinic/sites/harbour/", alone))
    assert lead.get("/clinic/sites/millbank/").status_code == 404
    assert signed_in(cast.desk).get("/clinic/sites/harbour/").status_code == 403


def test_who_adds_a_site_leads_it(cast: Cast) -> None:
    lead, form = signed_in(cast.lead), {"key": uuid4(), "name": "Quay Road", "zone": "Asia/Tokyo"}
    for _ in range(2):
        assert lead.post("/clinic/sites/", form).status_code == 302
    site = Site.objects.get(name="Quay Road")
    assert (site.code, site.zone) == ("quay-road", "Asia/Tokyo")
    assert Membership.objects.get(site=site).staff == cast.lead


def test_registering_and_retiring_a_tablet(cast: Cast) -> None:
    lead = signed_in(cast.lead)
    answer = lead.post("/tablets/", {"key": uuid4(), "label": "Gym tablet", "site": "harbour"})
    cookie = answer.cookies["tablet"]
    assert (cookie["httponly"], cookie["samesite"], cookie["path"]) == (True, "Lax", "/")
    row = Tablet.objects.get()
    assert cookie.value.split(":")[0] not in str(Tablet.objects.values().get())
    assert "It is registered as Gym tablet" in words_of(lead.get("/tablets/"))
    assert lead.post(f"/tablets/{row.uid}/retire").status_code == 302
    assert "It is not registered" in words_of(lead.get("/tablets/"))
    assert _acts() == [("register_tablet", "tablet"), ("retire_tablet", "tablet")]


@pytest.mark.parametrize("more", [1, 3])
def test_the_clinics_page_costs_the_same_however_many_work_there(cast: Cast, more: int) -> None:
    for _ in range(more):
        _invite(cast)
        MembershipFactory(site=cast.harbour)
    lead = signed_in(cast.lead)
    with CaptureQueriesContext(
        connection,
    ) as asked:
        assert lead.get("/clinic/").status_code == 200
    assert len(asked) == 8, [query["sql"] for query in asked.captured_queries]


PIN = {"pin-present_password": PASSWORD, "pin-pin": "702853", "pin-pin_again": "702853"}


def test_a_pin_is_set_with_the_password(cast: Cast) -> None:
    client = signed_in(cast.clinician)
    wrong = client.post("/me/pin", {**PIN, "pin-present_password": "wrong"})
    assert (wrong.status_code, "not your present password" in words_of(wrong)) == (422, True)
    assert client.post("/me/pin", PIN).headers["Location"] == "/me/"
    cast.clinician.refresh_from_db()
    assert check_password("702853", cast.clinician.pin)
    assert _acts() == [("set_pin", "staff")]


@pytest.mark.parametrize(
    "pin", ["123456", "987654", "890123", "111111", "121212", "123123", "12345", "12345a"]
)
def test_a_pin_that_is_guessed_within_five_tries_is_refused(cast: Cast, pin: str) -> None:
    answer = signed_in(cast.clinician).post(
        "/me/pin", {**PIN, "pin-pin": pin, "pin-pin_again": pin}
    )
    assert answer.status_code == 422
    cast.clinician.refresh_from_db()
    assert cast.clinician.pin == ""


def test_a_new_password_ends_the_other_sessions_and_keeps_this_one(cast: Cast) -> None:
    here, there = signed_in(cast.clinician), signed_in(cast.clinician)
    form = {
        "password-present_password": PASSWORD,
        "password-password": NEW,
        "password-password_again": NEW,
    }
    assert here.post("/me/password", form).headers["Location"] == "/me/"
    assert here.get("/me/").status_code == 200
    assert _is_out(there)
    assert here.post("/me/password", form).status_code == 422


def test_own_sessions_are_listed_and_the_others_ended(cast: Cast) -> None:
    here, there = signed_in(cast.clinician), signed_in(cast.clinician)
    colleague = signed_in(cast.colleague)
    assert len(here.get("/me/").context["rows"]) == 2
    assert here.post("/me/sessions/end").headers["Location"] == "/me/"
    assert _is_out(there)
    assert [row["here"] for row in here.get("/me/").context["rows"]] == [True]
    assert colleague.get("/me/").status_code == 200


def test_nobody_writes_more_of_themselves_than_the_form_shows(cast: Cast) -> None:
    client = signed_in(cast.clinician)
    form = {"credential": "PT", "contact": "x", "full_name": "Someone Else", "is_active": ""}
    client.post("/me/printed", form)
    cast.clinician.refresh_from_db()
    kept = (cast.clinician.credential, cast.clinician.full_name, cast.clinician.is_active)
    assert kept == ("PT", "Tess Okafor", True)
