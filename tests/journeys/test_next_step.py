"""The next step on a tablet: set a level, accept a proposal by one touch, show the patient."""

from datetime import timedelta

import pytest
from playwright.sync_api import Locator, Page, expect

from outcomes.models.plans import PlanStep
from tests.cast import TODAY, Cast
from tests.factories.outcomes import PlanStepFactory
from tests.journeys.browser import let_in, untidy
from tests.outcomes.planned import good

pytestmark = pytest.mark.journey


def tap(part: Locator, name: str) -> None:
    """Touch a button of a part and wait for the page it leads to."""
    with part.page.expect_navigation():
        part.get_by_role("button", name=name).tap()


def test_a_level_is_set_a_step_accepted_and_the_patient_shown_why(tablet: Page, cast: Cast) -> None:
    good(cast)
    PlanStepFactory(episode=cast.episode, since=TODAY - timedelta(days=21))
    let_in(tablet, cast.clinician)
    tablet.goto(f"/patients/{cast.ines.uid}/")
    tablet.get_by_text("Next step", exact=False).first.tap()
    tablet.get_by_role("link", name="Proposals and plan").tap()
    hip = tablet.get_by_role("region", name="Hip control")
    expect(hip).to_contain_text("Progress: Standing hip hold without a hand")
    assert untidy(tablet) == []

    tablet.get_by_text("Set the level it stands at, Quadriceps loading").tap()
    thigh = tablet.get_by_role("region", name="Quadriceps loading")
    thigh.get_by_label("Level").select_option("Squat or leg press on both legs")
    thigh.get_by_label("Sets").fill("4")
    assert untidy(tablet) == []
    tap(thigh, "Keep this plan")
    expect(thigh).to_contain_text("Plan: Squat or leg press on both legs, 4 sets of 10 repetitions")

    tap(hip, "Accept")
    expect(hip).to_contain_text("Plan: Standing hip hold without a hand, 3 sets of 15 s")
    expect(hip).to_contain_text("Answered at this visit")
    hip.get_by_role("link", name="Show the patient").tap()
    expect(tablet.get_by_role("heading", level=1)).to_have_text("Standing hip hold without a hand")
    expect(tablet.get_by_role("navigation")).to_have_count(0)
    assert untidy(tablet) == []
    tablet.get_by_role("link", name="Close").tap()
    expect(hip).to_be_visible()
    assert [(row.answer, row.move) for row in PlanStep.objects.order_by("pk")] == [
        ("set", "begun"), ("set", "begun"), ("accepted", "progress"),
    ]  # fmt: skip
