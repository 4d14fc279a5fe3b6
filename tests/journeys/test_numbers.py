"""A number opens by touch and by key: in the visit while it is typed, and in the caseload."""

import re

import pytest
from playwright.sync_api import Page, expect

from outcomes.services import status
from tests.cast import Cast
from tests.journeys.browser import let_in, untidy
from tests.journeys.ledger import open_ledger
from tests.outcomes.paper import open_visit
from tests.outcomes.story import week_15

pytestmark = pytest.mark.journey


def test_a_typed_number_opens_by_touch_and_stays_open(tablet: Page, cast: Cast) -> None:
    week_15(cast)
    ledger = open_ledger(tablet, cast, open_visit(cast))
    ledger.type(Flexion__left="142", Flexion__right="130")
    opener = ledger.says("Flexion").locator("summary")
    expect(opener).to_contain_text("12° short")
    opener.tap()
    worked = ledger.says("Flexion").get_by_text("right − left = 130 − 142")
    expect(worked).to_be_visible()
    ledger.type(Flexion__right="135")
    expect(ledger.says("Flexion").get_by_text("right − left = 135 − 142")).to_be_visible()
    assert untidy(tablet) == []


def test_a_number_of_the_caseload_opens_below_its_row_by_key(desktop: Page, cast: Cast) -> None:
    week_15(cast)
    status.rejudge_due(site_ids=[cast.harbour.pk])
    let_in(desktop, cast.lead)
    desktop.goto("/caseload/")
    number = desktop.get_by_role("link", name="77 %")
    number.press("Enter")
    below = desktop.get_by_role("row").filter(has_text="121.0 ÷ 158.0 × 100 = 76.58 %")
    expect(below).to_be_visible()
    expect(desktop).to_have_url(re.compile("/caseload/$"))
    desktop.get_by_role("link", name="week 15").press("Enter")
    expect(desktop.get_by_text("105 days ÷ 7 = 15 weeks")).to_be_visible()
    assert untidy(desktop) == []
    desktop.get_by_role("link", name="Ines Marlow").click()
    expect(desktop).to_have_url(re.compile("/patients/"))
