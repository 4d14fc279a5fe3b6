"""Without network: what is typed waits on the tablet, sealed, and goes out by itself."""

from __future__ import annotations

import json
from typing import Any

import pytest
from playwright.sync_api import Page, Route, expect

from clinic.models.care import Visit
from outcomes.models.outbox import WaitingSave
from outcomes.models.record import Reading, VisitDraft
from tests.cast import MOMENT, Cast
from tests.journeys.browser import Watcher, let_in, press, told, untidy
from tests.journeys.ledger import Ledger, expected_today, open_ledger, record

pytestmark = pytest.mark.journey

FLEXION = "v:knee_flexion:right"
READY = """async () => {
  const {shell, more} = document.getElementById('ledger').dataset;
  const end = performance.now() + 20000;
  const files = () => performance.getEntriesByType('resource')
    .map(({name}) => new URL(name).pathname).filter((one) => one.startsWith('/static/'));
  const kept = async () => (await Promise.all(
    [shell, more, ...files()].map((one) => caches.match(one)))).every(Boolean);
  while (!(await navigator.serviceWorker.getRegistration() && await kept())) {
    if (performance.now() > end) throw new Error('the shell was not kept within 20 s');
    await new Promise(r => setTimeout(r, 50));
  }
  await navigator.serviceWorker.ready;
}"""
READ_ALL = """async () => {
  const found = [{...localStorage}, {...sessionStorage}, await caches.keys()];
  for (const {name} of await indexedDB.databases()) {
    const db = await new Promise(r => {
      const asked = indexedDB.open(name); asked.onsuccess = () => r(asked.result); });
    for (const store of db.objectStoreNames) {
      found.push(await new Promise(r => {
        const asked = db.transaction(store).objectStore(store).getAll();
        asked.onsuccess = () => r(asked.result); }));
    }
    db.close();
  }
  const text = (bytes) => String.fromCharCode(...new Uint8Array(bytes.buffer ?? bytes));
  const isBytes = (value) => value instanceof ArrayBuffer || ArrayBuffer.isView(value);
  return JSON.stringify(found, (name, value) => isBytes(value) ? text(value) : value);
}"""

SEALS_WHEN_LET = """() => {
  const meanwhile = new Promise((yes) => { window.letSeal = yes; });
  const derive = SubtleCrypto.prototype.deriveBits;
  let first = true;
  SubtleCrypto.prototype.deriveBits = async function (...given) {
    if (first) await (first = false, meanwhile);
    return derive.apply(this, given);
  };
}"""


@pytest.fixture
def visit(cast: Cast) -> Visit:
    record(cast)
    return expected_today(cast, state="open", opened_at=MOMENT)


@pytest.fixture
def mine(tablet: Page, cast: Cast, visit: Visit, watcher: Watcher) -> Ledger:
    watcher.expect(
        "ERR_INTERNET_DISCONNECTED|ERR_BLOCKED_BY_CLIENT|htmx:|status of 401|fetching the script"
    )
    return open_ledger(tablet, cast, visit)


def waits(page: Page, number: int) -> None:
    expect(page.locator("#waiting")).to_have_text(f"Waiting to send: {number}")


def drafted(visit: Visit) -> dict[str, str]:
    draft = VisitDraft.objects.filter(visit=visit).first()
    fields: dict[str, Any] = draft.fields if draft else {}
    return {name: field["text"] for name, field in fields.items() if field["text"]}


def test_what_is_typed_without_network_waits_sealed_and_goes_out_from_another_page(
    mine: Ledger, visit: Visit, cast: Cast
) -> None:
    page = mine.page
    waits(page, 0)
    page.context.set_offline(True)
    mine.type(Flexion__right="134.7", Body_mass="63.4")
    waits(page, 2)
    expect(mine.says("Flexion")).to_have_text("Compared when the network is back.")
    expect(page.get_by_role("alert")).to_be_empty()
    assert untidy(page) == []
    stored = told(page, READ_ALL)
    items, keys, pages = json.loads(stored)[-3:]
    assert [len(items), keys[0]["id"], pages[0]["visit"]] == [2, "reading", str(visit.uid)]
    assert len(pages[0]["box"]) > 1000
    for text in ("134.7", "63.4", "Ines", "Marlow", "knee_flexion"):
        assert text not in stored.replace(str(visit.uid), "")
    assert drafted(visit) == {}
    page.close()  # the tab is killed; another one of the same tablet opens with network
    other = page.context.new_page()
    page.context.set_offline(False)
    other.goto("/accounts/login/")
    expect(other.locator("#waiting")).to_have_text("Waiting to send: 0")
    assert drafted(visit) == {FLEXION: "134.7", "v:body_mass:none": "63.4"}
    assert set(WaitingSave.objects.values_list("typed_by", "fate")) == {(cast.clinician.pk, "kept")}


def test_signing_waits_for_the_network_and_the_page_stays(mine: Ledger, visit: Visit) -> None:
    page = mine.page
    mine.type(Flexion__left="142")
    page.context.set_offline(True)
    mine.type(Flexion__right="134")
    waits(page, 1)
    page.get_by_role("button", name="Sign visit").tap()
    expect(page.get_by_role("alert")).to_contain_text("Signing needs the network.")
    expect(mine.field("Flexion, right")).to_have_value("134")
    page.context.set_offline(False)
    expect(mine.says("Flexion")).to_contain_text("8° short of the other side")
    waits(page, 0)
    press(page, "Sign visit")
    expect(page.get_by_text("not taken into this visit")).to_have_count(0)
    values = Reading.objects.filter(visit=visit).values_list("limb", "value")
    assert dict(values) == {"left": 142, "right": 134}


def test_after_the_lock_what_was_typed_last_still_arrives(
    mine: Ledger, visit: Visit, cast: Cast
) -> None:
    page = mine.page
    page.context.set_offline(True)
    mine.type(Flexion__right="134")
    waits(page, 1)
    page.context.clear_cookies(name="sessionid")  # the session is over
    page.context.set_offline(False)
    for _ in range(100):
        if drafted(visit):
            break
        page.wait_for_timeout(50)
    assert drafted(visit) == {FLEXION: "134"}
    assert VisitDraft.objects.get().fields[FLEXION]["by"] == cast.clinician.pk


def test_signing_out_with_something_waiting_asks_and_keeps_it(mine: Ledger, visit: Visit) -> None:
    page = mine.page
    network = page.context.new_cdp_session(page)
    network.send("Network.enable")
    network.send("Network.setBlockedURLs", {"urls": ["*/outbox/", "*/draft"]})
    mine.type(Flexion__right="134")
    waits(page, 1)
    page.get_by_role("button", name="Sign out").tap()
    asks = page.get_by_role("dialog", name="Not everything is sent")
    expect(asks).to_contain_text("Rows that wait on this tablet: 1.")
    assert untidy(page) == []
    asks.get_by_role("button", name="Stay here").tap()
    expect(asks).to_be_hidden()
    expect(mine.field("Flexion, right")).to_have_value("134")
    page.get_by_role("button", name="Sign out").tap()
    asks.get_by_role("button", name="Sign out, they wait").tap()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible(timeout=8000)
    waits(page, 1)
    network.send("Network.setBlockedURLs", {"urls": []})
    page.reload()
    waits(page, 0)
    assert drafted(visit) == {FLEXION: "134"}


def test_a_network_that_answers_with_a_page_of_its_own_has_taken_nothing(
    mine: Ledger, visit: Visit
) -> None:
    page = mine.page
    page.route("**/draft", lambda route: route.abort("internetdisconnected"))
    page.route("**/outbox/", lambda route: route.fulfill(body="<p>Accept the terms</p>"))
    mine.type(Flexion__right="134")
    waits(page, 1)
    page.get_by_role("button", name="Sign out").tap()
    asks = page.get_by_role("dialog", name="Not everything is sent")
    expect(asks).to_contain_text("Rows that wait on this tablet: 1.")
    asks.get_by_role("button", name="Stay here").tap()
    page.unroute("**/outbox/")
    expect(page.locator("#waiting")).to_have_text("Waiting to send: 0", timeout=20_000)
    assert drafted(visit) == {FLEXION: "134"}


def test_signing_out_with_nothing_waiting_forgets_everything(mine: Ledger, cast: Cast) -> None:
    page = mine.page
    page.evaluate("() => localStorage.setItem('left', 'behind')")
    with page.expect_response("**/accounts/logout/") as answer:
        page.get_by_role("button", name="Sign out").tap()
    assert answer.value.all_headers()["clear-site-data"] == '"cache", "storage"'
    page.wait_for_url("**/accounts/login/**")
    assert "behind" not in told(page, READ_ALL)
    let_in(page, cast.clinician)
    page.goto("/today/")
    expect(page.locator("#waiting")).to_be_hidden()


def test_where_another_tablet_typed_otherwise_meanwhile_both_texts_are_shown(
    mine: Ledger, visit: Visit, cast: Cast, open_window: Any
) -> None:
    page = mine.page
    page.context.set_offline(True)
    mine.type(Flexion__right="134")
    waits(page, 1)
    theirs = open_window(viewport={"width": 820, "height": 1180}, has_touch=True)
    let_in(theirs, cast.colleague)
    theirs.goto(f"/visits/{visit.uid}/")
    Ledger(theirs).type(Flexion__right="131")
    expect(Ledger(theirs).says("Flexion")).to_contain_text("right 1° more")
    page.close()
    page.context.set_offline(False)
    again = page.context.new_page()
    again.goto("/today/")
    expect(again.get_by_role("status").first).to_contain_text("typed differently elsewhere")
    again.goto(f"/visits/{visit.uid}/")
    row = Ledger(again).row("Flexion")
    expect(row).to_contain_text("typed 134 without network; the draft holds 131")
    assert untidy(again) == []
    row.get_by_role("button", name="Keep 134").tap()
    expect(row.get_by_role("button", name="Keep 134")).to_have_count(0)
    assert drafted(visit)[FLEXION] == "134"


def test_an_answer_never_takes_away_what_was_typed_of_the_row_since(
    mine: Ledger, visit: Visit, watcher: Watcher
) -> None:
    watcher.expect("ERR_FAILED")
    page = mine.page
    page.evaluate(SEALS_WHEN_LET)
    mine.type(Flexion__right="134")
    expect(mine.says("Flexion")).to_contain_text("right 4° more")  # answered before it was sealed
    page.route("**/draft", lambda route: route.abort())
    held: list[Route] = []
    page.route("**/outbox/", lambda route: held.append(route))
    with page.expect_request("**/outbox/"):
        mine.type(Flexion__right="131")
        waits(page, 1)
        page.evaluate("() => letSeal()")
    mine.type(Flexion__right="133")
    expect(mine.row("Flexion")).to_have_attribute("data-held", "kept")
    held[0].fulfill(response=held[0].fetch())
    page.wait_for_timeout(500)
    waits(page, 1)
    assert drafted(visit) == {FLEXION: "131"}
    page.close()
    other = page.context.new_page()
    other.goto("/accounts/login/")
    waits(other, 0)
    assert drafted(visit) == {FLEXION: "133"}
