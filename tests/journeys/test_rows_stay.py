"""No row moves under the finger, whatever is said of an answer, and no word of it is lost."""

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.cast import Cast
from tests.factories.clinic import EpisodeFactory, SurgeryFactory
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


class Still:
    """An open visit whose rows must stay where they were."""

    def __init__(self, ledger: Ledger, window: str) -> None:
        self.ledger, self.page, self.window = ledger, ledger.page, window
        ledger.touch(self.page.get_by_role("button", name="Same conditions as last time"))
        expect(ledger.row("Quadriceps")).to_contain_text("fixed dynamometer, knee angle 90°")
        self.before = self.page.evaluate(TOPS)
        assert len(self.before) == 12

    def stays(self, *, tidy: bool = False) -> None:
        """Expect every row where it was; ``tidy``: and nothing crowded, small or unnamed."""
        assert self.page.evaluate(TOPS) == self.before
        if tidy:
            assert [*untidy(self.page), *crowded(self.page)] == []

    def red_flags(self) -> None:
        """All four are asked, and stay to be read."""
        self.ledger.touch(self.page.get_by_text("I asked all four: none"))
        expect(self.ledger.foot).to_contain_text("4 asked, none")
        expect(self.page.get_by_role("group", name="Knee locks")).to_be_visible()
        self.stays()

    def refused(self) -> None:
        """Numbers that are not taken, in one cell, on one line, of two sides."""
        ledger = self.ledger
        ledger.field("Worst pain, 24 h, right").fill("12")
        expect(ledger.row("Worst pain, 24 h")).to_contain_text("Type a value from 0 to 10.")
        ledger.field("Body mass").fill("7000")
        expect(ledger.row("Body mass")).to_contain_text("Type a value from")
        ledger.type(Flexion__left="1.2.3")
        expect(ledger.row("Flexion")).to_contain_text("Type a number with digits")
        self.stays(tidy=True)

    def unusual(self) -> None:
        """Its words are whole and its reason is asked for while the cell is touched."""
        ledger, flexion = self.ledger, self.ledger.field("Flexion, left")
        says = ledger.row("Flexion").locator(".left .says")
        reason = self.page.locator("[id='w-knee_flexion-left']")
        flexion.fill("40")
        expect(says).to_have_text(UNUSUAL)
        ledger.touch(flexion)
        expect(reason).to_be_visible()
        assert not cut(says)
        ledger.field("Flexion, right").focus()
        expect(reason).to_be_hidden()
        assert cut(says) == (self.window == "phone")
        ledger.touch(flexion)
        assert crowded(self.page) == []
        reason.fill("stiff since the cast")
        self.stays(tidy=True)
        expect(says).to_have_text("Reason: stiff since the cast")
        self.stays(tidy=True)
        ledger.field("Flexion, right").focus()
        expect(says).to_be_visible()
        self.stays()

    def swapped(self) -> None:
        """The warning has its own tick, beside what opens the row."""
        says = self.ledger.says(HOLDS)
        self.ledger.type(Standing_hip_hold__left="12.5", Standing_hip_hold__right="39.9")
        expect(says).to_contain_text(SWAPPED)
        assert not cut(says)
        self.stays(tidy=True)
        right = self.ledger.row(HOLDS).get_by_label("Left and right are right")
        self.ledger.touch(right)
        expect(right).to_be_checked()

    def many_words(self) -> None:
        """Three lines of a headline, findings and results; all of them once it is opened."""
        ledger, drop = self.ledger, self.ledger.says("Pelvic drop, forward")
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
        expect(drop).to_contain_text("Not level in itself: trunk leans")
        expect(ledger.foot).to_contain_text("10 of 12 tests logged")
        self.stays(tidy=True)
        ledger.touch(drop.locator("summary"))
        expect(drop.get_by_text("Not level in itself: trunk leans")).to_be_visible()
        assert not cut(drop)
        ledger.touch(drop.locator("summary"))
        self.stays()

    def no_network(self) -> None:
        """What is said instead of a comparison."""
        self.page.context.set_offline(True)
        self.ledger.field("Worst pain, 24 h, right").fill("3")
        self.ledger.field("Body mass").fill("71")
        self.ledger.type(Flexion__left="141")
        for name in ("Worst pain, 24 h", "Body mass", "Flexion"):
            expect(self.ledger.says(name)).to_have_text("Compared when the network is back.")
        self.stays()
        self.page.context.set_offline(False)


@pytest.mark.parametrize("window", ["tablet", "phone", "desktop"])
def test_no_row_moves_for_what_is_said_of_an_answer(
    window: str, cast: Cast, request: pytest.FixtureRequest, watcher: Watcher
) -> None:
    watcher.expect("ERR_INTERNET_DISCONNECTED|htmx:|fetching the script")
    page: Page = request.getfixturevalue(window)
    visit = Still(begun(page, cast, week=15), window)
    visit.red_flags()
    visit.refused()
    visit.unusual()
    visit.swapped()
    visit.many_words()
    visit.no_network()


def test_with_two_followed_knees_each_result_says_its_side_and_has_its_room(
    tablet: Page, cast: Cast
) -> None:
    left = EpisodeFactory(patient=cast.ines, site=cast.harbour, knee="left")
    SurgeryFactory(episode=left, recorded_by=cast.clinician)
    visit = Still(begun(tablet, cast, week=15), "tablet")
    ledger = visit.ledger
    for side in ("left", "right"):
        ledger.field(f"Front-of-knee pain, {side}").fill("5")
        ledger.choose(f"Effusion, {side}", "1+")
        ledger.type(**{f"Flexion__{side}": "110"})
    for name in ("Front-of-knee pain", "Effusion", "Flexion"):
        results = ledger.says(name).locator(".asked .brief")
        expect(results).to_have_text(["left: not met", "right: not met"], use_inner_text=True)
    visit.stays(tidy=True)
