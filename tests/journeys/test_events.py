"""An event on a tablet: recorded by touch, seen beside the course, corrected, withdrawn."""

import re

import pytest
from playwright.sync_api import Page, expect

from outcomes.models.events import Event
from tests.cast import Cast
from tests.journeys.browser import let_in, untidy
from tests.outcomes.story import week_15

pytestmark = pytest.mark.journey


def tap(page: Page, name: str) -> None:
    """Touch a button and wait for the page it leads to."""
    with page.expect_navigation():
        page.get_by_role("button", name=name, exact=True).tap()


def test_a_giving_way_is_recorded_seen_corrected_and_withdrawn(tablet: Page, cast: Cast) -> None:
    week_15(cast)
    let_in(tablet, cast.clinician)
    home = f"/patients/{cast.ines.uid}/"
    tablet.goto(home)
    tablet.get_by_role("link", name="Record an event, history").tap()
    tablet.get_by_role("link", name="giving way", exact=True).tap()
    tablet.get_by_label("Day").fill("2026-11-20")
    tablet.get_by_label("Note").fill("turning on the stairs")
    assert untidy(tablet) == []
    tap(tablet, "Record: giving way")
    row = tablet.get_by_role("row").filter(has_text="20 Nov 2026")
    expect(row).to_contain_text("turning on the stairs")

    tablet.goto(home)
    events = tablet.get_by_role("region", name="Events")
    expect(events.get_by_role("listitem")).to_have_text(
        re.compile("20 Nov 2026 .*giving way, right")
    )
    look = tablet.get_by_text("Knee gave way (20 Nov 2026): look at it this week")
    expect(look.first).to_be_visible()
    chart = tablet.get_by_role("figure", name=re.compile("^Quadriceps symmetry"))
    chart.get_by_text("The same as a table").tap()
    expect(chart.get_by_role("row").filter(has_text="gave way")).to_contain_text("20 Nov 2026")

    events.get_by_role("link", name="Record an event, history").tap()
    row.get_by_role("link").tap()
    tablet.get_by_label("Day").fill("2026-11-19")
    tablet.get_by_label("Why it is corrected").fill("a day earlier")
    tap(tablet, "Save the correction")
    expect(tablet.get_by_role("row").filter(has_text="a day earlier")).to_contain_text("19 Nov")
    tablet.get_by_label("Why it is withdrawn").fill("the other person")
    tap(tablet, "Withdraw")

    tablet.goto(home)
    expect(tablet.get_by_role("region", name="Events")).to_contain_text("None on record.")
    expect(look).to_have_count(0)
    assert [row.kind for row in Event.objects.order_by("pk")] == [
        "entered", "corrected", "withdrawn",
    ]  # fmt: skip
