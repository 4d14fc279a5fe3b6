"""The commands of running a clinic: beginning one, and what cron runs each night."""

from datetime import timedelta
from io import StringIO
from uuid import uuid4

import pytest
from django.contrib.sessions.models import Session
from django.core.management import CommandError, call_command
from django.test import Client

from clinic import clock
from clinic.models.intents import Intent
from clinic.models.places import Invitation, Membership, Organisation, Site, StaffMember
from clinic.services.upkeep import Pruned, prune
from tests.cast import MOMENT, Cast
from tests.web import signed_in

FACTS = {
    "organisation": "Lantern Quay Knee Clinics",
    "site": "Harbour Street",
    "zone": "Europe/Lisbon",
    "lead": "Lena Varga",
}


def _init(**changes: str) -> str:
    said = StringIO()
    call_command("init_clinic", stdout=said, **{**FACTS, **changes})
    return said.getvalue()


@pytest.mark.django_db
def test_a_clinic_begins_with_one_link_that_works_once() -> None:
    link = _init().splitlines()[-1]
    assert Site.objects.values_list("code", "name", "zone").get() == (
        "harbour-street",
        "Harbour Street",
        "Europe/Lisbon",
    )
    assert not StaffMember.objects.exists()
    secret = link.rstrip("/").rsplit("/", 1)[-1]
    assert link == f"http://localhost:8000/invitations/{secret}/"
    assert secret not in str(Invitation.objects.values().get())
    answer = Client().post(
        f"/invitations/{secret}/",
        {
            "username": "lena",
            "password": "seven quiet herons wade",
            "password_again": "seven quiet herons wade",
        },
    )
    assert (answer.status_code, answer.headers["Location"]) == (302, "/accounts/login/")
    held = Membership.objects.select_related("staff").get()
    assert (held.staff.full_name, held.staff.username, held.role) == ("Lena Varga", "lena", "lead")
    assert Client().get(f"/invitations/{secret}/").status_code == 404


@pytest.mark.django_db
def test_a_second_clinic_and_wrong_facts_are_refused() -> None:
    with pytest.raises(CommandError, match=r"--zone: .*Mars/Base"):
        _init(zone="Mars/Base")
    with pytest.raises(CommandError, match="--lead: This field is required"):
        _init(lead="")
    assert not Organisation.objects.exists()
    _init()
    with pytest.raises(CommandError, match="an organisation already"):
        _init(organisation="Another", site="Elsewhere")
    assert [site.name for site in Site.objects.all()] == ["Harbour Street"]
    assert Invitation.objects.count() == 1


def test_an_only_lead_who_forgot_the_password_gets_a_link_from_the_console(cast: Cast) -> None:
    said = StringIO()
    call_command("one_time_link", "Lead", stdout=said)
    path = said.getvalue().strip().removeprefix("http://localhost:8000")
    new = {"password": "seven quiet herons wade", "password_again": "seven quiet herons wade"}
    assert Client().post(path, new).status_code == 302
    answer = Client().post("/accounts/login/", {"login": "lead", "password": new["password"]})
    assert answer.status_code == 302
    with pytest.raises(CommandError, match="Nobody who works here"):
        call_command("one_time_link", "nobody")


def test_the_night_throws_away_only_what_has_had_its_time(cast: Cast) -> None:
    for days in (91, 90, 1):
        Intent.objects.create(
            staff=cast.lead, key=uuid4(), created_at=MOMENT - timedelta(days=days)
        )
    client = signed_in(cast.lead)
    Session.objects.create(
        session_key="ended", session_data="", expire_date=MOMENT - timedelta(seconds=1)
    )
    assert prune() == Pruned(intents=1, sessions=1, tries=0)
    assert Intent.objects.count() == 2
    assert client.get("/me/").status_code == 200


def test_the_night_judges_again_what_is_due(cast: Cast) -> None:
    said = StringIO()
    call_command("nightly", stdout=said)
    assert said.getvalue().splitlines()[0] == "judged again: 1"
    with clock.held_at(MOMENT + timedelta(hours=1)):
        call_command("nightly", stdout=said)
    assert said.getvalue().splitlines()[2] == "judged again: 0"
