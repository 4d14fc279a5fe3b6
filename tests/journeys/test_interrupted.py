"""A visit that is interrupted: the session ends, a colleague takes over, two tablets at once."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from playwright.sync_api import APIResponse, Page, Route, expect

from clinic.models.care import Visit
from clinic.models.places import StaffMember
from outcomes.models.record import Reading
from tests.cast import MOMENT, PASSWORD, Cast
from tests.journeys.browser import Watcher, let_in, press, untidy
from tests.journeys.ledger import Ledger, expected_today, open_ledger, record
from tests.journeys.wall_clock import WallClock

pytestmark = pytest.mark.journey


@pytest.fixture
def visit(cast: Cast) -> Visit:
    """Ines' visit, open on Tess' tablet."""
    record(cast)
    return expected_today(cast, state="open", opened_at=MOMENT)


@pytest.fixture
def mine(tablet: Page, cast: Cast, visit: Visit) -> Ledger:
    """Tess' tablet."""
    return open_ledger(tablet, cast, visit)


@pytest.fixture
def theirs(mine: Ledger, open_window: Callable[..., Page], cast: Cast, visit: Visit) -> Ledger:
    """The tablet of her colleague Bram, on the same visit."""
    return other_tablet(open_window, cast.colleague, visit)


def other_tablet(open_window: Callable[..., Page], person: StaffMember, visit: Visit) -> Ledger:
    page = open_window(viewport={"width": 820, "height": 1180}, has_touch=True)
    let_in(page, person)
    page.goto(f"/visits/{visit.uid}/")
    return Ledger(page)


def typed_and_saved(ledger: Ledger, name: str, text: str, says: str) -> None:
    ledger.field(name).fill(text)
    expect(ledger.says(name.partition(",")[0])).to_contain_text(says)


def test_the_session_ends_and_after_signing_in_the_draft_is_there(
    mine: Ledger, wall_clock: WallClock, watcher: Watcher
) -> None:
    watcher.expect("status of 401")
    page, visit_url = mine.page, mine.page.url
    typed_and_saved(mine, "Flexion, right", "134", "right 4° more")
    wall_clock.hold(MOMENT + timedelta(hours=13))
    mine.type(Flexion__left="142")
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    expect(page.get_by_text("Marlow")).to_have_count(0)
    page.get_by_label("Username").fill("clinician")
    page.get_by_label("Password").fill(PASSWORD)
    press(page, "Sign in", exact=True)
    expect(page).to_have_url(visit_url)
    expect(mine.field("Flexion, right")).to_have_value("134")


def test_a_colleague_takes_the_visit_over_and_signs_under_the_own_name(
    mine: Ledger, theirs: Ledger, visit: Visit, cast: Cast, watcher: Watcher
) -> None:
    watcher.expect("status of 409")
    typed_and_saved(mine, "Flexion, right", "134", "right 4° more")
    page = theirs.page
    page.reload()
    expect(page.get_by_text("Tess Okafor works on this visit.")).to_be_visible()
    expect(page.get_by_role("button", name="Sign visit")).to_have_count(0)
    assert untidy(page) == []
    theirs.type(Flexion__left="142")
    press(page, "Take the visit over")
    expect(theirs.field("Flexion, left")).to_have_value("142")
    press(page, "Sign visit")
    expect(page.locator("main").get_by_text("Signed").first).to_contain_text("Bram Solis")
    by = dict(Reading.objects.filter(visit=visit).values_list("limb", "recorded_by"))
    assert by == {"right": cast.clinician.pk, "left": cast.colleague.pk}
    mine.type(Body_mass="63")
    expect(mine.page.get_by_role("alert")).to_contain_text("not open any more")


def test_what_the_network_lost_is_said_and_sent_again(mine: Ledger, watcher: Watcher) -> None:
    watcher.expect("ERR_INTERNET_DISCONNECTED|htmx:")
    page = mine.page
    page.context.set_offline(True)
    mine.type(Flexion__right="134")
    expect(page.get_by_role("status").filter(has_text="network")).to_contain_text(
        "No answer from the network. It waits on this tablet and goes out by itself."
    )
    expect(mine.field("Flexion, right")).to_have_value("134")
    page.context.set_offline(False)
    expect(mine.says("Flexion")).to_contain_text("right 4° more")
    expect(page.get_by_role("alert")).to_be_empty()
    page.reload()
    expect(mine.field("Flexion, right")).to_have_value("134")


def test_an_answer_that_comes_late_draws_over_nothing_newer(mine: Ledger) -> None:
    page = mine.page
    late: list[tuple[Route, APIResponse]] = []

    def hold_back(route: Route) -> None:
        """The server has answered; what it says of the strength of both legs waits."""
        answer = route.fetch()
        if "=121" in (route.request.post_data or "") and not late:
            late.append((route, answer))
        else:
            route.fulfill(response=answer)

    page.route("**/draft", hold_back)
    page.get_by_role("button", name="Same conditions as last time").tap()
    mine.field("Quadriceps, left, trial 1").fill("158")
    expect(mine.row("Quadriceps")).to_contain_text("fixed dynamometer")
    mine.field("Quadriceps, right, trial 1").fill("121")
    while not late:
        page.wait_for_timeout(20)
    mine.field("Body mass").fill("63.4")
    by_mass = "N·m/kg: left 2.49, right 1.91"
    expect(mine.says("Quadriceps")).to_contain_text(by_mass)
    ((route, answer),) = late
    text = answer.text()
    assert ("echo-quadriceps_torque" in text, by_mass in text) == (True, False)
    with page.expect_response("**/draft"):
        route.fulfill(response=answer)
    page.wait_for_timeout(200)
    expect(mine.says("Quadriceps")).to_contain_text(by_mass)


def test_two_tablets_merge_different_fields(mine: Ledger, theirs: Ledger) -> None:
    typed_and_saved(mine, "Flexion, right", "134", "right 4° more")
    typed_and_saved(theirs, "Flexion, left", "142", "Typed on another page meanwhile")
    for ledger in (mine, theirs):
        ledger.page.reload()
        expect(ledger.field("Flexion, right")).to_have_value("134")
        expect(ledger.field("Flexion, left")).to_have_value("142")
        expect(ledger.says("Flexion")).not_to_contain_text("meanwhile")


@pytest.mark.parametrize(("button", "kept"), [("Keep 130", "130"), ("Take 134", "134")])
def test_the_same_field_typed_on_two_tablets_shows_both_texts(
    mine: Ledger, theirs: Ledger, watcher: Watcher, button: str, kept: str
) -> None:
    watcher.expect("status of 409")
    typed_and_saved(mine, "Flexion, right", "134", "right 4° more")
    theirs.type(Flexion__right="130")
    says = theirs.says("Flexion")
    expect(says).to_contain_text("Tess Okafor typed 134 meanwhile, you typed 130.")
    assert untidy(theirs.page) == []
    theirs.touch(says.get_by_role("button", name=button))
    expect(says).not_to_contain_text("Which one is right?")
    for ledger in (theirs, mine):
        ledger.page.reload()
        expect(ledger.field("Flexion, right")).to_have_value(kept)
