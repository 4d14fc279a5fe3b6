"""The stopwatch of a hold: its number, its end, a reload, the idle lock, and how it looks."""

import re
from datetime import timedelta
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect

from outcomes.models.record import VisitDraft
from tests.cast import MOMENT, Cast
from tests.journeys.browser import untidy
from tests.journeys.conftest import Opener
from tests.journeys.ledger import expected_today, open_ledger, record
from tests.journeys.wall_clock import WallClock
from tests.outcomes.paper import Paper
from tests.web import signed_in

pytestmark = pytest.mark.journey
HOLD, STANCE, PLANK = "Standing hip hold", "One-leg stance", "Side plank"
OPENED = MOMENT + timedelta(minutes=1)
KEPT = "() => JSON.parse(sessionStorage.getItem('kneeledger-watch'))"
AWAKE = """() => {
  window.asked = [];
  const request = navigator.wakeLock.request.bind(navigator.wakeLock);
  navigator.wakeLock.request = async (kind) => {
    const lock = await request(kind);
    window.asked.push(lock);
    return lock;
  };
}"""
HELD = "() => window.asked.map((lock) => !lock.released)"
PAST = "(one) => scrollBy(0, one.parentElement.getBoundingClientRect().bottom + 9)"
BACK = """() => document.dispatchEvent(new Event('visibilitychange'))"""


class Bench:
    """Ines' open visit on a screen whose clock the test moves."""

    def __init__(self, page: Page, cast: Cast, add: str = "") -> None:
        self.page = page
        record(cast)
        self.visit = expected_today(cast, state="open", opened_at=MOMENT)
        if add:
            Paper(signed_in(cast.clinician), self.visit).save(add=add)
        page.clock.install(time=MOMENT)
        page.clock.pause_at(OPENED)
        self.ledger = open_ledger(page, cast, self.visit)

    def button(self, does: str, limb: str, row: str = HOLD) -> Locator:
        """A watch by its name: what touching it does, and for which leg."""
        name = f"{does} timing, standing on {limb}" if row != PLANK else f"{does} timing, {limb}"
        return self.ledger.row(row).get_by_role("button", name=name, exact=True)

    def touch(self, does: str, limb: str, row: str = HOLD) -> None:
        """Touch a watch, and not again within the moment in which a second touch is an error."""
        self.ledger.touch(self.button(does, limb, row))
        self.wait(0.5 if does == "Stop" else 0)

    def wait(self, seconds: float) -> None:
        """Let so much time go by, for the page alone."""
        self.page.clock.run_for(round(seconds * 1000))

    def says(self, text: str) -> None:
        """Expect what is said politely."""
        expect(self.page.locator("#status")).to_have_text(text)

    def untidy(self) -> list[str]:
        """What is wrong with the looks of the page, whose clock runs from here on."""
        self.page.clock.resume()
        return untidy(self.page)

    def saved(self, expected: dict[str, str]) -> None:
        """Expect what the draft on the server holds once what was filled in has been sent."""
        self.wait(1)
        for _ in range(50):
            if self.draft() == expected:
                break
            self.page.wait_for_timeout(100)
        assert self.draft() == expected

    def draft(self) -> dict[str, str]:
        """The values and details of the draft on the server."""
        found = VisitDraft.objects.filter(visit=self.visit).values_list("fields", flat=True)
        return {
            name: field["text"]
            for fields in found
            for name, field in fields.items()
            if field["text"] and name[:2] in ("v:", "d:")
        }


def test_each_leg_is_timed_to_a_tenth_one_at_a_time_by_touch_and_by_keyboard(
    tablet: Page, cast: Cast
) -> None:
    bench = Bench(tablet, cast)
    bench.touch("Start", "left")
    bench.touch("Stop", "left")
    expect(bench.button("Stop", "left")).to_be_visible()
    bench.wait(14.4)
    expect(tablet.locator(".ticks [data-reached]")).to_have_count(0)
    bench.wait(0.1)
    bench.says("15 seconds, standing on left")
    expect(tablet.locator(".ticks [data-reached]")).to_have_text(["15 s"])
    expect(bench.button("Start", "right")).to_have_attribute("aria-disabled", "true")
    bench.button("Start", "right").tap(force=True)
    bench.says("One at a time. Stop this one first, standing on left")
    tablet.get_by_role("button", name="Sign visit").click()
    bench.says("The stopwatch runs. Stop it first, then sign.")
    bench.wait(1.39)
    bench.touch("Stop", "left")
    expect(bench.ledger.field(f"{HOLD}, left")).to_have_value("16.3")
    bench.says("16.3 s, standing on left")
    expect(tablet.locator(".ticks [data-reached]")).to_have_count(0)
    why = tablet.get_by_role("combobox", name="what ended it, left", exact=True).first
    expect(why).to_be_focused()
    why.select_option("trunk leaned")
    tablet.locator("body").evaluate("() => document.activeElement.blur()")

    bench.button("Start", "right").focus()
    tablet.keyboard.press("Enter")
    bench.wait(12.34)
    tablet.keyboard.press("Space")
    expect(bench.ledger.field(f"{HOLD}, right")).to_have_value("12.3")
    bench.saved(
        {
            "v:standing_hip_hold:left": "16.3",
            "d:standing_hip_hold:left:end_reason": "lean",
            "v:standing_hip_hold:right": "12.3",
        }
    )
    assert bench.untidy() == []


def test_the_cap_ends_it_and_what_nobody_was_there_to_see_is_not_kept(
    tablet: Page, cast: Cast
) -> None:
    bench = Bench(tablet, cast)
    bench.touch("Start", "left")
    bench.wait(44.9)
    expect(bench.button("Stop", "left")).to_be_visible()
    bench.wait(1)
    expect(bench.button("Start", "left")).to_be_visible()
    bench.saved({
        "v:standing_hip_hold:left": "45.0", "d:standing_hip_hold:left:end_reason": "cap",
    })  # fmt: skip
    bench.touch("Start", "left")
    bench.wait(20.04)
    bench.touch("Stop", "left")
    bench.saved({"v:standing_hip_hold:left": "20.0"})

    bench.touch("Start", "right")
    bench.wait(10)
    tablet.clock.fast_forward(60_000)
    expect(tablet.locator("#status")).to_contain_text("The watch ran on with nobody there")
    expect(bench.ledger.field(f"{HOLD}, right")).to_have_value("")
    expect(bench.button("Start", "right")).to_be_visible()


def test_it_runs_on_over_a_reload_and_keeps_no_text_of_the_patient(
    tablet: Page, cast: Cast
) -> None:
    bench = Bench(tablet, cast)
    bench.touch("Start", "right")
    bench.wait(16)
    kept = tablet.evaluate(KEPT)
    now = tablet.evaluate("() => performance.timeOrigin + performance.now()")
    assert kept.pop("at") == pytest.approx(now - 16_000, abs=1)
    assert kept == {
        "visit": f"/visits/{bench.visit.uid}/draft", "id": "standing_hip_hold:right",
    }  # fmt: skip
    tablet.reload()
    expect(bench.button("Stop", "right")).to_be_visible()
    bench.wait(2.2)
    expect(tablet.locator("#status")).to_be_empty()
    bench.touch("Stop", "right")
    expect(bench.ledger.field(f"{HOLD}, right")).to_have_value("18.2")
    bench.saved({"v:standing_hip_hold:right": "18.2"})

    bench.touch("Start", "left")
    bench.wait(3)
    for change in ("-60000", "+600000"):
        tablet.evaluate(
            """(by) => {
              const kept = JSON.parse(sessionStorage.getItem('kneeledger-watch'));
              kept.at -= Number(by);
              sessionStorage.setItem('kneeledger-watch', JSON.stringify(kept));
            }""",
            change,
        )
        tablet.reload()
        expect(tablet.locator("#status")).to_contain_text("or the clock was set")
        expect(bench.button("Start", "left")).to_be_visible()
        expect(bench.ledger.field(f"{HOLD}, left")).to_have_value("")
        bench.wait(0.5)
        bench.touch("Start", "left")


def test_each_stop_fills_the_next_free_trial_of_its_leg(tablet: Page, cast: Cast) -> None:
    bench = Bench(tablet, cast, add="single_leg_stance")
    bench.ledger.type(**{f"{STANCE.replace(' ', '_')}__left__trial_2": "9,5"})
    for seconds in (7.11, 8.27):
        bench.touch("Start", "left", STANCE)
        bench.wait(seconds)
        bench.touch("Stop", "left", STANCE)
    bench.touch("Start", "left", STANCE)
    bench.says("Every trial is filled. Empty one to time again, standing on left")
    expect(bench.button("Start", "left", STANCE)).to_be_visible()
    bench.saved(
        {
            "v:single_leg_stance:left": "7.1",
            "v:single_leg_stance:left:2": "9,5",
            "v:single_leg_stance:left:3": "8.2",
        }
    )
    assert bench.untidy() == []


def test_while_it_runs_neither_the_screen_nor_the_server_locks(
    tablet: Page, cast: Cast, settings: Any, wall_clock: WallClock
) -> None:
    settings.IDLE_LOCK_SECONDS = 90
    bench = Bench(tablet, cast, add="side_plank_hold")
    second_tab = tablet.context.new_page()
    second_tab.goto("/today/")
    wall_clock.hold(MOMENT + timedelta(seconds=65))
    with tablet.expect_response(re.compile("/draft$")):
        bench.touch("Start", "right", PLANK)
    wall_clock.hold(MOMENT + timedelta(seconds=126))
    with tablet.expect_response(re.compile("/draft$"), timeout=60_000):
        bench.wait(61)
    wall_clock.hold(MOMENT + timedelta(seconds=205))
    bench.wait(79)
    expect(second_tab.get_by_role("heading", name="Locked")).to_have_count(0)
    bench.touch("Stop", "right", PLANK)
    bench.saved({"v:side_plank_hold:right": "140.0"})
    bench.wait(91)
    expect(tablet.get_by_role("heading", name="Locked")).to_be_visible()


def test_the_screen_is_kept_awake_and_where_it_cannot_be_the_page_says_so(
    tablet: Page, cast: Cast
) -> None:
    bench = Bench(tablet, cast)
    tablet.context.grant_permissions(["screen-wake-lock"])
    tablet.evaluate(AWAKE)
    bench.touch("Start", "left")
    tablet.wait_for_function("() => window.asked.length === 1")
    assert tablet.evaluate(HELD) == [True]
    tablet.evaluate("() => window.asked[0].release()")
    tablet.evaluate(BACK)
    tablet.wait_for_function("() => window.asked.length === 2")
    bench.wait(4)
    bench.touch("Stop", "left")
    tablet.wait_for_function("() => window.asked.every((lock) => lock.released)")
    tablet.evaluate("() => Object.defineProperty(navigator, 'wakeLock', {value: undefined})")
    bench.touch("Start", "right")
    bench.says("This browser cannot keep the screen on. Touch the screen now and then.")


@pytest.mark.parametrize(
    ("wide", "high", "least"), [(320, 640, 48), (820, 1180, 88), (1280, 800, 88)]
)
def test_it_is_large_calm_where_motion_is_unwanted_and_never_out_of_sight(
    open_window: Opener, cast: Cast, wide: int, high: int, least: int
) -> None:
    page = open_window(viewport={"width": wide, "height": high}, reduced_motion="reduce")
    bench = Bench(page, cast)
    box = bench.button("Start", "left").bounding_box()
    assert box is not None
    assert min(box["width"], box["height"]) >= least
    bench.touch("Start", "left")
    bench.wait(7.5)
    expect(bench.button("Stop", "left").locator(".time")).to_have_text("7")
    back = page.get_by_role("link", name="7 s, standing on left")
    expect(back).to_be_hidden()
    bench.button("Stop", "left").evaluate(PAST)
    bench.wait(0.1)
    expect(bench.button("Stop", "left")).not_to_be_in_viewport()
    expect(back).to_be_in_viewport(ratio=1)
    back.click()
    expect(bench.button("Stop", "left")).to_be_in_viewport()
    bench.wait(0.1)
    expect(back).to_be_hidden()
    assert bench.untidy() == []


def test_without_script_the_number_alone_is_there(without_script: Page, cast: Cast) -> None:
    record(cast)
    visit = expected_today(cast, state="open", opened_at=MOMENT)
    ledger = open_ledger(without_script, cast, visit)
    expect(ledger.field(f"{HOLD}, left")).to_be_editable()
    expect(without_script.get_by_role("button", name="Start timing")).to_have_count(0)
