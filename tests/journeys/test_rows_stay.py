"""No row moves under the finger, whatever is said of an answer, and no word of it is lost."""

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.cast import Cast
from tests.journeys.browser import Watcher, crowded, untidy
from tests.journeys.ledger import Ledger
from tests.journeys.test_taps import TOPS, begun

pytestmark = pytest.mark.journey
HEIGHTS = "(one) => [one.clientHeight, one.scrollHeight]"
SWAPPED = "Left and right swapped? Look at both values again."
UNUSUAL = "40° is outside what is usual (60 to 155°). Check it, or give the reason."
HOLDS = "Standing hip hold"


def cut(what: Locator) -> bool:
    """Whether a line of its words is not seen; the ends of letters reach out of a line."""
    shown, whole = what.evaluate(HEIGHTS)
    return bool(whole > shown + 9)


def flexion_says(ledger: Ledger) -> Locator:
    return ledger.row("Flexion").locator(".left .says")


@pytest.mark.parametrize("window", ["tablet", "phone", "desktop"])
def test_no_row_moves_for_what_is_said_of_an_answer(
    window: str, cast: Cast, request: pytest.FixtureRequest, watcher: Watcher
) -> None:
    """Red flags, refused, unusual and swapped numbers, three lines of words, no network."""
    watcher.expect("ERR_INTERNET_DISCONNECTED|htmx:|fetching the script")
    page: Page = request.getfixturevalue(window)
    ledger = begun(page, cast, week=15)
    ledger.touch(page.get_by_role("button", name="Same conditions as last time"))
    expect(ledger.row("Quadriceps")).to_contain_text("fixed dynamometer, knee angle 90°")
    before = page.evaluate(TOPS)
    assert len(before) == 12

    def stays(*, tidy: bool = False) -> None:
        assert page.evaluate(TOPS) == before
        assert [*untidy(page), *crowded(page)] == [] if tidy else True

    ledger.touch(page.get_by_text("I asked all four: none"))
    expect(ledger.foot).to_contain_text("4 asked, none")
    expect(page.get_by_role("group", name="Knee locks")).to_be_visible()
    stays()

    ledger.field("Worst pain, 24 h, right").fill("12")
    expect(ledger.row("Worst pain, 24 h")).to_contain_text("Type a value from 0 to 10.")
    ledger.field("Body mass").fill("7000")
    expect(ledger.row("Body mass")).to_contain_text("Type a value from")
    ledger.type(Flexion__left="1.2.3")
    expect(flexion_says(ledger)).to_contain_text("Type a number with digits")
    stays(tidy=True)

    flexion = ledger.field("Flexion, left")
    flexion.fill("40")
    says = flexion_says(ledger)
    expect(says).to_have_text(UNUSUAL)
    ledger.touch(flexion)
    reason = page.get_by_label("Reason, left").and_(page.locator("[id='w-knee_flexion-left']"))
    expect(reason).to_be_visible()
    assert not cut(says)
    ledger.field("Flexion, right").focus()
    expect(reason).to_be_hidden()
    assert cut(says) == (window == "phone")
    ledger.touch(flexion)
    reason.fill("stiff since the cast")
    stays(tidy=True)
    expect(says).to_have_text("Reason: stiff since the cast")
    ledger.field("Flexion, right").focus()
    expect(says).to_be_visible()
    stays()

    ledger.type(Standing_hip_hold__left="12.5", Standing_hip_hold__right="39.9")
    expect(ledger.says(HOLDS)).to_contain_text(SWAPPED)
    right = ledger.row(HOLDS).get_by_label("Left and right are right")
    expect(right).to_be_visible()
    assert not cut(ledger.says(HOLDS))
    stays(tidy=True)
    ledger.touch(right)
    expect(right).to_be_checked()

    ledger.choose("Effusion, right", "1+")
    ledger.choose("Brisk walk 30 min, right", "no")
    ledger.choose("Two-leg landing", "no")
    ledger.field("Front-of-knee pain, right").fill("5")
    ledger.choose("Extension, left", "straight")
    ledger.choose("Extension, right", "lacks")
    ledger.type(Extension__right="9")
    for standing, grade, how in (
        ("left", "level", "hand used"),
        ("right", "marked", "trunk leans over the standing leg"),
    ):
        ledger.choose(f"Pelvic drop, forward, {standing}", grade)
        ledger.choose(f"how it was kept level, {standing}", how)
    drop = ledger.says("Pelvic drop, forward")
    expect(drop).to_contain_text("Not level in itself: trunk leans")
    expect(ledger.foot).to_contain_text("10 of 12 tests logged")
    stays(tidy=True)

    page.context.set_offline(True)
    ledger.field("Worst pain, 24 h, right").fill("3")
    ledger.field("Body mass").fill("71")
    ledger.type(Flexion__left="141")
    for name in ("Worst pain, 24 h", "Body mass", "Flexion"):
        expect(ledger.says(name)).to_have_text("Compared when the network is back.")
    stays()
    page.context.set_offline(False)

    ledger.touch(drop.locator("summary"))
    assert not cut(drop)
    expect(drop.get_by_text("Not level in itself: trunk leans")).to_be_visible()
