"""Logging in few taps: two written visits are counted, numbers move on by themselves, rows stay."""

from datetime import timedelta
from uuid import uuid4

import pytest
from playwright.sync_api import Page, expect

from clinic.models.care import Surgery
from clinic.permissions import Actor
from outcomes.management.bench import scenarios
from outcomes.management.bench.hand import Hand, OutOfReach
from outcomes.management.bench.scenarios import FULL, SHORT, Scenario
from outcomes.models.record import Reading
from tests.cast import TODAY, Cast
from tests.journeys.browser import crowded, untidy
from tests.journeys.conftest import Opener
from tests.journeys.ledger import Ledger, open_ledger

pytestmark = pytest.mark.journey

TOPS = """() => Object.fromEntries([...document.querySelectorAll('.ledger-form > .entry-row')]
    .map(row => [row.id, Math.round(row.getBoundingClientRect().top + scrollY)]))"""
FOCUS = "() => document.activeElement.name"
COVERED = """() => {
  const one = document.activeElement;
  const shown = one.matches('[type=radio], [type=checkbox]') ? one.closest('label') : one;
  const box = shown.getBoundingClientRect();
  const top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
  const over = top?.closest('.act-bar, .ledger-heads');
  return [one.innerText || one.name, !top || Boolean(over && !over.contains(one))];
}"""


def begun(page: Page, cast: Cast, *, week: int) -> Ledger:
    """Ines' open visit in that week, three weeks after one with the same tests."""
    Surgery.objects.update(date=TODAY - timedelta(weeks=week))
    actor = Actor(staff_id=cast.clinician.pk, site_id=cast.harbour.pk, request_id=uuid4())
    before = TODAY - timedelta(days=21)
    scenarios.seen_before(actor=actor, episode=cast.episode, on=before)
    visit = scenarios.opened(actor=actor, episode=cast.episode, on=TODAY)
    return open_ledger(page, cast, visit)


@pytest.mark.parametrize("scenario", [SHORT, FULL], ids=["short", "full"])
def test_a_written_visit_is_logged_within_its_taps_and_keys(
    tablet: Page, cast: Cast, scenario: Scenario
) -> None:
    begun(tablet, cast, week=scenario.week)
    hand = Hand(page=tablet, scrolls=scenario.scrolls)
    assert hand.perform(scenario.script) <= scenario.most
    tablet.wait_for_load_state()
    expect(tablet.get_by_text("Signed")).not_to_have_count(0)
    visit = cast.ines.visits.get(date=TODAY)
    found, around = scenarios.signed_in(visit)
    assert found == scenario.signed
    asked = ["short_pop", "short_locking", "short_hot_knee", "short_calf"]
    assert around == ("signed", "four", dict.fromkeys(asked, False), "")


def test_a_hand_that_does_not_scroll_says_what_is_out_of_reach(tablet: Page, cast: Cast) -> None:
    begun(tablet, cast, week=31)
    hand = Hand(page=tablet, scrolls=False)
    with pytest.raises(OutOfReach, match="6 m timed hop, left, trial 1 after 1 taps"):
        hand.perform("tap Effusion, right > trace\ntap 6 m timed hop, left, trial 1")


@pytest.mark.parametrize("window", ["tablet", "phone", "desktop"])
def test_no_row_moves_while_the_rows_above_it_are_answered(
    window: str, cast: Cast, request: pytest.FixtureRequest
) -> None:
    page: Page = request.getfixturevalue(window)
    ledger = begun(page, cast, week=15)
    ledger.touch(page.get_by_text("I asked all four: none"))
    ledger.touch(page.get_by_role("button", name="Same conditions as last time"))
    expect(ledger.row("Quadriceps")).to_contain_text("fixed dynamometer, knee angle 90°")
    before = page.evaluate(TOPS)
    ledger.field("Worst pain, 24 h, right").fill("2")
    ledger.choose("Effusion, right", "trace")
    ledger.choose("Extension, left", "straight")
    ledger.choose("Extension, right", "lacks")
    ledger.type(Extension__right="1", Flexion__left="142", Flexion__right="134")
    ledger.type(Standing_hip_hold__left="30.5", Standing_hip_hold__right="19.9")
    ledger.choose("Pelvic drop, forward, left", "level")
    ledger.choose("Pelvic drop, forward, right", "slight")
    for number, (left, right) in enumerate([("149", "121"), ("158", "118")], start=1):
        ledger.field(f"Quadriceps, left, trial {number}").fill(left)
        ledger.field(f"Quadriceps, right, trial {number}").fill(right)
    expect(ledger.says("Quadriceps")).to_contain_text("77 %")
    expect(ledger.foot).to_contain_text("7 of 12 tests logged")
    assert len(before) == 12
    assert page.evaluate(TOPS) == before
    assert untidy(page) == []
    assert crowded(page) == []


def test_a_complete_number_moves_on_and_nothing_is_taken_from_it(desktop: Page, cast: Cast) -> None:
    ledger = begun(desktop, cast, week=15)
    press = desktop.keyboard.press
    assert desktop.evaluate(FOCUS) == "v:pain_worst_24h:right"

    def typed(keys: str, *, into: str = "") -> str:
        if into:
            ledger.field(into).focus()
        for key in keys:
            press(key)
        focus: str = desktop.evaluate(FOCUS)
        return focus

    assert typed("1") == "v:pain_worst_24h:right"
    assert typed("0") == "v:pain_front_of_knee:right"
    assert typed("14", into="Flexion, left") == "v:knee_flexion:left"
    assert typed("2") == "v:knee_flexion:right"
    assert typed(",") == "v:knee_flexion:left"
    assert typed("5") == "v:knee_flexion:left"
    expect(ledger.field("Flexion, left")).to_have_value("142,5")
    press("Enter")
    assert typed("91") == "v:knee_flexion:right"
    expect(ledger.field("Flexion, right")).to_have_value("91")
    assert typed("30", into="Standing hip hold, left") == "v:standing_hip_hold:left"
    assert typed(".5") == "v:standing_hip_hold:right"
    press("Backspace")
    assert desktop.evaluate(FOCUS) == "v:standing_hip_hold:left"
    expect(ledger.field("Standing hip hold, left")).to_have_value("30.")
    assert typed("7") == "v:standing_hip_hold:right"
    for _ in range(3):  # past the value's own field, the stopwatch and its kind of end
        press("Shift+Tab")
    assert desktop.evaluate(FOCUS) == "v:standing_hip_hold:left"
    quadriceps = "Quadriceps, left, trial 1"
    assert typed("158", into=quadriceps) == "v:quadriceps_torque:left:2"
    assert typed(".4") == "v:quadriceps_torque:left:2"
    expect(ledger.field(quadriceps)).to_have_value("158.4")
    if not ledger.row("Quadriceps").get_by_label("typed in").is_visible():
        ledger.row("Quadriceps").locator("summary", has_text="more").click()
    ledger.row("Quadriceps").get_by_label("typed in").select_option("N")
    assert typed("412", into="Quadriceps, right, trial 1") == "v:quadriceps_torque:right"


@pytest.mark.parametrize(
    "size", [(1180, 820), (410, 590), (590, 410)], ids=["landscape", "zoomed", "zoomed landscape"]
)
def test_on_its_side_and_at_200_per_cent_nothing_is_cut_crowded_or_covered(
    size: tuple[int, int], cast: Cast, open_window: Opener
) -> None:
    """A tablet of 820 x 1180 at 200 % is a window of 410 x 590."""
    page = open_window(viewport={"width": size[0], "height": size[1]}, has_touch=True)
    ledger = begun(page, cast, week=15)
    assert [*untidy(page), *crowded(page)] == []
    page.evaluate("() => document.activeElement.blur()")
    ledger.field("Worst pain, 24 h, right").focus()
    seen, hidden = [], []
    while "Sign visit" not in seen:
        page.keyboard.press("Tab")
        name, covered = page.evaluate(COVERED)
        seen.append(name)
        hidden += [name] if covered else []
    assert hidden == []
    assert len(seen) > 60


def test_a_visit_is_logged_and_signed_with_the_keyboard_alone(desktop: Page, cast: Cast) -> None:
    begun(desktop, cast, week=15)
    keys = "2 Enter ArrowRight Enter ArrowRight Enter Space Enter 1 Enter 1 4 2 1 3 4"
    for key in keys.split():
        desktop.keyboard.press(key)
    assert desktop.evaluate(FOCUS) == "v:knee_flexion:right"
    while desktop.evaluate("() => document.activeElement.innerText") != "Sign visit":
        desktop.keyboard.press("Tab")
    with desktop.expect_navigation():
        desktop.keyboard.press("Enter")
    rows = Reading.objects.filter(visit__date=TODAY).order_by("id")
    assert list(rows.values_list("measure", "limb", "typed_text")) == [
        ("pain_worst_24h", "right", "2"),
        ("effusion", "right", "trace"),
        ("knee_extension", "left", "straight"),
        ("knee_extension", "right", "lacks 1"),
        ("knee_flexion", "left", "142"),
        ("knee_flexion", "right", "134"),
    ]
