"""The small scripts in a real browser under the real policy: each does its one job."""

import json
from dataclasses import replace

import pytest
from django.urls import reverse
from playwright.sync_api import Page, Route, expect

from outcomes.charts.plotly import trend_figure
from outcomes.charts.trend_data import EventMark
from tests.journeys.browser import Watcher
from tests.journeys.samples import TREND, answers, show

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]


def saved(route: Route) -> None:
    say = json.dumps({"say": "Draft saved 10:42"})
    route.fulfill(body="saved", content_type="text/html", headers={"HX-Trigger": say})


def test_not_saved_is_said_loudly_and_the_form_kept(tablet: Page, watcher: Watcher) -> None:
    show(tablet, "visit")
    watcher.expect("ERR_FAILED|status of 500|htmx:|Response Status Error Code 500")
    tablet.locator("#id_hold_left").fill("24.6")
    answers(tablet, "/save", lambda route: route.abort())
    tablet.get_by_role("button", name="Sign visit").click()
    expect(tablet.locator("#alert")).to_contain_text("NOT saved")
    expect(tablet.locator("form[data-ledger]")).to_have_attribute("data-unsaved", "")
    expect(tablet.locator("#id_hold_left")).to_have_value("24.6")
    answers(tablet, "/save", lambda route: route.fulfill(status=500, body="never shown"))
    tablet.get_by_role("button", name="Sign visit").click()
    expect(tablet.locator("#alert")).to_contain_text("NOT saved")
    expect(tablet.locator("body")).not_to_contain_text("never shown")
    answers(tablet, "/save", saved)
    tablet.get_by_role("button", name="Sign visit").click()
    expect(tablet.locator("#status")).to_have_text("Draft saved 10:42")
    expect(tablet.locator("#alert")).to_be_empty()
    expect(tablet.locator("form[data-unsaved]")).to_have_count(0)


def test_the_answer_of_a_busy_database_is_the_alert_itself(tablet: Page, watcher: Watcher) -> None:
    show(tablet, "visit")
    watcher.expect("status of 503|Response Status Error Code 503")
    headers = {"HX-Retarget": "#alert", "HX-Reswap": "innerHTML"}
    answers(tablet, "/save", lambda route: route.fulfill(
        status=503, body="<h2>The database is busy</h2>", content_type="text/html", headers=headers
    ))  # fmt: skip
    tablet.get_by_role("button", name="Sign visit").click()
    expect(tablet.locator("#alert")).to_have_text("The database is busy")
    expect(tablet.locator("form[data-ledger]")).to_have_attribute("data-unsaved", "")


def test_a_part_that_does_not_load_is_not_called_unsaved(tablet: Page, watcher: Watcher) -> None:
    show(tablet, "visit")
    watcher.expect("ERR_FAILED|htmx:")
    answers(tablet, "/echo", lambda route: route.abort())
    tablet.locator("#echo").click()
    expect(tablet.locator("#status")).to_contain_text("could not be loaded")
    expect(tablet.locator("#alert")).to_be_empty()


def test_enter_goes_left_to_right_test_by_test_and_ends_at_the_main_action(tablet: Page) -> None:
    show(tablet, "visit")
    tablet.locator("#id_load").focus()
    order = []
    for _ in range(5):
        tablet.keyboard.press("Enter")
        order.append(tablet.evaluate("() => document.activeElement.id || 'main action'"))
    assert order == [
        "id_hand", "id_hold_left", "id_hold_right", "id_effusion_0", "main action",
    ]  # fmt: skip


def test_a_second_touch_takes_a_grade_back(tablet: Page) -> None:
    show(tablet, "visit")
    trace = tablet.get_by_label("trace")
    trace.tap()
    expect(trace).to_be_checked()
    trace.tap()
    expect(trace).not_to_be_checked()
    trace.tap()
    expect(trace).to_be_checked()


def test_one_tap_copies_the_last_conditions_and_tells_the_form(tablet: Page) -> None:
    show(tablet, "visit")
    tablet.evaluate(
        "() => { window.told = []; document.addEventListener('change', "
        "event => window.told.push(event.target.id)) }"
    )
    tablet.get_by_role("button", name="Same conditions").tap()
    expect(tablet.locator("#id_load")).to_have_value("5")
    expect(tablet.locator("#id_hand")).to_be_checked()
    expect(tablet.locator("#id_hold_left")).to_have_value("")
    assert tablet.evaluate("() => window.told") == ["id_load", "id_hand"]


def test_a_quiet_screen_warns_is_emptied_and_asks_for_the_lock(tablet: Page) -> None:
    tablet.clock.install()
    show(tablet, "visit")
    asked = []

    def no_content(route: Route) -> None:
        """Answer so that the browser stays: what is seen then is the emptied page."""
        asked.append(route.request.method)
        route.fulfill(status=204)

    tablet.route(f"**{reverse('lock_now')}", no_content)
    tablet.clock.fast_forward("09:05")
    expect(tablet.locator("#status")).to_contain_text("locks in a minute")
    tablet.keyboard.press("Shift")
    expect(tablet.locator("#status")).to_be_empty()
    tablet.clock.fast_forward("09:05")
    expect(tablet.get_by_role("heading", name="Ines Marlow")).to_be_visible()
    with tablet.expect_request(f"**{reverse('lock_now')}"):
        tablet.clock.fast_forward("01:00")
    expect(tablet.locator("main")).to_be_empty()
    expect(tablet).to_have_title("Kneeledger")
    assert asked == ["POST"]


def test_a_running_stopwatch_holds_the_lock_off(tablet: Page) -> None:
    tablet.clock.install()
    show(tablet, "visit")
    tablet.evaluate("() => document.querySelector('#echo').setAttribute('data-running', '')")
    for _ in range(4):
        tablet.clock.fast_forward("05:00")
    expect(tablet.get_by_role("heading", name="Ines Marlow")).to_be_visible()
    expect(tablet.locator("#status")).to_be_empty()


def test_plotly_draws_over_the_drawing_under_the_policy(desktop: Page) -> None:
    figure = json.dumps(trend_figure(trend=TREND))
    answers(desktop, "/figure", lambda route: route.fulfill(body=figure))
    show(desktop, "patient", figure_url="/figure")
    board = desktop.locator(".drawn-by-script")
    expect(board.locator(".main-svg").first).to_be_visible()
    expect(board).to_have_attribute("aria-label", TREND.title)
    expect(desktop.locator(".drawing > svg")).to_have_count(0)


def test_words_of_events_do_not_run_into_each_other_on_a_phone(phone: Page) -> None:
    marks = [EventMark(at=at, when=f"week {at}", label="competition, early") for at in (7, 8, 14)]
    figure = trend_figure(trend=replace(TREND, events=tuple(marks)))
    answers(phone, "/figure", lambda route: route.fulfill(body=json.dumps(figure)))
    show(phone, "patient", figure_url="/figure")
    expect(phone.locator(".drawing > svg")).to_have_count(0)
    said = phone.get_by_text("competition, early", exact=True)
    expect(said).to_have_count(3)
    board = phone.locator(".drawn-by-script").bounding_box()
    boxes = [box for box in (said.nth(place).bounding_box() for place in range(3)) if box]
    assert board
    assert [round(box["y"] - boxes[0]["y"]) for box in boxes] == [0, 20, 40]
    assert min(box["x"] for box in boxes) >= board["x"]
    assert max(box["x"] + box["width"] for box in boxes) <= board["x"] + board["width"]


def test_without_a_figure_the_drawing_stays(desktop: Page, watcher: Watcher) -> None:
    watcher.expect("status of 503")
    answers(desktop, "/figure", lambda route: route.fulfill(status=503))
    show(desktop, "patient", figure_url="/figure")
    expect(desktop.locator(".drawing > svg")).to_be_visible()
    expect(desktop.locator(".drawn-by-script")).to_have_count(0)


def test_without_scripts_the_drawing_and_its_table_are_there(without_script: Page) -> None:
    show(without_script, "patient", figure_url="/figure")
    expect(without_script.locator(".drawing > svg")).to_be_visible()
    without_script.get_by_text("The same as a table").click()
    expect(without_script.get_by_role("rowheader", name="week 15")).to_be_visible()
