"""Signing in with a passkey, locking and unlocking, and what Back shows, in a real browser."""

from typing import Any

import pytest
from django.contrib.auth.hashers import make_password
from django.contrib.sessions.backends.db import SessionStore
from django.contrib.sessions.models import Session
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from clinic.models.audit import AuditEntry
from clinic.models.places import StaffMember
from tests.cast import PASSWORD, Cast, make_cast
from tests.journeys.browser import Watcher, axe_findings, sign_in

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]
PIN = "702853"


@pytest.fixture
def cast() -> Cast:
    """The cast as committed rows."""
    return make_cast()


def _press(page: Page, name: str) -> None:
    with page.expect_navigation():
        page.get_by_role("button", name=name).click()


def _with_authenticator(page: Page) -> None:
    """A virtual authenticator of the browser: no device is needed."""
    session = page.context.new_cdp_session(page)
    session.send("WebAuthn.enable")
    session.send(
        "WebAuthn.addVirtualAuthenticator",
        {
            "options": {
                "protocol": "ctap2",
                "transport": "internal",
                "hasResidentKey": True,
                "hasUserVerification": True,
                "isUserVerified": True,
                "automaticPresenceSimulation": True,
            }
        },
    )


def test_a_passkey_is_added_signs_in_and_unlocks(
    desktop: Page, live_server: LiveServer, cast: Cast
) -> None:
    _with_authenticator(desktop)
    sign_in(desktop, live_server.url, "clinician", PASSWORD)
    desktop.goto("/accounts/2fa/webauthn/add/")
    desktop.get_by_label("Password").fill(PASSWORD)
    _press(desktop, "Confirm")
    assert axe_findings(desktop) == []
    _press(desktop, "Add it")
    expect(desktop.get_by_role("heading", name="Recovery codes")).to_be_visible()
    _press(desktop, "Sign out")
    _press(desktop, "Use a passkey instead")
    desktop.goto("/me/")
    expect(desktop.get_by_role("heading", name="Tess Okafor")).to_be_visible()
    _press(desktop, "Lock now")
    _press(desktop, "Use your passkey")
    expect(desktop).to_have_url(f"{live_server.url}/me/")
    acts = AuditEntry.objects.filter(subject="session", staff=cast.clinician).order_by("id")
    assert list(acts.values_list("act", flat=True)) == [
        "sign_in", "webauthn_added", "sign_out", "sign_in", "lock", "unlock",
    ]  # fmt: skip


def test_back_shows_no_patient_after_the_lock_and_after_signing_out(
    tablet: Page, live_server: LiveServer, cast: Cast
) -> None:
    patient = f"/patients/{cast.ines.uid}/person"
    sign_in(tablet, live_server.url, "clinician", PASSWORD)
    tablet.goto(patient)
    expect(tablet.get_by_role("heading", name="Ines Marlow")).to_be_visible()
    _press(tablet, "Lock now")
    tablet.go_back()
    expect(tablet.get_by_role("heading", name="Locked")).to_be_visible()
    expect(tablet.get_by_text("Ines")).to_have_count(0)
    tablet.get_by_label("Your password").fill(PASSWORD)
    _press(tablet, "Unlock with the password")
    expect(tablet.get_by_role("heading", name="Ines Marlow")).to_be_visible()
    _press(tablet, "Sign out")
    expect(tablet.get_by_role("heading", name="Sign in")).to_be_visible()
    tablet.go_back()
    expect(tablet.get_by_role("heading", name="Sign in")).to_be_visible()
    expect(tablet.get_by_text("Ines")).to_have_count(0)
    kept = tablet.evaluate("() => ({...localStorage, ...sessionStorage})")
    assert set(kept) <= {"htmx-current-path-for-history"}
    assert "Ines" not in str(kept)


def test_a_pin_unlocks_a_registered_tablet(
    tablet: Page, live_server: LiveServer, cast: Cast, watcher: Watcher
) -> None:
    watcher.expect("status of 422")
    sign_in(tablet, live_server.url, "lead", PASSWORD)
    tablet.goto("/tablets/")
    tablet.get_by_label("What people call it").fill("Gym tablet")
    _press(tablet, "Register this device")
    _press(tablet, "Sign out")
    StaffMember.objects.filter(username="clinician").update(pin=make_password(PIN))
    sign_in(tablet, live_server.url, "clinician", PASSWORD)
    tablet.goto("/me/")
    _press(tablet, "Lock now")
    assert axe_findings(tablet) == []
    tablet.get_by_label("Your six-digit PIN").fill("111222")
    with tablet.expect_navigation():
        tablet.get_by_role("button", name="Unlock", exact=True).click()
    expect(tablet.get_by_text("That is not your PIN").first).to_be_visible()
    tablet.get_by_label("Your six-digit PIN").fill(PIN)
    with tablet.expect_navigation():
        tablet.keyboard.press("Enter")
    expect(tablet).to_have_url(f"{live_server.url}/me/")


def test_a_quiet_screen_hides_the_patient_by_itself(
    tablet: Page, live_server: LiveServer, cast: Cast, settings: Any
) -> None:
    settings.IDLE_LOCK_SECONDS = 3
    sign_in(tablet, live_server.url, "clinician", PASSWORD)
    tablet.goto(f"/patients/{cast.ines.uid}/person")
    expect(tablet.get_by_role("heading", name="Locked")).to_be_visible()
    expect(tablet.get_by_text("Ines")).to_have_count(0)
    (key,) = Session.objects.values_list("session_key", flat=True)
    assert SessionStore(key)["locked"] is True


def test_without_script_the_lock_works_the_same(
    without_script: Page, live_server: LiveServer, cast: Cast
) -> None:
    sign_in(without_script, live_server.url, "clinician", PASSWORD)
    without_script.goto("/me/")
    _press(without_script, "Lock now")
    without_script.get_by_label("Your password").fill(PASSWORD)
    _press(without_script, "Unlock with the password")
    expect(without_script).to_have_url(f"{live_server.url}/me/")


def test_what_is_wrong_is_told_first_and_takes_the_focus(
    phone: Page, live_server: LiveServer, cast: Cast, watcher: Watcher
) -> None:
    watcher.expect("status of 422")
    phone.goto("/accounts/login/")
    phone.get_by_label("Username").fill("clinician")
    phone.get_by_label("Password").fill("wrong")
    with phone.expect_navigation():
        phone.keyboard.press("Enter")
    assert axe_findings(phone) == []
    focused = phone.evaluate("() => document.activeElement.textContent")
    assert "do not belong together" in focused
