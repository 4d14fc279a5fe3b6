"""Signing in and out: what is mounted, what is told, what is written down, what stays closed."""

import time
from datetime import timedelta
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal.auth import (
    TOTP,
    format_hotp_value,
    hotp_value,
    yield_hotp_counters_from_time,
)
from django.test import Client, override_settings
from django.urls import get_resolver

from clinic import clock
from clinic.models.audit import AuditEntry
from clinic.models.places import Membership, StaffMember
from tests.cast import MOMENT, PASSWORD, Cast
from tests.web import signed_in, words_of

RIGHT = {"login": "clinician", "password": PASSWORD}


def _acts() -> list[tuple[str, str, str]]:
    rows = AuditEntry.objects.filter(subject="session").select_related("staff").order_by("id")
    return [(row.staff.username if row.staff else "", row.act, row.outcome) for row in rows]


def test_only_sign_in_sign_out_step_up_and_second_factor_are_mounted() -> None:
    names = {name for name in get_resolver().reverse_dict if isinstance(name, str)}
    assert {name for name in names if name.startswith(("account", "mfa", "social"))} == {
        "account_login",
        "account_logout",
        "account_reauthenticate",
        "mfa_index",
        "mfa_authenticate",
        "mfa_reauthenticate",
        "mfa_activate_totp",
        "mfa_deactivate_totp",
        "mfa_view_recovery_codes",
        "mfa_generate_recovery_codes",
        "mfa_download_recovery_codes",
        "mfa_list_webauthn",
        "mfa_add_webauthn",
        "mfa_reauthenticate_webauthn",
        "mfa_edit_webauthn",
        "mfa_remove_webauthn",
        "mfa_login_webauthn",
    }
    for address in ("signup/", "password/reset/", "password/change/", "email/"):
        assert Client().get(f"/accounts/{address}").status_code == 404


def test_signing_in_and_out_leaves_its_rows_and_no_cache(cast: Cast) -> None:
    client = Client()
    answer = client.post("/accounts/login/?next=/me/", {**RIGHT, "next": "/me/"})
    assert (answer.status_code, answer.headers["Location"]) == (302, "/me/")
    page = client.get("/me/")
    assert page.headers["Cache-Control"] == "no-store"
    answer = client.post("/accounts/logout/")
    assert answer.headers["Location"] == "/accounts/login/"
    assert answer.headers["Clear-Site-Data"] == '"cache"'
    assert "no-store" in answer.headers["Cache-Control"]
    assert client.get("/me/").headers["Location"] == "/accounts/login/?next=/me/"
    assert _acts() == [("clinician", "sign_in", "done"), ("clinician", "sign_out", "done")]


def test_reading_the_sign_out_page_signs_nobody_out(cast: Cast) -> None:
    client = signed_in(cast.clinician)
    assert client.get("/accounts/logout/").status_code == 200
    assert client.get("/me/").status_code == 200


def test_the_session_gets_a_new_key_at_sign_in(cast: Cast) -> None:
    client = Client()
    session = client.session
    session["planted"] = "by someone who knows this key"
    session.save()
    planted = session.session_key or ""
    client.cookies["sessionid"] = planted
    client.post("/accounts/login/", RIGHT)
    assert client.cookies["sessionid"].value != planted
    other = Client()
    other.cookies["sessionid"] = planted
    assert other.get("/me/").headers["Location"] == "/accounts/login/?next=/me/"


def test_a_wrong_password_and_an_unknown_name_get_the_same_answer(cast: Cast) -> None:
    wrong = Client().post("/accounts/login/", {"login": "clinician", "password": "x" * 15})
    unknown = Client().post("/accounts/login/", {"login": "nobody", "password": "x" * 15})
    assert wrong.status_code == unknown.status_code == 422
    assert words_of(wrong) == words_of(unknown)
    assert "do not belong together" in words_of(wrong)
    assert _acts() == [("clinician", "sign_in", "failed"), ("", "sign_in", "failed")]


def test_someone_switched_off_is_told_so_only_with_the_right_password(cast: Cast) -> None:
    StaffMember.objects.filter(pk=cast.clinician.pk).update(is_active=False)
    wrong = Client().post("/accounts/login/", {**RIGHT, "password": "wrong"})
    assert (wrong.status_code, "switched off" in words_of(wrong)) == (422, False)
    client = Client()
    right = client.post("/accounts/login/", RIGHT)
    assert (right.status_code, "switched off" in words_of(right)) == (403, True)
    assert client.get("/me/").status_code == 302


@pytest.mark.parametrize("name", ["clinician", "nobody"])
def test_five_wrong_tries_lock_out_for_a_while_with_a_page(cast: Cast, name: str) -> None:
    tries = [
        Client().post("/accounts/login/", {"login": name, "password": f"wrong {n}"})
        for n in range(7)
    ]
    assert [one.status_code for one in tries] == [422] * 4 + [429] * 3
    assert {words_of(one) for one in tries[4:]} == {words_of(tries[4])}
    assert "Wait 15 minutes" in words_of(tries[4])
    assert tries[4].headers["Retry-After"] == "900"
    assert (
        Client().post("/accounts/login/", {"login": name, "password": PASSWORD}).status_code == 429
    )
    assert Client().post("/accounts/login/", {**RIGHT, "login": "colleague"}).status_code == 302
    assert AuditEntry.objects.filter(act="locked_out", outcome="refused").count() == 4


def test_someone_without_a_role_sees_nothing(cast: Cast) -> None:
    client = signed_in(cast.clinician)
    assert client.get("/me/").status_code == 200
    Membership.objects.filter(staff=cast.clinician).update(ended_on=MOMENT.date())
    answer = client.get("/me/")
    assert (answer.status_code, "No role at any site" in words_of(answer)) == (403, True)


def _code(secret: str) -> str:
    counter = next(iter(yield_hotp_counters_from_time()))
    return str(format_hotp_value(hotp_value(secret, counter)))


@override_settings(SECOND_FACTOR_DEMANDED=True)
def test_a_demanded_second_factor_is_set_up_before_anything_else(
    cast: Cast, django_capture_on_commit_callbacks: Any
) -> None:
    client = Client()
    client.post("/accounts/login/", RIGHT)
    assert client.get("/me/").headers["Location"] == "/accounts/2fa/"
    address = client.get("/accounts/2fa/totp/activate/").headers["Location"]
    assert address == "/accounts/reauthenticate/?next=%2Faccounts%2F2fa%2Ftotp%2Factivate%2F"
    answer = client.post(address, {"password": PASSWORD, "next": "/accounts/2fa/totp/activate/"})
    assert answer.headers["Location"] == "/accounts/2fa/totp/activate/"
    secret = client.get("/accounts/2fa/totp/activate/").context["form"].secret
    with django_capture_on_commit_callbacks(execute=True):
        answer = client.post("/accounts/2fa/totp/activate/", {"code": _code(secret)})
    assert answer.headers["Location"] == "/accounts/2fa/recovery-codes/"
    codes = client.get("/accounts/2fa/recovery-codes/").context["unused_codes"]
    assert len(codes) == 10
    assert client.get("/me/").status_code == 200
    kept = str(list(Authenticator.objects.values_list("data", flat=True)))
    assert secret not in kept
    assert codes[0] not in kept
    again = Client()
    answer = again.post("/accounts/login/", RIGHT)
    assert answer.headers["Location"] == "/accounts/2fa/authenticate/"
    assert again.get("/me/").status_code == 302
    assert again.post("/accounts/2fa/authenticate/", {"code": "000000"}).status_code == 422
    assert again.post("/accounts/2fa/authenticate/", {"code": codes[0]}).status_code == 302
    assert again.get("/me/").status_code == 200
    assert _acts()[1:] == [
        ("clinician", "totp_activated", "done"),
        ("clinician", "second_factor", "failed"),
        ("clinician", "sign_in", "done"),
    ]


def test_a_code_of_the_app_works_once(cast: Cast) -> None:
    secret = TOTP.activate(cast.clinician, "JBSWY3DPEHPK3PXP").instance.data["secret"]
    assert secret != "JBSWY3DPEHPK3PXP"
    code, started = _code("JBSWY3DPEHPK3PXP"), time.time()
    answers = []
    for _ in range(2):
        client = Client()
        client.post("/accounts/login/", RIGHT)
        answers.append(client.post("/accounts/2fa/authenticate/", {"code": code}).status_code)
    assert answers == [302, 422] or time.time() // 30 != started // 30


def test_something_grave_asks_for_the_password_again_after_five_minutes(cast: Cast) -> None:
    client = signed_in(cast.lead)
    with clock.held_at(MOMENT + timedelta(minutes=5)):
        assert client.get("/invitations/").status_code == 200
    with clock.held_at(MOMENT + timedelta(minutes=5, seconds=1)):
        address = client.get("/invitations/").headers["Location"]
        assert address == "/accounts/reauthenticate/?next=%2Finvitations%2F"
        assert client.post(address, {"password": "wrong"}).status_code == 422
        answer = client.post(address, {"password": PASSWORD, "next": "/invitations/"})
        assert answer.headers["Location"] == "/invitations/"
        assert client.get("/invitations/").status_code == 200
    assert ("lead", "step_up", "failed") in _acts()


@pytest.mark.parametrize(
    ("sent_from", "back"),
    [
        ("http://testserver/caseload/?week=6-12", "%2Fcaseload%2F%3Fweek%3D6-12"),
        ("https://elsewhere.example/caseload/", "%2F"),
        ("", "%2F"),
    ],
)
def test_a_form_sent_too_late_leads_back_to_its_page(cast: Cast, sent_from: str, back: str) -> None:
    client = signed_in(cast.lead)
    with clock.held_at(MOMENT + timedelta(minutes=6)):
        answer = client.post("/caseload/export", headers={"Referer": sent_from})
    assert answer.headers["Location"] == f"/accounts/reauthenticate/?next={back}"


def test_home_is_the_day_or_the_caseload_by_role_at_the_site(cast: Cast) -> None:
    homes = {
        name: signed_in(getattr(cast, name)).get("/").headers["Location"]
        for name in ("desk", "clinician", "lead")
    }
    assert homes == {"desk": "/today/", "clinician": "/today/", "lead": "/caseload/"}


def test_the_site_that_is_worked_at_is_one_of_ones_own(cast: Cast) -> None:
    Membership.objects.create(staff=cast.clinician, site=cast.millbank, role="lead")
    client = signed_in(cast.clinician)
    assert "Harbour Street, clinician" in words_of(client.get("/me/"))
    assert client.post("/site/", {"site": "millbank"}).headers["Location"] == "/"
    assert "Millbank, lead" in words_of(client.get("/me/"))
    assert client.get("/").headers["Location"] == "/caseload/"
    assert signed_in(cast.desk).post("/site/", {"site": "millbank"}).status_code == 404
    assert client.get("/site/").status_code == 405


def test_the_policy_is_the_strict_one_on_pages_and_on_errors(cast: Cast) -> None:
    expected = {
        "default-src 'none'", "script-src 'self'", "style-src 'self'", "font-src 'self'",
        "img-src 'self' data: blob:", "connect-src 'self'", "worker-src 'self'",
        "manifest-src 'self'", "form-action 'self'", "frame-ancestors 'none'", "base-uri 'none'",
        "object-src 'none'",
    }  # fmt: skip
    for address in ("/accounts/login/", "/nowhere/", "/healthz", "/me/"):
        policy = Client().get(address).headers["Content-Security-Policy"]
        assert {part.strip() for part in policy.split(";")} == expected
