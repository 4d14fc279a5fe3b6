"""Questionnaires: 42 answers by keyboard, a blind front desk, a second keying, a correction."""

import re

import pytest
from playwright.sync_api import Page, expect

from clinic.models.care import Visit
from outcomes.models.questionnaires import CompletedQuestionnaire
from outcomes.models.versions import Switch
from tests.cast import MOMENT, TODAY, Cast
from tests.factories.clinic import VisitFactory
from tests.factories.outcomes import KOOS, keyed, signed_visit
from tests.journeys.browser import let_in, press

pytestmark = pytest.mark.journey
ANSWERS = "012340123401234012340123401234012340123401"


@pytest.fixture
def visit(cast: Cast) -> Visit:
    """Ines has come today, and koos is in use."""
    Switch.objects.create(code="koos", state="on", changed_at=MOMENT, changed_by=cast.lead)
    made: Visit = VisitFactory(
        patient=cast.ines, site=cast.harbour, clinician=cast.clinician, state="arrived", date=TODAY
    )
    return made


def type_in(page: Page, keys: str) -> int:
    """Press each key on the keyboard, and say how many there were."""
    for key in keys:
        page.keyboard.press(key)
    return len(keys)


def test_42_answers_take_44_keys(desktop: Page, cast: Cast, visit: Visit) -> None:
    let_in(desktop, cast.clinician)
    desktop.goto(f"/visits/{visit.uid}/questionnaires/")
    desktop.get_by_role("link", name=re.compile("^Key it.*KOOS, right knee")).click()
    expect(desktop.get_by_label("Item S1", exact=True)).to_be_focused()
    pressed = type_in(desktop, ANSWERS)
    expect(desktop.get_by_role("button", name="Check")).to_be_focused()
    for button in ("Check", "Keep it"):
        expect(desktop.get_by_role("button", name=button)).to_be_focused()
        with desktop.expect_navigation():
            desktop.keyboard.press("Enter")
        pressed += 1
    assert pressed == 44
    expect(desktop.get_by_text("Kept 25 Nov 2026, 09:00, Tess Okafor")).to_be_visible()
    kept = CompletedQuestionnaire.objects.get()
    assert kept.answers == dict(zip(KOOS, ANSWERS, strict=True))


def test_a_slash_joins_two_marks_and_backspace_goes_back(
    desktop: Page, cast: Cast, visit: Visit
) -> None:
    let_in(desktop, cast.clinician)
    desktop.goto(f"/visits/{visit.uid}/questionnaires/koos/right")
    type_in(desktop, "1/39")
    expect(desktop.get_by_label("Item S1", exact=True)).to_have_value("1/3")
    second = desktop.get_by_label("Item S2", exact=True)
    expect(second).to_be_focused()
    desktop.keyboard.press("Backspace")
    desktop.keyboard.press("Enter")
    type_in(desktop, "2")
    expect(second).to_have_value("")
    desktop.keyboard.press("Backspace")
    expect(desktop.get_by_label("Item S3", exact=True)).to_be_focused()


def test_the_front_desk_keys_blind_and_twice(desktop: Page, cast: Cast, visit: Visit) -> None:
    before = signed_visit(
        patient=cast.ines, site=cast.harbour, by=cast.clinician, on=MOMENT.date().replace(day=4)
    )
    keyed(visit=before, instrument="koos", answers=dict.fromkeys(KOOS, "4"))
    let_in(desktop, cast.desk)
    desktop.goto("/today/")
    desktop.get_by_role("link", name=re.compile("^Questionnaires.*Ines Marlow")).click()
    desktop.get_by_role("link", name=re.compile("^Key it.*KOOS, right knee")).click()
    first = desktop.get_by_label("Item S1", exact=True)
    expect(first).to_be_focused()
    type_in(desktop, ANSWERS)
    press(desktop, "Check")
    press(desktop, "Key the sheet a second time")
    expect(first).to_be_focused()
    expect(first).to_have_value("")
    type_in(desktop, "1" + ANSWERS[1:])
    press(desktop, "Check")
    expect(desktop.get_by_text("Item S1: first 0, now 1")).to_be_visible()
    first.fill("0")
    press(desktop, "Keep it")
    expect(desktop.get_by_text("Both keyings are the same.")).to_be_visible()
    press(desktop, "Keep it")
    said = desktop.locator("main").inner_text()
    assert "Dora Quill, keyed twice" in said
    assert "Open" not in said
    kept = CompletedQuestionnaire.objects.latest("pk")
    assert (kept.answers["S1"], kept.keyed_twice) == ("0", True)


def test_a_button_types_the_slash_that_a_number_pad_lacks(
    tablet: Page, cast: Cast, visit: Visit
) -> None:
    let_in(tablet, cast.clinician)
    tablet.goto(f"/visits/{visit.uid}/questionnaires/koos/right")
    type_in(tablet, "1")
    tablet.get_by_role("button", name="Two boxes marked").tap()
    type_in(tablet, "34")
    expect(tablet.get_by_label("Item S1", exact=True)).to_have_value("1/3")
    expect(tablet.get_by_label("Item S2", exact=True)).to_have_value("4")


def test_a_clinician_corrects_one_answer_and_the_score_follows(
    tablet: Page, cast: Cast, visit: Visit
) -> None:
    keyed(visit=visit, instrument="koos", answers=dict.fromkeys(KOOS, "4"))
    let_in(tablet, cast.clinician)
    tablet.goto(f"/patients/{cast.ines.uid}/")
    tablet.get_by_role("link", name="KOOS, right knee").click()
    expect(tablet.locator(".score").last).to_contain_text("Quality of life 0 of 100")
    tablet.get_by_role("link", name="Correct it").click()
    tablet.get_by_label("Item Q1", exact=True).fill("0")
    tablet.get_by_label("Why it is corrected").fill("wrong box read")
    press(tablet, "Keep the correction")
    expect(tablet.locator(".score").last).to_contain_text("Quality of life 25 of 100")
    expect(tablet.get_by_text("wrong box read")).to_be_visible()
    tablet.get_by_label("Why it is withdrawn").fill("another person's sheet")
    press(tablet, "Withdraw", exact=True)
    expect(tablet.get_by_text("Withdrawn: it counts in no score.")).to_be_visible()


def test_without_script_a_sheet_is_checked_and_kept(
    without_script: Page, cast: Cast, visit: Visit
) -> None:
    let_in(without_script, cast.clinician)
    without_script.goto(f"/visits/{visit.uid}/questionnaires/acl_rsi/right")
    without_script.get_by_role("link", name=re.compile("^This one.*each times ten")).click()
    for number in range(1, 12):
        without_script.get_by_label(f"Item {number}", exact=True).fill("7")
    without_script.keyboard.press("Enter")
    expect(without_script.get_by_text("11 of 12 answered, all are needed")).to_be_visible()
    without_script.get_by_label("Item 12", exact=True).fill("10")
    press(without_script, "Keep it")
    expect(without_script.get_by_text("Every item holds an answer.")).to_be_visible()
    press(without_script, "Keep it")
    kept = CompletedQuestionnaire.objects.get()
    assert (kept.answers["1"], kept.typed["1"], kept.layout) == ("70", "7", "zero_to_ten")
