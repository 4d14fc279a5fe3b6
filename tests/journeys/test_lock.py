"""The lock during a visit: the patient is gone from the screen and its stores, the draft is not."""

from typing import Any

import pytest
from django.contrib.auth.hashers import make_password
from playwright.sync_api import Page, expect

from clinic.models.audit import AuditEntry
from clinic.models.places import StaffMember
from tests.cast import MOMENT, PASSWORD, Cast
from tests.journeys.browser import Watcher, let_in, press, told
from tests.journeys.ledger import Ledger, expected_today, open_ledger, record

pytestmark = pytest.mark.journey
SECRETS = ("Marlow", "Ines", "stairs hurt", "H-0412")
KEPT = """async () => {
  const found = [JSON.stringify({...localStorage}), JSON.stringify({...sessionStorage})];
  const done = (asked) => new Promise((yes, no) => {
    asked.onsuccess = () => yes(asked.result);
    asked.onerror = () => no(asked.error);
  });
  const text = (bytes) => String.fromCharCode(...new Uint8Array(bytes.buffer ?? bytes));
  const isBytes = (value) => value instanceof ArrayBuffer || ArrayBuffer.isView(value);
  for (const {name} of await indexedDB.databases()) {
    const base = await done(indexedDB.open(name));
    for (const store of base.objectStoreNames) {
      const rows = await done(base.transaction(store).objectStore(store).getAll());
      found.push(JSON.stringify(rows, (name, value) => isBytes(value) ? text(value) : value));
    }
    base.close();
  }
  for (const name of await caches.keys()) {
    const cache = await caches.open(name);
    for (const asked of await cache.keys()) {
      found.push(asked.url, await (await cache.match(asked)).text());
    }
  }
  return found.join(' ');
}"""
PLANT = """async (texts) => {
  localStorage.setItem('a', texts[0]);
  sessionStorage.setItem('b', texts[1]);
  await new Promise((done) => {
    const asked = indexedDB.open('c');
    asked.onupgradeneeded = () => asked.result.createObjectStore('d', {autoIncrement: true});
    asked.onsuccess = () => {
      const act = asked.result.transaction('d', 'readwrite');
      act.objectStore('d').add({text: texts[2]});
      act.oncomplete = () => { asked.result.close(); done(); };
    };
  });
  await (await caches.open('e')).put('/f', new Response(texts[3]));
}"""


def kept(page: Page) -> list[str]:
    """Which of the secrets can be read in any store of the browser."""
    everything = told(page, KEPT)
    return [secret for secret in SECRETS if secret in everything]


def busy_morning(page: Page, cast: Cast) -> Ledger:
    """Caseload filtered, patient page opened, values and a note typed: all names were seen."""
    record(cast)
    visit = expected_today(cast, state="open", opened_at=MOMENT)
    let_in(page, cast.clinician)
    page.goto("/caseload/")
    page.get_by_label("Week").select_option("12-25")
    expect(page.locator("#caseload")).to_contain_text("1 to 1 of 1")
    page.get_by_role("link", name="Ines Marlow").click()
    expect(page.get_by_role("heading", name="Status today")).to_be_visible()
    ledger = open_ledger(page, cast, visit)
    expect(page.get_by_text("H-0412")).to_be_visible()
    ledger.field("Note").fill("stairs hurt")
    ledger.type(Flexion__right="134")
    expect(ledger.says("Flexion")).to_contain_text("right 4° more")
    expect(ledger.foot).to_contain_text("Draft saved")
    return ledger


def is_gone(page: Page) -> None:
    for secret in SECRETS:
        expect(page.get_by_text(secret)).to_have_count(0)
    assert not any(secret in page.content() for secret in SECRETS)


def unlock(page: Page) -> None:
    page.get_by_label("Your password").fill(PASSWORD)
    press(page, "Unlock with the password")


def test_a_quiet_tablet_locks_itself_and_the_draft_waits(
    tablet: Page, cast: Cast, settings: Any
) -> None:
    ledger = busy_morning(tablet, cast)
    settings.IDLE_LOCK_SECONDS = 2
    tablet.reload()
    expect(ledger.field("Note")).to_have_value("stairs hurt")
    expect(tablet.get_by_role("heading", name="Locked")).to_be_visible()
    settings.IDLE_LOCK_SECONDS = 600
    is_gone(tablet)
    assert kept(tablet) == []
    tablet.go_back()
    expect(tablet.get_by_role("heading", name="Locked")).to_be_visible()
    is_gone(tablet)
    unlock(tablet)
    expect(ledger.field("Note")).to_have_value("stairs hurt")
    expect(ledger.field("Flexion, right")).to_have_value("134")


def test_what_was_typed_in_the_last_moment_before_lock_now_is_kept(
    tablet: Page, cast: Cast
) -> None:
    ledger = busy_morning(tablet, cast)
    ledger.type(Flexion__left="142")
    press(tablet, "Lock now")
    expect(tablet.get_by_role("heading", name="Locked")).to_be_visible()
    is_gone(tablet)
    unlock(tablet)
    expect(ledger.field("Flexion, left")).to_have_value("142")


def test_nothing_readable_stays_after_signing_out(tablet: Page, cast: Cast) -> None:
    busy_morning(tablet, cast)
    press(tablet, "Sign out")
    expect(tablet.get_by_role("heading", name="Sign in")).to_be_visible()
    assert kept(tablet) == []
    for _ in range(3):
        tablet.go_back()
        expect(tablet.get_by_role("heading", name="Sign in")).to_be_visible()
        is_gone(tablet)
    tablet.evaluate(PLANT, list(SECRETS))
    assert kept(tablet) == list(SECRETS)


def test_five_wrong_pins_lead_to_the_full_sign_in(
    tablet: Page, cast: Cast, watcher: Watcher
) -> None:
    watcher.expect("status of 422")
    let_in(tablet, cast.lead)
    tablet.goto("/tablets/")
    tablet.get_by_label("What people call it").fill("Gym tablet")
    press(tablet, "Register this device")
    StaffMember.objects.filter(username="clinician").update(pin=make_password("702853"))
    busy_morning(tablet, cast)
    press(tablet, "Lock now")
    for _ in range(5):
        tablet.get_by_label("Your six-digit PIN").fill("111222")
        press(tablet, "Unlock", exact=True)
    expect(tablet.get_by_role("heading", name="Sign in")).to_be_visible()
    is_gone(tablet)
    tablet.goto(f"/patients/{cast.ines.uid}/")
    expect(tablet.get_by_role("heading", name="Sign in")).to_be_visible()
    tablet.get_by_label("Username").fill("clinician")
    tablet.get_by_label("Password").fill(PASSWORD)
    press(tablet, "Sign in", exact=True)
    expect(tablet.get_by_role("heading", name="Ines Marlow")).to_be_visible()
    missed = AuditEntry.objects.filter(act="unlock", outcome="failed", staff=cast.clinician)
    assert missed.count() == 5
