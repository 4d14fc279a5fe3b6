"""A lead adds a measure, a clinician logs it, it is retired, and stays where used."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from outcomes.models.versions import MeasureVersion
from tests.cast import Cast
from tests.journeys.browser import Watcher, let_in, press, untidy
from tests.journeys.ledger import Ledger
from tests.outcomes.paper import open_visit

pytestmark = pytest.mark.journey
KEPT = "This clinic’s own, no published error"


@pytest.fixture(params=["desktop", "without_script"])
def desk(request: pytest.FixtureRequest) -> Page:
    """The lead's screen; the pages work without JavaScript too."""
    page: Page = request.getfixturevalue(request.param)
    return page


def fill_in(page: Page) -> None:
    """A hold on a step: two trials, the best counts, under one condition."""
    page.get_by_label("Name in full").fill("Step hold on toes")
    page.get_by_label("Short name").fill("Toe hold")
    page.get_by_text("a number", exact=True).click()
    page.get_by_label("Unit", exact=False).first.select_option("s")
    page.get_by_text("each limb", exact=True).click()
    page.get_by_label("Which way is better").select_option("higher")
    page.get_by_text("index in %", exact=True).click()
    page.get_by_label("Lowest possible value").fill("0")
    page.get_by_label("Highest possible value").fill("60")
    page.get_by_label("Digits after").fill("1")
    page.get_by_label("When to use it").fill("From week 6.")
    page.get_by_label("How to do it").fill("Other leg first.")
    page.get_by_label("How to read it").fill("Compare the two sides.")
    page.get_by_label("Condition 1", exact=False).first.fill("shoes")
    page.get_by_label("Choices of condition 1").fill("on\noff")


def add(page: Page, cast: Cast) -> None:
    """The lead's way from the clinic page to the kept measure, past the preview."""
    let_in(page, cast.lead)
    page.goto("/clinic/")
    page.get_by_role("link", name="Measures").click()
    page.get_by_role("link", name="Add a measure").click()
    fill_in(page)
    press(page, "See how it looks")
    preview = page.get_by_role("region", name="How it looks in a visit")
    expect(preview.get_by_role("heading", name="Toe hold")).to_be_visible()
    expect(page.get_by_label("Code")).to_have_value("own_step_hold_on_toes")
    assert not MeasureVersion.objects.filter(origin="clinic").exists()
    press(page, "Save the measure")
    expect(page.get_by_role("rowheader", name="Step hold on toes")).to_be_visible()


def log(page: Page, cast: Cast) -> str:
    """The clinician adds it to a visit, types both limbs and signs; the visit's address."""
    visit = open_visit(cast)
    let_in(page, cast.clinician)
    page.goto(f"/visits/{visit.uid}/")
    ledger = Ledger(page)
    ledger.touch(page.get_by_role("link", name="Add a measure"))
    page.get_by_label("Find a measure").fill("toe")
    page.get_by_role("button", name="Toe hold").click()
    expect(ledger.row("Toe hold")).to_be_visible()
    ledger.row("Toe hold").locator("summary", has_text="more").click()
    ledger.choose("shoes", "off")
    ledger.type(Toe_hold__left="30", Toe_hold__right="24.5")
    expect(ledger.says("Toe hold")).to_contain_text("82 %")
    ledger.touch(page.get_by_text("I asked all four: none"))
    press(page, "Sign visit")
    return f"/visits/{visit.uid}/"


def test_the_preview_is_tidy_on_a_phone(phone: Page, cast: Cast) -> None:
    let_in(phone, cast.lead)
    phone.goto("/clinic/measures/new")
    fill_in(phone)
    press(phone, "See how it looks")
    expect(phone.get_by_role("region", name="How it looks in a visit")).to_be_visible()
    assert untidy(phone) == []


def test_an_own_measure_is_added_logged_seen_retired_and_still_seen(
    desk: Page, open_window: Callable[..., Page], cast: Cast, watcher: Watcher
) -> None:
    add(desk, cast)
    tablet = open_window(viewport={"width": 820, "height": 1180}, has_touch=True)
    visit = log(tablet, cast)

    desk.goto("/clinic/measures/")
    group = desk.locator("details.add-group").filter(has_text="Step hold on toes")
    group.locator("summary").first.click()
    row = desk.get_by_role("row").filter(has_text="Step hold on toes")
    expect(row.get_by_text("2", exact=True)).to_be_visible()
    row.get_by_role("button", name="Retire").click()
    expect(row.get_by_text("retired", exact=True)).to_be_visible()
    expect(row.get_by_role("button", name="Switch on")).to_be_visible()

    tablet.goto(f"/patients/{cast.ines.uid}/")
    seen = tablet.get_by_role("row").filter(has_text="Toe hold")
    expect(seen).to_contain_text("24.5")
    seen.locator("summary").click()
    expect(seen.get_by_text(KEPT)).to_be_visible()
    tablet.goto(visit)
    expect(tablet.get_by_text("Toe hold").first).to_be_visible()

    another = open_visit(cast)
    tablet.goto(f"/visits/{another.uid}/")
    tablet.get_by_role("link", name="Add a measure").click()
    find = tablet.get_by_label("Find a measure")
    find.fill("single hop")
    expect(tablet.get_by_role("button", name="Single hop").first).to_be_visible()
    find.fill("o")
    expect(tablet.get_by_role("button", name="Single hop").first).to_be_visible()
    expect(tablet.get_by_role("button", name="Toe hold")).to_have_count(0)
