"""The two written visits, performed on the tablet: how many taps and keys, and what is signed."""

from datetime import timedelta
from uuid import uuid4

import pytest
from playwright.sync_api import Page, expect

from clinic.models.care import Surgery
from clinic.permissions import Actor
from outcomes.management.bench import scenarios
from outcomes.management.bench.hand import Hand
from outcomes.management.bench.scenarios import FULL, SHORT, Scenario
from tests.cast import TODAY, Cast
from tests.journeys.browser import let_in

pytestmark = pytest.mark.journey


@pytest.mark.parametrize("scenario", [SHORT, FULL], ids=["short", "full"])
def test_a_written_visit_is_logged_within_its_taps_and_keys(
    tablet: Page, cast: Cast, scenario: Scenario
) -> None:
    Surgery.objects.update(date=TODAY - timedelta(weeks=scenario.week))
    actor = Actor(staff_id=cast.clinician.pk, site_id=cast.harbour.pk, request_id=uuid4())
    before = TODAY - timedelta(days=21)
    scenarios.seen_before(actor=actor, episode=cast.episode, on=before)
    visit = scenarios.opened(actor=actor, episode=cast.episode, on=TODAY)
    let_in(tablet, cast.clinician)
    tablet.goto(f"/visits/{visit.uid}/")
    hand = Hand(page=tablet, scrolls=scenario.scrolls)
    assert hand.perform(scenario.script) <= scenario.most
    expect(tablet.get_by_text("Signed")).not_to_have_count(0)
    found, around = scenarios.signed_in(visit)
    assert found == scenario.signed
    asked = dict.fromkeys(around[2], False)
    assert around == ("signed", "four", asked, "")
