"""Without network: an open visit after a reload, in a killed tab, and after the lock."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from threading import Event
from typing import Any

import pytest
from django.http import HttpResponse
from django.shortcuts import render
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from clinic.models.care import Visit
from outcomes.views import shell
from tests.cast import MOMENT, PASSWORD, Cast
from tests.journeys.browser import Watcher, press, told, untidy
from tests.journeys.ledger import Ledger, expected_today, open_ledger, record
from tests.journeys.test_lock import kept
from tests.journeys.test_outbox import READY, drafted, waits
from tests.outcomes.story import limit

pytestmark = pytest.mark.journey


@pytest.fixture
def visit(cast: Cast) -> Visit:
    record(cast)
    return expected_today(cast, state="open", opened_at=MOMENT)


@pytest.fixture
def mine(tablet: Page, cast: Cast, visit: Visit, watcher: Watcher) -> Ledger:
    watcher.expect("ERR_INTERNET_DISCONNECTED|htmx:|status of 401")
    ledger = open_ledger(tablet, cast, visit)
    tablet.evaluate(READY)
    return ledger


def comes_to(page: Page, script: str, wanted: list[int]) -> None:
    for _ in range(100):
        if told(page, script) == wanted:
            break
        page.wait_for_timeout(100)
    assert told(page, script) == wanted


def shows_ines(page: Page) -> None:
    expect(page.get_by_role("heading", name="Ines Marlow")).to_be_visible()
    expect(page.locator(".person-bar strong").first).to_have_text(
        "Right knee, operated 12 Aug 2026"
    )


def test_after_a_reload_without_network_everything_stands_again_and_typing_goes_on(
    mine: Ledger, visit: Visit
) -> None:
    page = mine.page
    mine.type(Flexion__left="142")
    expect(mine.says("Flexion")).to_contain_text("142")
    page.context.set_offline(True)
    mine.type(Flexion__right="134")
    expect(mine.says("Flexion")).to_have_text("Compared when the network is back.")
    waits(page, 1)
    assert told(page, LEFT) == [1, 1]
    assert kept(page) == []
    page.reload()
    shows_ines(page)
    expect(mine.field("Flexion, left")).to_have_value("142")
    expect(mine.field("Flexion, right")).to_have_value("134")
    expect(mine.row("Flexion")).to_contain_text("4 Nov: 130°")
    assert untidy(page) == []
    mine.type(Flexion__right="131", Body_mass="63.4")
    expect(mine.says("Flexion")).to_have_text("Compared when the network is back.")
    waits(page, 2)
    page.context.set_offline(False)
    page.get_by_role("button", name="Open the page again").tap(timeout=20_000)  # typed just now
    expect(page.get_by_role("button", name="Sign visit")).to_be_visible()
    assert drafted(visit) == {
        "v:knee_flexion:left": "142",
        "v:knee_flexion:right": "131",
        "v:body_mass:none": "63.4",
    }
    press(page, "Sign visit")
    comes_to(page, LEFT, [1, 0])


@contextmanager
def silent(server: LiveServer) -> Iterator[None]:
    """The server takes what is asked and says nothing; afterwards it answers all of it, late."""
    httpd: Any = server.thread.httpd
    speaks, goes_on = httpd.get_app(), Event()

    def hangs(environ: Any, start: Any) -> Any:
        goes_on.wait(60)
        return speaks(environ, start)

    httpd.set_app(hangs)
    try:
        yield
    finally:
        httpd.set_app(speaks)
        goes_on.set()


def test_a_network_that_does_not_answer_is_not_waited_for(
    mine: Ledger, visit: Visit, live_server: LiveServer
) -> None:
    page = mine.page
    mine.type(Flexion__left="142")
    expect(mine.says("Flexion")).to_contain_text("142")
    with silent(live_server):
        mine.type(Flexion__right="134")
        expect(mine.says("Flexion")).to_have_text(
            "Compared when the network is back.", timeout=9000
        )
        waits(page, 1)
        page.reload()
        expect(page.get_by_role("heading", name="Ines Marlow")).to_be_visible(timeout=9000)
        shows_ines(page)
        expect(mine.field("Flexion, right")).to_have_value("134")
        page.get_by_role("button", name="Lock now").tap()
        expect(page.get_by_text("It stays locked until the network is back.")).to_be_visible()
        is_hidden(page)
    expect(page.get_by_role("heading", name="Locked")).to_be_visible(timeout=15_000)
    waits(page, 0)
    assert drafted(visit) == {"v:knee_flexion:left": "142", "v:knee_flexion:right": "134"}


def test_without_network_conditions_are_copied_and_a_watch_runs_on(
    mine: Ledger, visit: Visit
) -> None:
    page, hold = mine.page, "Standing hip hold"
    timed = mine.row(hold).get_by_role("button", name="timing, standing on right")
    mine.touch(timed)
    page.wait_for_timeout(600)
    started = page.evaluate(STARTED)
    page.context.set_offline(True)
    mine.field("Body mass").fill("63.4")
    page.evaluate(UNHELD)  # the tab goes before the row was held
    page.reload()
    shows_ines(page)
    waits(page, 1)
    expect(timed).to_contain_text("Stop")
    assert page.evaluate(STARTED) == started
    mine.touch(timed)
    seconds = float(mine.field(f"{hold}, right").input_value())
    passed = (page.evaluate("() => performance.timeOrigin + performance.now()") - started) / 1000
    assert 0.6 <= seconds <= passed
    row = mine.row("Quadriceps")
    mine.touch(row.get_by_text("more: Quadriceps"))
    mine.touch(row.get_by_role("button", name="As last time: fixed dynamometer, knee angle 90°"))
    expect(row.get_by_role("radio", name="fixed dynamometer")).to_be_checked()
    waits(page, 3)
    assert untidy(page) == []
    page.get_by_role("button", name="Same conditions as last time").tap()
    waits(page, 5)
    page.context.set_offline(False)
    waits(page, 0)
    found = drafted(visit)
    assert (found["v:body_mass:none"], found["v:standing_hip_hold:right"]) == ("63.4", f"{seconds}")
    assert found["c:quadriceps_torque:device"] == "fixed"


def test_a_measure_is_added_without_network_with_what_holds_it(
    mine: Ledger, cast: Cast, visit: Visit
) -> None:
    page = mine.page
    limit(cast)
    page.reload()
    page.evaluate(READY)
    page.context.set_offline(True)
    page.reload()
    shows_ines(page)
    page.get_by_role("link", name="Add a measure").tap()
    page.get_by_label("Find a measure").fill("single hop")
    page.get_by_role("button", name="Single hop", exact=True).tap()
    hop = mine.row("Single hop")
    expect(hop).to_contain_text("no impact")
    expect(hop.get_by_text("last value when the network is back")).to_have_count(2)
    waits(page, 1)
    assert untidy(page) == []
    mine.type(Single_hop__left__trial_1="131")
    expect(hop).not_to_have_attribute("data-held", "kept")
    expect(hop).to_have_attribute("data-held", "kept")
    waits(page, 1)
    page.reload()
    shows_ines(page)
    expect(hop).to_contain_text("no impact")
    expect(mine.field("Single hop, left, trial 1")).to_have_value("131")
    order = page.evaluate("() => [...document.querySelectorAll('.entry-row')].map((one) => one.id)")
    page.context.set_offline(False)
    waits(page, 0)
    assert drafted(visit) == {"r:single_hop": "1", "v:single_hop:left": "131"}
    expect(page.get_by_role("button", name="Sign visit")).to_be_visible(timeout=20_000)
    expect(mine.field("Single hop, left, trial 1")).to_have_value("131")
    there = page.evaluate("() => [...document.querySelectorAll('.entry-row')].map((one) => one.id)")
    assert there == order


STARTED = "() => JSON.parse(sessionStorage.getItem('kneeledger-watch')).at"
UNHELD = """() => new Promise((yes) => {
  addEventListener('htmx:configRequest', (event) => event.preventDefault(), true);
  setTimeout(yes, 300); // what was typed is in the reading cache, not in the outbox
})"""


def test_a_killed_tab_comes_back_without_network_and_goes_over_when_nobody_types(
    mine: Ledger, visit: Visit
) -> None:
    page = mine.page
    mine.type(Body_mass="63.4")
    expect(mine.foot).to_contain_text("Draft saved")
    page.context.set_offline(True)
    mine.type(Flexion__right="134")
    mine.choose("Calf or chest trouble", "yes")
    waits(page, 2)
    expect(page.locator("#flags-say")).to_contain_text("follow your local emergency pathway")
    page.close()
    again = page.context.new_page()
    again.goto(f"/visits/{visit.uid}/")
    shows_ines(again)
    expect(again.locator("#flags-say")).to_contain_text("follow your local emergency pathway")
    expect(Ledger(again).field("Flexion, right")).to_have_value("134")
    waits(again, 2)
    page.context.set_offline(False)
    expect(again.get_by_role("button", name="Sign visit")).to_be_visible(timeout=20_000)
    assert drafted(visit) == {
        "v:knee_flexion:right": "134",
        "v:body_mass:none": "63.4",
        "f:short_calf": "yes",
    }


def readable(page: Page) -> list[str]:
    """What of the patient can be read in any store, and whether a key or page is left."""
    left = told(page, LEFT)
    return [*kept(page), *(left if any(left) else [])]


LEFT = """async () => {
  const base = await new Promise(r => {
    const asked = indexedDB.open('kneeledger-outbox'); asked.onsuccess = () => r(asked.result); });
  const counts = [];
  for (const table of ['keys', 'pages']) {
    if (!base.objectStoreNames.contains(table)) continue;
    counts.push(await new Promise(r => {
      const asked = base.transaction(table).objectStore(table).count();
      asked.onsuccess = () => r(asked.result); }));
  }
  base.close();
  return counts;
}"""


WORKERS = """async () => [
  (await navigator.serviceWorker.getRegistrations()).length, (await caches.keys()).length]"""


def is_hidden(page: Page) -> None:
    expect(page.get_by_text("Ines Marlow")).to_have_count(0)
    assert "Marlow" not in page.content()


@pytest.mark.parametrize(
    "reloaded", [False, True], ids=["the open page", "the page after a reload"]
)
def test_locked_without_network_it_stays_locked_until_the_network_is_back(
    mine: Ledger, visit: Visit, reloaded: bool
) -> None:
    page = mine.page
    page.context.set_offline(True)
    mine.type(Flexion__right="134")
    waits(page, 1)
    assert told(page, LEFT) == [1, 1]
    if reloaded:
        page.reload()
        shows_ines(page)
    page.get_by_role("button", name="Lock now").tap()
    expect(page.get_by_text("It stays locked until the network is back.")).to_be_visible()
    is_hidden(page)
    assert readable(page) == []
    page.reload()
    expect(page.get_by_role("heading", name="No network")).to_be_visible()
    expect(page.get_by_text("stays locked until the network is back")).to_be_visible()
    assert untidy(page) == []
    is_hidden(page)
    page.go_back()
    is_hidden(page)
    page.goto("/visits/" + str(visit.uid) + "/")
    page.context.set_offline(False)
    expect(page.get_by_role("heading", name="Locked")).to_be_visible(timeout=20_000)
    page.get_by_label("Your password").fill(PASSWORD)
    press(page, "Unlock with the password")
    expect(mine.field("Flexion, right")).to_have_value("134")
    assert drafted(visit) == {"v:knee_flexion:right": "134"}


def test_a_tablet_left_quiet_for_too_long_starts_locked_and_not_a_moment_sooner(
    mine: Ledger, visit: Visit
) -> None:
    page = mine.page
    page.context.set_offline(True)
    for quiet, shown in ((590, True), (600, False)):
        page.evaluate(
            "(ms) => localStorage.setItem('kneeledger-active', String(Date.now() - ms))",
            quiet * 1000,
        )
        page.reload()
        if shown:
            shows_ines(page)
    expect(page.get_by_text("It stays locked until the network is back.")).to_be_visible()
    is_hidden(page)
    assert readable(page) == []


def test_the_end_of_the_shift_ends_it_without_network(mine: Ledger, settings: Any) -> None:
    page = mine.page
    settings.SESSION_COOKIE_AGE = 4
    page.reload()
    page.evaluate(READY)
    shows_ines(page)
    page.wait_for_timeout(4000)
    page.context.set_offline(True)
    page.reload()
    expect(page.get_by_text("It stays locked until the network is back.")).to_be_visible()
    is_hidden(page)
    assert readable(page) == []


def test_signing_out_with_something_waiting_leaves_nothing_to_read(
    mine: Ledger, visit: Visit
) -> None:
    page = mine.page
    network = page.context.new_cdp_session(page)
    network.send("Network.enable")
    network.send("Network.setBlockedURLs", {"urls": ["*/outbox/", "*/draft"]})
    mine.type(Flexion__right="134")
    waits(page, 1)
    assert told(page, LEFT) == [1, 1]
    page.get_by_role("button", name="Sign out").tap()
    page.get_by_role("button", name="Sign out, they wait").tap()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible(timeout=8000)
    assert readable(page) == []
    waits(page, 1)
    page.context.set_offline(True)
    page.goto(f"/visits/{visit.uid}/")
    expect(page.get_by_role("heading", name="No network")).to_be_visible()
    is_hidden(page)


def test_switched_off_the_worker_drops_what_it_kept_and_goes(mine: Ledger, settings: Any) -> None:
    page = mine.page
    assert told(page, WORKERS) == [1, 1]
    settings.RELOAD_WITHOUT_NETWORK = False
    page.reload()
    comes_to(page, WORKERS, [0, 0])
    shows_ines(page)


def test_a_worker_that_could_not_be_fetched_is_asked_for_again(
    tablet: Page, cast: Cast, visit: Visit, watcher: Watcher, monkeypatch: pytest.MonkeyPatch
) -> None:
    watcher.expect("bad HTTP response code")
    answers: list[HttpResponse] = []

    def first_out_of_order(*rendered: Any, **named: Any) -> HttpResponse:
        answers.append(render(*rendered, **named) if answers else HttpResponse(status=503))
        return answers[-1]

    monkeypatch.setattr(shell, "render", first_out_of_order)
    page = open_ledger(tablet, cast, visit).page
    page.evaluate(READY)
    assert [answer.status_code for answer in answers[:2]] == [503, 200]
    page.context.set_offline(True)
    page.reload()
    shows_ines(page)
