"""The visit form as plain POST: a browser without JavaScript types, saves, errs and signs."""

import pytest
from playwright.sync_api import Page, expect

from outcomes.models.record import Reading
from tests.cast import MOMENT, Cast
from tests.journeys.browser import Watcher, press
from tests.journeys.ledger import Ledger, expected_today, open_ledger, record

pytestmark = pytest.mark.journey


@pytest.fixture
def ledger(without_script: Page, cast: Cast) -> Ledger:
    """Ines' open visit in a browser without JavaScript."""
    record(cast)
    visit = expected_today(cast, state="open", opened_at=MOMENT)
    return open_ledger(without_script, cast, visit)


def opened(ledger: Ledger, row: str, what: str) -> None:
    ledger.touch(ledger.row(row).locator("summary", has_text=what).first)


def test_typed_saved_put_right_and_signed(ledger: Ledger, watcher: Watcher) -> None:
    page = ledger.page
    ledger.type(Flexion__left="142", Flexion__right="1.32,5")
    ledger.choose("Extension, left", "straight")
    ledger.choose("Extension, right", "beyond straight")
    ledger.type(Extension__right="2")
    ledger.field("Quadriceps, left, trial 1").fill("158")
    ledger.field("Quadriceps, right, trial 1").fill("121")
    press(page, "Save draft")
    expect(ledger.field("Flexion, right")).to_have_value("1.32,5")
    expect(ledger.row("Flexion")).to_contain_text("Type one decimal mark, comma or point")
    expect(ledger.foot).to_contain_text("Draft saved 09:00")

    watcher.expect("status of 422")
    press(page, "Sign visit")
    expect(page.get_by_role("heading", name="Not signed yet")).to_be_visible()
    expect(page.get_by_role("link", name="Flexion, right: Type one decimal mark")).to_be_visible()
    expect(ledger.field("Flexion, left")).to_have_value("142")
    ledger.type(Flexion__right="132")
    press(page, "Same conditions as last time")
    expect(ledger.says("Quadriceps")).to_contain_text("77 %")
    expect(ledger.says("Quadriceps").locator("svg").first).to_be_visible()
    press(page, "Sign visit")
    expect(page.get_by_role("link", name="2° beyond straight")).to_be_visible()
    today = Reading.objects.filter(visit__signed_at=MOMENT)
    assert sorted(today.values_list("measure", "limb", "typed_text")) == [
        ("knee_extension", "left", "straight"),
        ("knee_extension", "right", "beyond 2"),
        ("knee_flexion", "left", "142"),
        ("knee_flexion", "right", "132"),
        ("quadriceps_torque", "left", "158"),
        ("quadriceps_torque", "right", "121"),
    ]


def test_a_second_test_of_a_measure_is_added_and_kept(ledger: Ledger) -> None:
    ledger.choose("Effusion, right", "trace")
    press(ledger.page, "Save draft")
    opened(ledger, "Effusion", "more")
    press(ledger.page, "again after testing")
    before = ledger.row("Effusion before testing")
    expect(before.get_by_role("radio", name="trace")).to_be_checked()
    after = ledger.row("Effusion after testing")
    after.get_by_role("radio", name="1+").check()
    press(ledger.page, "Sign visit")
    today = Reading.objects.filter(visit__signed_at=MOMENT)
    assert dict(today.values_list("comparison_key", "typed_text")) == {
        "moment=before": "trace", "moment=after": "1+",
    }  # fmt: skip
