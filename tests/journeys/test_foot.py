"""The foot of a visit tells the truth of what was typed, with network, without, and afterwards."""

import re

import pytest
from playwright.sync_api import Page, expect

from clinic.models.care import Visit
from tests.cast import MOMENT, Cast
from tests.journeys.browser import Watcher, untidy
from tests.journeys.ledger import Ledger, expected_today, open_ledger, record
from tests.journeys.test_outbox import READY, waits

pytestmark = pytest.mark.journey
NOTHING = "Nothing typed yet."


@pytest.fixture
def mine(tablet: Page, cast: Cast, watcher: Watcher) -> Ledger:
    watcher.expect("ERR_INTERNET_DISCONNECTED|htmx:")
    record(cast)
    ledger = open_ledger(tablet, cast, expected_today(cast, state="open", opened_at=MOMENT))
    tablet.evaluate(READY)
    return ledger


def says(page: Page, words: str) -> None:
    """Expect the whole foot beside its buttons to read so, but for the time of the tablet."""
    spaced = words.replace(" ", r"\s+")
    foot = page.locator(".foot-line")
    expect(foot).to_have_text(re.compile(rf"^\s*{spaced}\s*$"), use_inner_text=True)


def test_the_foot_tells_what_waits_and_since_when(mine: Ledger) -> None:
    page = mine.page
    tip = "A complete number moves on by itself."
    says(page, rf"Red flags not asked\. 0 of 12 tests logged\. {NOTHING} {tip} Waiting to send: 0")
    mine.type(Flexion__left="142")
    expect(page.get_by_text(NOTHING)).to_be_hidden()
    saved = r"Red flags not asked\. 1 of 12 tests logged\. Draft saved 09:00\. Waiting to send: 0"
    says(page, saved)

    page.context.set_offline(True)
    mine.type(Flexion__right="134", Body_mass="63.4")
    many = r"2 rows wait to be sent, the newest typed \d\d:\d\d\. Waiting to send: 2"
    says(page, rf"Red flags not asked\. {many}")
    assert untidy(page) == []
    mine.touch(page.get_by_text("I asked all four: none"))
    says(page, many.replace("2", "3"))
    page.reload()
    expect(page.get_by_role("heading", name="Ines Marlow")).to_be_visible()
    says(page, many.replace("2", "3"))
    page.context.set_offline(False)
    expect(page.get_by_role("button", name="Sign visit")).to_be_visible(timeout=20_000)
    says(page, saved.replace("not asked", "4 asked, none").replace("1 of", "2 of"))


def test_a_page_that_is_older_than_what_was_sent_says_so(mine: Ledger, cast: Cast) -> None:
    """A tab was killed without network; the next one is opened with it, before the rows arrive."""
    page = mine.page
    page.context.set_offline(True)
    mine.type(Flexion__right="134")
    waits(page, 1)
    visit = Visit.objects.get(patient=cast.ines, state="open")
    page.close()
    page.context.set_offline(False)
    again = page.context.new_page()
    again.goto(f"/visits/{visit.uid}/")
    expect(again.locator("#typed")).to_have_text(
        re.compile(r"^What waited was sent \d\d:\d\d\. Open the page again$")
    )
    expect(again.get_by_text(NOTHING)).to_be_hidden()
    with again.expect_navigation():
        again.get_by_role("link", name="Open the page again").tap()
    expect(Ledger(again).field("Flexion, right")).to_have_value("134")
    expect(again.locator("#typed")).to_be_empty()
