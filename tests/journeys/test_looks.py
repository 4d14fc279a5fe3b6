"""The looks in a real browser: narrow, tablet and desk, on paper, by keyboard, for axe-core."""

import pytest
from playwright.sync_api import Page, expect

from tests.journeys.browser import axe_findings
from tests.journeys.samples import SAMPLES, show

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]
WINDOWS = ["phone", "tablet", "desktop"]
TARGETS = """() => [...document.querySelectorAll(
    'button, .button, .choices label, .tick, select, nav a, input:not([type=hidden])')]
  .filter(one => one.checkVisibility() && !one.closest('label') || one.matches('label'))
  .map(one => ({words: one.innerText || one.id, box: one.getBoundingClientRect()}))
  .map(({words, box}) => [words, box.left, box.top, box.right, box.bottom])"""


@pytest.fixture
def window(request: pytest.FixtureRequest) -> Page:
    """One of the three windows, by name."""
    page: Page = request.getfixturevalue(request.param)
    return page


@pytest.mark.parametrize("window", WINDOWS, indirect=True)
@pytest.mark.parametrize("name", SAMPLES)
def test_nothing_is_wider_than_the_window_and_axe_finds_nothing(window: Page, name: str) -> None:
    show(window, name)
    assert window.evaluate("() => document.documentElement.scrollWidth - innerWidth") <= 0
    assert axe_findings(window) == []


@pytest.mark.parametrize("window", WINDOWS, indirect=True)
def test_targets_are_48_px_and_8_px_apart(window: Page) -> None:
    """The project's own rule; WCAG 2.2 criterion 2.5.8 asks for 24 px."""
    show(window, "visit")
    targets = window.evaluate(TARGETS)
    assert len(targets) >= 13
    small = [words for words, left, top, right, bottom in targets
             if right - left < 47.5 or bottom - top < 47.5]  # fmt: skip
    assert small == []
    grades = [target for target in targets if target[0] in ("zero", "trace", "1+", "2+", "3+")]
    assert len(grades) == 5
    close = [
        (a[0], b[0]) for a in grades for b in grades
        if a is not b and max(a[1] - b[3], b[1] - a[3], a[2] - b[4], b[2] - a[4]) < 7.5
    ]  # fmt: skip
    assert close == []


@pytest.mark.parametrize("window", WINDOWS, indirect=True)
def test_left_stays_left_of_right(window: Page) -> None:
    show(window, "visit")
    left = window.locator("#id_hold_left").bounding_box()
    right = window.locator("#id_hold_right").bounding_box()
    assert left is not None
    assert right is not None
    assert left["x"] + left["width"] <= right["x"]
    assert left["y"] == right["y"]


def test_a_focused_field_is_never_hidden_under_a_bar(tablet: Page) -> None:
    """WCAG 2.2 criterion 2.4.11."""
    tablet.set_viewport_size({"width": 820, "height": 560})
    show(tablet, "visit")
    expect(tablet.locator(".act-bar")).to_have_css("position", "sticky")
    for _ in range(14):
        tablet.keyboard.press("Tab")
        hidden = tablet.evaluate("""() => {
          const one = document.activeElement, box = one.getBoundingClientRect();
          if (one === document.body || one.closest('.act-bar, .ledger-heads, .skip')) return '';
          const at = document.elementFromPoint(box.left + 4, box.top + box.height / 2);
          return one === at || one.contains(at) || at?.contains(one) ? '' : one.outerHTML;
        }""")
        assert hidden == ""


def test_the_focus_is_drawn_around_a_grade(tablet: Page) -> None:
    show(tablet, "visit")
    tablet.locator("#id_hold_right").focus()
    tablet.keyboard.press("Tab")
    label = tablet.locator("label", has_text="zero")
    expect(label).to_have_css("outline-width", "3px")
    expect(label).to_have_css("outline-style", "solid")


def test_paper_has_no_actions_and_repeats_the_heads(desktop: Page) -> None:
    show(desktop, "patient")
    desktop.emulate_media(media="print")
    expect(desktop.locator("nav")).to_be_hidden()
    expect(desktop.get_by_role("link", name="New visit")).to_be_hidden()
    expect(desktop.locator("thead").first).to_have_css("display", "table-header-group")
    expect(desktop.locator(".ledger tbody tr")).to_have_css("break-inside", "avoid")
    expect(desktop.get_by_text("it does not decide")).to_be_visible()


def test_motion_is_as_good_as_none_where_asked_for(desktop: Page) -> None:
    show(desktop, "patient")
    desktop.emulate_media(reduced_motion="reduce")
    durations = desktop.evaluate("""() => [...document.querySelectorAll('*')].map(one =>
        getComputedStyle(one)).filter(style => parseFloat(style.transitionDuration) > 0.001
        || parseFloat(style.animationDuration) > 0.001).length""")
    assert durations == 0
