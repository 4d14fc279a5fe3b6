"""The clinic lead at the desk: the caseload, a reason answered, symmetry, the file, a colleague."""

import csv
from collections.abc import Callable
from datetime import date, timedelta

import pytest
from playwright.sync_api import Locator, Page, expect

from clinic.models.people import RecordNumber
from clinic.models.places import Membership
from outcomes.models.record import LookAnswer
from tests.cast import MOMENT, TODAY, Cast
from tests.journeys.browser import Watcher, let_in, press, untidy
from tests.journeys.wall_clock import WallClock
from tests.outcomes.followed import follow
from tests.outcomes.story import WEEK_12, signed

pytestmark = pytest.mark.journey
SHORT = "Extension 6° short"


@pytest.fixture
def lead(desktop: Page, cast: Cast) -> Page:
    """The lead's screen on the caseload: Ines and two more."""
    signed(cast, WEEK_12, quadriceps_torque=(156, 109), knee_extension=(0, 8))
    signed(cast, TODAY, quadriceps_torque=(158, 121), knee_extension=(0, 6))
    petra = follow(
        cast, "Petra Solvang", index_date=date(2026, 3, 4), graft="patellar_tendon",
        quadriceps_lsi="89.95", quadriceps_on=date(2026, 11, 4),
        quadriceps_until=date(2026, 12, 16),
    )  # fmt: skip
    RecordNumber.objects.create(site=cast.harbour, patient=petra.patient, number="=1+1")
    follow(cast, "Otto Verne", index_date=date(2026, 10, 7))
    let_in(desktop, cast.lead)
    desktop.goto("/")
    return desktop


def names(page: Page) -> Locator:
    return page.get_by_role("table", name="Caseload").get_by_role("rowheader")


def show(page: Page, filter_name: str, choice: str) -> None:
    page.get_by_label(filter_name, exact=True).select_option(choice)


def test_the_list_is_filtered_and_sorted_without_a_name_in_the_address(lead: Page) -> None:
    expect(names(lead)).to_contain_text(["Ines Marlow", "Otto Verne", "Petra Solvang"])
    row = lead.get_by_role("row").filter(has_text="Petra Solvang")
    expect(row).to_contain_text("Running: 4 of 7 recorded as met, 1 not tested")
    assert untidy(lead) == []
    show(lead, "Order", "earliest week first")
    expect(names(lead)).to_contain_text(["Otto Verne", "Ines Marlow", "Petra Solvang"])
    show(lead, "Week", "week 12 to 25")
    expect(names(lead)).to_contain_text(["Ines Marlow"])
    expect(lead.get_by_role("status")).to_contain_text("1 to 1 of 1")
    show(lead, "Week", "any week")
    expect(names(lead)).to_have_count(3)
    show(lead, "Graft", "patellar tendon")
    expect(names(lead)).to_contain_text(["Petra Solvang"])
    expect(lead.get_by_text("1 to 1 of 1").first).to_be_visible()
    assert "Solvang" not in lead.url
    assert "graft=patellar_tendon" in lead.url
    lead.reload()
    expect(names(lead)).to_contain_text(["Petra Solvang"])


def test_an_answered_reason_goes_and_comes_back_when_it_is_due(
    lead: Page, cast: Cast, wall_clock: WallClock
) -> None:
    row = lead.get_by_role("row").filter(has_text="Ines Marlow")
    row.get_by_role("link", name=SHORT).click()
    opened = lead.get_by_role("article").filter(has_text=SHORT)
    expect(opened.get_by_text("right, lacks 6°")).to_be_visible()
    opened.get_by_label("Plan").fill("heel prop daily, measured each visit")
    opened.get_by_text("in 2 weeks").click()
    assert untidy(lead) == []
    opened.get_by_role("button", name="Seen, with this plan").click()
    expect(lead.get_by_role("status")).to_contain_text("Look again on 9 Dec 2026")
    expect(opened).to_contain_text("it returns when it is worse or due")

    lead.reload()
    expect(names(lead)).to_have_count(3)
    expect(row).not_to_contain_text(SHORT)
    wall_clock.hold(MOMENT + timedelta(days=13))
    let_in(lead, cast.lead)
    lead.reload()
    expect(names(lead)).to_have_count(3)
    expect(lead.get_by_text(SHORT)).to_have_count(0)
    wall_clock.hold(MOMENT + timedelta(days=14))
    let_in(lead, cast.lead)
    lead.reload()
    row.get_by_role("link", name=SHORT).click()
    expect(opened).to_contain_text("heel prop daily, measured each visit")
    expect(opened.get_by_role("button", name="Seen, with this plan")).to_be_visible()
    assert LookAnswer.objects.get().answered_by == cast.lead


def test_symmetry_against_the_week_is_drawn_and_written(lead: Page) -> None:
    lead.get_by_role("link", name="Symmetry against the week").click()
    chart = lead.get_by_role("figure")
    expect(chart.locator(".drawn-by-script .main-svg").first).to_be_visible()
    chart.get_by_text("The same as a table").click()
    expect(chart.get_by_role("row").filter(has_text="77 %")).to_have_count(1)
    assert untidy(lead) == []
    lead.get_by_role("link", name="Single hop").click()
    expect(lead.get_by_text("Not drawn:")).to_contain_text("not tested")


def test_what_is_seen_is_saved_as_a_typed_file(lead: Page) -> None:
    show(lead, "Graft", "patellar tendon")
    expect(names(lead)).to_have_count(1)
    with lead.expect_download() as waiting:
        lead.get_by_role("button", name="Save as CSV").click()
    with waiting.value.path().open(encoding="utf-8-sig", newline="") as file:
        (row,) = csv.DictReader(file)
    wanted = {
        "patient": "Petra Solvang", "record_number": "'=1+1", "index_date": "2026-03-04",
        "quadriceps_lsi": "89.9500", "quadriceps_lsi_unit": "%", "as_of": "2026-11-25",
    }  # fmt: skip
    assert {name: row[name] for name in wanted} == wanted


def test_a_colleague_comes_by_a_link_that_works_once(
    lead: Page, open_window: Callable[..., Page], cast: Cast, watcher: Watcher
) -> None:
    lead.get_by_role("link", name="Clinic", exact=True).click()
    lead.get_by_role("link", name="Invite").click()
    lead.get_by_label("Full name").fill("Nadia Brook")
    lead.get_by_label("Role").select_option("clinician")
    press(lead, "Make the link")
    link = lead.get_by_label("It is shown only now").input_value()
    assert untidy(lead) == []

    hers = open_window(viewport={"width": 820, "height": 1180}, has_touch=True)
    hers.goto(link)
    assert untidy(hers) == []
    hers.get_by_label("Username").fill("nadia")
    hers.get_by_label("Password, at least").fill("kettle orbit velvet marsh")
    hers.get_by_label("The same password again").fill("kettle orbit velvet marsh")
    press(hers, "Keep this sign-in")
    expect(hers.get_by_text("You can sign in now.")).to_be_visible()
    hers.get_by_label("Username").fill("nadia")
    hers.get_by_label("Password").fill("kettle orbit velvet marsh")
    press(hers, "Sign in", exact=True)
    expect(hers.get_by_text("Harbour Street, clinician")).to_be_visible()
    held = Membership.objects.get(staff__username="nadia")
    assert (held.site, held.role) == (cast.harbour, "clinician")

    watcher.expect("status of 4(04|10|22)")
    again = open_window(viewport={"width": 820, "height": 1180})
    again.goto(link)
    expect(again.get_by_role("button", name="Keep this sign-in")).to_have_count(0)
    expect(again.get_by_role("heading", level=1)).to_be_visible()
