"""A lead copies a protocol, changes a threshold, publishes it, and moves an episode to it."""

import re

import pytest
from playwright.sync_api import Page, expect

from clinic.models.care import Episode
from outcomes.models.versions import ProtocolVersion
from tests.cast import Cast
from tests.journeys.browser import let_in, press, untidy
from tests.outcomes.own_protocol import own_version
from tests.outcomes.story import week_15

pytestmark = pytest.mark.journey


@pytest.fixture(params=["desktop", "without_script"])
def desk(request: pytest.FixtureRequest) -> Page:
    """The lead's screen; the pages work without JavaScript too."""
    page: Page = request.getfixturevalue(request.param)
    return page


def publish(page: Page) -> None:
    """From the clinic page to a published version with 60 % for running."""
    page.goto("/clinic/")
    page.get_by_role("link", name="Protocols").click()
    page.get_by_role("link", name=re.compile("Starter protocol.*version 2")).click()
    page.get_by_label("Name of the copy").fill("Harbour")
    press(page, "Copy and edit")
    page.get_by_role("link", name=re.compile("Edit.*Running")).click()
    asked = page.locator("#c-quadriceps")
    asked.locator("summary").first.click()
    asked.get_by_label("Asks at least, in %").fill("60")
    press(page, "Save the milestone")
    expect(page.get_by_text("asks at least 60 %, was at least 70 %.")).to_be_visible()
    page.get_by_label("What changed, in a line").fill("Sixty for running")
    press(page, "Publish version 1")
    expect(page.get_by_role("heading", name="Harbour, version 1")).to_be_visible()


def test_a_protocol_is_copied_edited_published_and_an_episode_moved_to_it(
    desk: Page, cast: Cast
) -> None:
    week_15(cast)
    let_in(desk, cast.lead)
    publish(desk)
    assert str(ProtocolVersion.objects.get(origin="clinic")) == "own_harbour@1"

    desk.goto(f"/patients/{cast.ines.uid}/")
    desk.get_by_role("link", name="Move to another protocol").click()
    desk.get_by_role("link", name=re.compile("Choose.*Harbour")).click()
    expect(desk.get_by_role("checkbox", name="Ines Marlow")).to_be_checked()
    press(desk, "Show the difference for those ticked")
    changed = desk.get_by_role("row").filter(has_text="Quadriceps symmetry at least 60 %")
    expect(changed).to_contain_text("Recorded as met (asks at least 60 %)")
    assert Episode.objects.get().protocol == "starter@2"
    desk.get_by_label("Why they are moved").fill("Our own threshold")
    press(desk, "Move 1 episode")
    expect(desk.get_by_text("1 episode follows it.")).to_be_visible()
    assert Episode.objects.get().protocol == "own_harbour@1"


def test_the_difference_is_tidy_on_a_phone(phone: Page, cast: Cast) -> None:
    week_15(cast)
    own_version(cast, quadriceps="90")
    let_in(phone, cast.lead)
    phone.goto("/protocols/own_harbour-1/episodes")
    press(phone, "Show it for all of them")
    expect(phone.get_by_role("heading", name="Ines Marlow")).to_be_visible()
    assert untidy(phone) == []
