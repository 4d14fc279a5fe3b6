"""The patient page: how a number came about, milestones, the course, decisions, two knees."""

import re
from datetime import date

import pytest
from playwright.sync_api import Page, expect

from outcomes.models.record import Decision
from tests.cast import MOMENT, Cast
from tests.factories.clinic import EpisodeFactory, SurgeryFactory
from tests.journeys.browser import Watcher, let_in, press, untidy
from tests.journeys.ledger import expected_today, open_ledger
from tests.outcomes.story import week_15

pytestmark = pytest.mark.journey


@pytest.fixture(params=["tablet", "desktop"])
def page(request: pytest.FixtureRequest, cast: Cast) -> Page:
    """Ines' page at week 15, on the tablet and at a desk."""
    week_15(cast)
    window: Page = request.getfixturevalue(request.param)
    let_in(window, cast.clinician)
    window.goto(f"/patients/{cast.ines.uid}/")
    return window


def test_a_number_a_milestone_and_the_course_can_be_opened(page: Page) -> None:
    row = page.get_by_role("row").filter(has_text="Quadriceps, N·m")
    expect(row.get_by_text("121.0 ÷ 158.0")).to_be_hidden()
    row.locator("summary").click()
    expect(row.get_by_text("121.0 ÷ 158.0")).to_be_visible()
    expect(row.get_by_text("25 Nov 2026").first).to_be_visible()
    page.locator("summary", has_text="Hopping and landing").click()
    hopping = page.get_by_role("article").filter(has_text="Not before week 16")
    asks = "Not met, borderline: repeat. Quadriceps symmetry 77 %, asks at least 80 %."
    expect(hopping.get_by_text(asks)).to_be_visible()

    chart = page.get_by_role("figure", name="Quadriceps symmetry rises 17 points in 9 weeks")
    expect(chart.locator(".drawn-by-script .main-svg").first).to_be_visible()
    chart.get_by_text("The same as a table").click()
    expect(chart.get_by_role("row", name=re.compile("week 15"))).to_contain_text("158.0 N·m")
    page.get_by_role("link", name="Extension", exact=True).click()
    course = page.get_by_role("region", name="Course")
    expect(course.get_by_role("figure", name=re.compile("^Extension"))).to_be_visible()
    expect(course.locator(".drawn-by-script .main-svg").first).to_be_visible()
    assert untidy(page) == []


def test_a_decision_is_recorded_with_its_evidence_and_withdrawn(
    page: Page, cast: Cast, watcher: Watcher
) -> None:
    watcher.expect("status of 422")
    page.get_by_role("link", name="Record a decision").click()
    page.get_by_text("goes ahead", exact=True).click()
    page.get_by_label("What was agreed").fill("run and walk on grass, ten minutes")
    page.get_by_text("the patient", exact=True).click()
    page.get_by_text("the surgeon", exact=True).click()
    press(page, "Record the decision")
    expect(page.get_by_role("link", name="Why it goes ahead")).to_be_visible()
    assert untidy(page) == []
    expect(page.get_by_label("What was agreed")).to_have_value("run and walk on grass, ten minutes")
    page.get_by_label("Why it goes ahead").fill("pain was asked by phone")
    page.get_by_label("Which risk was talked about").fill("swelling the next morning")
    page.get_by_label("Look at it again on").fill("2026-12-09")
    press(page, "Record the decision")
    decision = page.get_by_role("article").filter(has_text="run and walk on grass")
    expect(decision).to_contain_text("Tess Okafor")
    decision.get_by_text("The evidence as it stood").click()
    expect(decision.get_by_text("Quadriceps symmetry 77 %, asks at least 70 %")).to_be_visible()
    decision.locator("summary", has_text="Withdraw").click()
    decision.get_by_label("Why it is withdrawn").fill("recorded for the wrong knee")
    press(page, "Withdraw the decision")
    expect(decision).to_contain_text("recorded for the wrong knee")
    expect(decision.get_by_role("button", name="Withdraw the decision")).to_have_count(0)
    assert untidy(page) == []
    assert Decision.objects.filter(kind="made").get().decided_by == cast.clinician


def test_two_knees_are_followed_at_once(page: Page, cast: Cast) -> None:
    second = EpisodeFactory(
        patient=cast.ines, site=cast.harbour, responsible=cast.clinician, knee="left",
        other_limb="earlier_surgery", injury_date=date(2026, 9, 10), opened_on=date(2026, 9, 20),
    )  # fmt: skip
    SurgeryFactory(episode=second, date=date(2026, 10, 7), recorded_by=cast.clinician)
    page.reload()
    for words in ("Left knee, week 7", "Right knee, week 15"):
        expect(page.get_by_role("heading", name=words)).to_be_visible()
    status = page.get_by_role("table", name="The newest value of each measure")
    expect(status.get_by_role("columnheader")).to_contain_text(["operated", "", "operated"])
    quadriceps = status.get_by_role("row").filter(has_text="Quadriceps")
    expect(quadriceps).to_contain_text("symmetry not assessable: both knees are followed")
    expect(quadriceps).not_to_contain_text("77 %")
    assert untidy(page) == []

    ledger = open_ledger(page, cast, expected_today(cast, state="open", opened_at=MOMENT))
    heads = page.locator(".ledger-heads")
    expect(heads.locator(".left")).to_contain_text("operated, week 7")
    expect(heads.locator(".right")).to_contain_text("operated, week 15")
    ledger.type(Flexion__left="140", Flexion__right="136")
    expect(ledger.says("Flexion")).to_contain_text("Symmetry not assessable")
    press(page, "Sign visit")
    expect(page.get_by_role("link", name="140°")).to_be_visible()
