"""The clinician's visit from today's list to the signed ledger, by touch and at a desk."""

import pytest
from playwright.sync_api import Page, expect

from clinic.models.care import Episode, Visit
from outcomes.models.record import Reading, RedFlagCheck
from tests.cast import MOMENT, Cast
from tests.journeys.browser import Watcher, let_in, press, untidy
from tests.journeys.ledger import Ledger, expected_today, open_ledger, record

pytestmark = pytest.mark.journey


@pytest.fixture(params=["tablet", "desktop"])
def window(request: pytest.FixtureRequest) -> Page:
    """The tablet that is touched, and the desk's screen."""
    page: Page = request.getfixturevalue(request.param)
    return page


def log_both_limbs(ledger: Ledger) -> None:
    ledger.touch(ledger.page.get_by_role("button", name="Same conditions as last time"))
    ledger.choose("Effusion, right", "trace")
    ledger.choose("Extension, left", "straight")
    ledger.choose("Extension, right", "lacks")
    ledger.type(Extension__right="1", Flexion__left="142", Flexion__right="134")
    ledger.type(Standing_hip_hold__left="30.5", Standing_hip_hold__right="19,9")
    ledger.choose("Pelvic drop, lateral, left", "level")
    ledger.choose("Pelvic drop, lateral, right", "slight")
    drop = ledger.row("Pelvic drop, lateral")
    ledger.touch(drop.get_by_text("Trunk, knee and comfort"))
    ledger.choose("Trunk lean, lateral heel touch, left", "upright")
    ledger.choose("Trunk lean, lateral heel touch, right", "slight")
    ledger.choose("lateral heel touch, comfort, right", "unsure")
    ledger.field("Quadriceps, left, trial 1").fill("149")
    ledger.field("Quadriceps, left, trial 2").fill("158")
    ledger.field("Quadriceps, right, trial 1").fill("121")
    ledger.field("Body mass").fill("63,4")


def left_edge(page: Page, name: str) -> float:
    box = page.get_by_role("textbox", name=name, exact=True).bounding_box()
    assert box is not None
    return box["x"]


def expect_comparisons(ledger: Ledger) -> None:
    """What the ledger says of both limbs while they are typed."""
    quadriceps = ledger.says("Quadriceps")
    expect(quadriceps).to_contain_text("77 %")
    expect(quadriceps).to_contain_text("no real change")
    expect(quadriceps).to_contain_text("N·m/kg: left 2.49, right 1.91")
    expect(quadriceps.locator("svg").first).to_be_visible()
    expect(ledger.row("Quadriceps")).to_contain_text("fixed dynamometer, knee angle 90°")
    expect(ledger.says("Extension")).to_contain_text("borderline")
    expect(ledger.says("Pelvic drop, lateral")).to_contain_text(
        "Standing on the right, the left side of the pelvis drops"
    )
    lean = ledger.page.locator("#echo-trunk_lean-lateral_heel_touch")
    expect(lean.locator("summary")).to_contain_text("one grade worse than the other side")


def correct_one(window: Page) -> None:
    """One signed value corrected with a reason; its history; back to the visit."""
    window.get_by_role("link", name="45°").click()
    window.get_by_label("Flexion, right").fill("134")
    window.get_by_label("Why it is corrected").fill("read from the wrong line")
    press(window, "Save the correction")
    rows = window.get_by_role("table", name="History, newest first").get_by_role("rowheader")
    expect(rows).to_contain_text(["134°", "45°"])
    expect(window.get_by_text("read from the wrong line")).to_be_visible()
    assert untidy(window) == []
    window.get_by_role("link", name="Back to the visit").click()
    expect(window.get_by_role("link", name="134°")).to_be_visible()
    expect(window.get_by_role("link", name="45°")).to_have_count(0)


def test_both_limbs_are_logged_signed_and_one_value_is_corrected(
    window: Page, cast: Cast, watcher: Watcher
) -> None:
    record(cast)
    expected_today(cast)
    let_in(window, cast.clinician)
    window.goto("/today/")
    press(window, "Open the visit")
    ledger = Ledger(window)
    expect(ledger.foot).to_contain_text("Nothing typed yet")
    expect(ledger.row("Quadriceps").locator("svg")).to_have_count(0)
    log_both_limbs(ledger)

    expect_comparisons(ledger)
    assert untidy(window) == []

    window.reload()
    expect(ledger.foot).to_contain_text("Draft saved 09:00")
    expect(ledger.field("Standing hip hold, right")).to_have_value("19,9")
    ledger.chosen("Pelvic drop, lateral, right", "slight")
    ledger.chosen("Extension, right", "lacks")
    ledger.chosen("Trunk lean, lateral heel touch, right", "slight")
    assert Reading.objects.filter(visit__state="open").count() == 0

    ledger.type(Flexion__right="45")
    asks = window.get_by_text("outside what is usual (60 to 155°)")
    expect(asks).to_be_visible()
    ledger.row("Flexion").get_by_label("Reason, right").fill("stiff since the fall")
    expect(asks).to_have_count(0)
    ledger.touch(window.get_by_text("I asked all four: none"))
    expect(ledger.foot).to_contain_text("Red flags 4 asked, none")
    press(window, "Sign visit")

    expect(window.get_by_text("Signed")).not_to_have_count(0)
    visit = Visit.objects.get(state="signed", date="2026-11-25")
    assert RedFlagCheck.objects.get().visit == visit
    assert untidy(window) == []
    correct_one(window)


@pytest.mark.parametrize(
    ("operated", "other"), [("right", "left"), ("left", "right")], ids=["right knee", "left knee"]
)
def test_the_other_leg_comes_first_and_left_stays_left(
    window: Page, cast: Cast, operated: str, other: str
) -> None:
    Episode.objects.update(knee=operated)
    ledger = open_ledger(window, cast, expected_today(cast, state="open", opened_at=MOMENT))
    ledger.field(f"Flexion, {other}").focus()
    order = []
    for _ in range(3):
        window.keyboard.press("Enter")
        order.append(window.evaluate("() => document.activeElement.name"))
    assert order == [
        f"v:knee_flexion:{operated}",
        f"v:brisk_walk_30min_without_swelling:{operated}",
        f"v:standing_hip_hold:{other}",
    ]
    assert left_edge(window, "Flexion, left") < left_edge(window, "Flexion, right")
    heads = window.locator(".ledger-heads")
    expect(heads.locator(f".{operated}")).to_contain_text("operated")
    expect(heads.locator(f".{other}")).to_contain_text("other side")


def test_a_grade_is_taken_back_and_the_red_flags_say_whom_to_call(tablet: Page, cast: Cast) -> None:
    ledger = open_ledger(tablet, cast, expected_today(cast, state="open", opened_at=MOMENT))
    ledger.choose("Effusion, right", "1+")
    expect(ledger.foot).to_contain_text("1 of 12 tests logged")
    ledger.take_back("Effusion, right", "1+")
    expect(ledger.foot).to_contain_text("0 of 12 tests logged")
    ledger.choose("Calf or chest trouble", "yes")
    expect(tablet.get_by_role("heading", name="Call now")).to_be_visible()
    ledger.choose("Chest pain, breathless or collapsed", "no")
    foot = "Foot cold, pale or numb, cannot lift the foot, or calf tense with severe pain"
    ledger.choose(foot, "no")
    ledger.choose("Calf pain or calf swelling", "yes")
    expect(tablet.get_by_role("heading", name="Medical assessment today")).to_be_visible()
    expect(tablet.get_by_role("heading", name="Call now")).to_have_count(0)
    assert untidy(tablet) == []
    press(tablet, "Sign visit")
    expect(tablet.get_by_role("heading", name="Medical assessment today")).to_be_visible()
    assert RedFlagCheck.objects.get().answers["calf"] is True
