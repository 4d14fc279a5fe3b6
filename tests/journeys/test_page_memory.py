"""The browser's memory of pages: after the lock and after signing out, going back shows nobody.

Chromium keeps whole pages to go back to, even those marked ``no-store``, until a cookie changes.
Ours change one with each page, so it drops them; here the server leaves that out, so that the
browser does keep them, as another one may. Playwright switches this memory off: this browser is
started with it on. Proven in Chromium only.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from tests.cast import Cast
from tests.journeys.browser import press
from tests.journeys.test_lock import SECRETS, busy_morning, is_gone
from tests.journeys.test_outbox import READY
from tests.tools import programs

pytestmark = pytest.mark.journey

TELLS = """addEventListener('pageshow', ({persisted}) => tellShown(
  persisted, location.pathname, document.body.checkVisibility() ? document.body.innerText : ''))"""


@pytest.fixture
def _kept_pages(live_server: LiveServer) -> Iterator[None]:
    """The server does nothing that makes the browser drop a page that it keeps."""
    httpd: Any = live_server.thread.httpd
    answers = httpd.get_app()

    def lenient(environ: Any, start: Any) -> Any:
        left_out = set()
        if "csrftoken" in environ.get("HTTP_COOKIE", ""):
            left_out = {"Set-Cookie", "Clear-Site-Data"}
        if environ.get("HTTP_SEC_FETCH_MODE") != "navigate":
            left_out.add("Cache-Control")

        def begin(status: str, headers: list[tuple[str, str]], *rest: Any) -> Any:
            return start(status, [one for one in headers if one[0] not in left_out], *rest)

        return answers(environ, begin)

    httpd.set_app(lenient)
    yield
    httpd.set_app(answers)


@pytest.fixture
def shown() -> list[tuple[bool, str, str]]:
    """Each page that was shown: whether from memory, its address, and the words in sight."""
    return []


@pytest.fixture
def page(
    browser: Browser, live_server: LiveServer, shown: list[tuple[bool, str, str]]
) -> Iterator[Page]:
    """A tablet that goes back to pages as they were."""
    remembering = browser.browser_type.launch(
        executable_path=programs.chromium(),
        args=programs.FLAGS.split(),
        ignore_default_args=["--disable-back-forward-cache"],
    )
    context = remembering.new_context(base_url=live_server.url, locale="en-GB", has_touch=True)
    context.expose_binding("tellShown", lambda _, *told: shown.append(told))
    context.add_init_script(TELLS)
    yield context.new_page()
    remembering.close()


def left(page: Page, way: str, heading: str) -> None:
    """The lock by itself, without a touch that other pages would hear of, or signing out."""
    page.wait_for_load_state()
    if way:
        press(page, way)
    expect(page.get_by_role("heading", name=heading)).to_be_visible(timeout=8000)


@pytest.mark.usefixtures("_kept_pages")
@pytest.mark.parametrize(("way", "heading"), [("", "Locked"), ("Sign out", "Sign in")])
def test_no_page_that_the_browser_kept_shows_the_patient_again(
    page: Page,
    cast: Cast,
    shown: list[tuple[bool, str, str]],
    settings: Any,
    way: str,
    heading: str,
) -> None:
    busy_morning(page, cast)
    page.evaluate(READY)  # a page that still fetches is not kept
    settings.IDLE_LOCK_SECONDS = 600 if way else 4
    page.get_by_role("link", name="Ines Marlow").click()
    expect(page.get_by_role("heading", name="Status today")).to_be_visible()
    left(page, way, heading)
    settings.IDLE_LOCK_SECONDS = 600
    told = len(shown)
    for _ in range(3):
        page.go_back(wait_until="commit")
        page.wait_for_timeout(500)
        expect(page.get_by_role("heading", name=heading)).to_be_visible()
        is_gone(page)
    kept = {address.split("/")[1] for persisted, address, _ in shown[told:] if persisted}
    assert kept == ({"patients"} if way else {"patients", "visits"})
    assert [words for persisted, _, words in shown if persisted and words] == []
    everything = " ".join(words for _, _, words in shown[told:])
    assert [secret for secret in SECRETS if secret in everything] == []
    assert [secret for secret in SECRETS if secret in " ".join(one[2] for one in shown)] != []
