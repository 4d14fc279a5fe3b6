"""The front desk's morning: find, register, book, mark; and no measurement anywhere."""

import re

import pytest
from playwright.sync_api import Page, expect

from clinic.models.care import Surgery, Visit
from clinic.models.people import Patient
from tests.cast import TODAY, Cast
from tests.journeys.browser import Watcher, let_in, press, untidy
from tests.outcomes.story import signed

pytestmark = pytest.mark.journey


@pytest.fixture
def desk(desktop: Page, cast: Cast) -> Page:
    """The desk's screen, signed in, on the page the day begins with."""
    let_in(desktop, cast.desk)
    desktop.goto("/")
    return desktop


def find(page: Page, text: str) -> None:
    page.get_by_label("Name, record number or birth date").fill(text)
    press(page, "Find")


def choose(page: Page, question: str | re.Pattern[str], answer: str) -> None:
    page.get_by_role("group", name=question).get_by_label(answer, exact=True).check()


def fill_in(page: Page, **more: str) -> None:
    """What the referral says; the graft and what else was done are not in it."""
    typed = {
        "Name": "Ida Brandvold", "Birth date": "1998-02-11", "Record number": "H-0500",
        "Date of the injury": "2026-09-30",
    } | more  # fmt: skip
    for label, text in typed.items():
        page.get_by_label(label, exact=True).fill(text)
    choose(page, "Sex", "female")
    choose(page, "Knee", "left")
    choose(page, "Kind", "reconstruction")
    choose(page, "Other limb", "healthy")
    choose(page, "Goal", "pivoting or contact sport")
    choose(page, "Operation", "performed")
    page.get_by_label("Date", exact=True).fill("2026-11-10")
    choose(page, re.compile("^Graft$"), "unknown, asked")
    choose(page, "Graft taken from", "unknown, asked")
    page.get_by_label("Graft unknown, asked on").fill(str(TODAY))
    choose(page, "What else was done", "unknown, asked")
    page.get_by_label("What else was done unknown, asked on").fill(str(TODAY))


def test_a_patient_with_an_unknown_graft_is_found_registered_booked_and_arrives(
    desk: Page,
) -> None:
    assert untidy(desk) == []
    find(desk, "Ida Brandvold")
    expect(desk.get_by_text("Nobody at your sites fits.")).to_be_visible()
    desk.get_by_role("link", name="Register a patient").click()
    fill_in(desk)
    assert untidy(desk) == []
    press(desk, "Register")
    expect(desk.get_by_role("heading", name="Ida Brandvold")).to_be_visible()
    expect(desk.get_by_text("Still unknown:")).to_contain_text("graft")
    assert untidy(desk) == []
    desk.get_by_role("link", name="Book a visit").click()
    desk.get_by_label("Date", exact=True).fill(str(TODAY))
    desk.get_by_label("Time").fill("10:30")
    desk.get_by_label("With").select_option("Tess Okafor")
    press(desk, "Book the visit")
    desk.get_by_role("link", name="Today", exact=True).click()
    row = desk.get_by_role("row").filter(has_text="Ida Brandvold")
    expect(row).to_contain_text("left knee, week 2")
    row.get_by_role("button", name="Arrived").click()
    expect(row).to_contain_text("arrived 09:00")
    expect(desk.get_by_text("0 expected, 1 here")).to_be_visible()
    assert Visit.objects.get().state == "arrived"
    kept = Surgery.objects.latest("pk")
    assert (kept.graft, kept.graft_asked_on, kept.procedures_asked_on) == ("unknown", TODAY, TODAY)


def test_somebody_alike_is_shown_before_anything_is_saved(desk: Page, watcher: Watcher) -> None:
    watcher.expect("status of 422")
    desk.goto("/patients/new")
    fill_in(desk, **{"Name": "Inès Marlow", "Birth date": "2001-05-03"})
    press(desk, "Register")
    warning = desk.get_by_role("heading", name="Is this one of them?")
    expect(warning).to_be_visible()
    expect(desk.get_by_role("row").filter(has_text="Ines Marlow")).to_contain_text("H-0412")
    assert untidy(desk) == []
    assert Patient.objects.count() == 1
    desk.get_by_label("I compared them: this is another person.").check()
    press(desk, "Register")
    expect(desk.get_by_role("heading", name="Inès Marlow")).to_be_visible()
    assert Patient.objects.count() == 2


def test_the_desk_sees_no_measurement(desk: Page, cast: Cast, watcher: Watcher) -> None:
    """Ines' torques are 157.3 and 88.4, and her red flag of today was asked."""
    visit = signed(cast, TODAY, quadriceps_torque=("157.3", "88.4"))
    pages = ["/today/", "/patients/", f"/patients/{cast.ines.uid}/person", "/referrers/"]
    for address in pages:
        desk.goto(address)
        if address == "/patients/":
            find(desk, "Marlow")
        expect(desk.locator("main")).not_to_contain_text("157")
        assert "88.4" not in desk.content()
        assert desk.get_by_role("link", name="Caseload").count() == 0
    watcher.expect("status of 403")
    for address in (f"/patients/{cast.ines.uid}/", f"/visits/{visit.uid}/", "/caseload/"):
        desk.goto(address)
        expect(desk.get_by_role("heading", name="Not part of your role")).to_be_visible()
        assert "157" not in desk.content()
