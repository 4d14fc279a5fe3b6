"""What journeys share: a watcher of the page, axe-core, signing in."""

import re
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from playwright.sync_api import BrowserContext, ConsoleMessage, Page, WebError

from clinic.models.places import StaffMember
from tests.cast import PASSWORD
from tests.web import signed_in

_AXE = Path(__file__).parent.parent / "vendor" / "axe.min.js"
_TELL = """document.addEventListener('securitypolicyviolation', event =>
    window.tellViolation(`${event.violatedDirective} ${event.blockedURI} ${event.sourceFile}`))"""


_LEFT_EARLY = "error: An unknown error occurred when fetching the script."
"""The browser's own word when a page is left, or its network goes, while the worker is fetched."""


@dataclass(kw_only=True)
class Watcher:
    """Collects what a page complains about: policy violations, console errors, uncaught errors.

    A test that provokes an error says so first: ``watcher.expect("status of 409")``.
    """

    complaints: list[str] = field(default_factory=list)
    expected: list[str] = field(default_factory=list)

    def watch(self, context: BrowserContext) -> None:
        """Listen to every page of the context, from before its first script."""
        context.expose_binding("tellViolation", self._violation)
        context.add_init_script(_TELL)
        context.on("console", self._console)
        context.on("weberror", self._uncaught)

    def expect(self, pattern: str) -> None:
        """Complaints that match the pattern are part of the test."""
        self.expected.append(pattern)

    def unexpected(self) -> list[str]:
        """The complaints that no expected pattern matches."""
        return [
            text
            for text in self.complaints
            if not text.startswith(_LEFT_EARLY)
            and not any(re.search(e, text) for e in self.expected)
        ]

    def _violation(self, source: object, text: str) -> None:
        self.complaints.append(f"policy: {text}")

    def _console(self, message: ConsoleMessage) -> None:
        if message.type in ("error", "warning"):
            self.complaints.append(f"{message.type}: {message.text} ({message.location['url']})")

    def _uncaught(self, error: WebError) -> None:
        self.complaints.append(f"uncaught: {error.error}")


@cache
def _axe_source() -> str:
    return _AXE.read_text(encoding="utf-8")


def axe_findings(page: Page) -> list[str]:
    """Run axe-core over the whole page, all of its rules; one line for each element found."""
    if not page.evaluate("() => 'axe' in window"):
        page.evaluate(_axe_source())
    found = page.evaluate("() => axe.run(document, {resultTypes: ['violations']})")
    return [
        f"{violation['id']}: {violation['help']}: {node['html']}"
        for violation in found["violations"]
        for node in violation["nodes"]
    ]


def told(page: Page, script: str) -> Any:
    """What a script of the page answers, an error if it has not after 10 s: stores can hang."""
    late = "new Promise((_, no) => setTimeout(no, 10000, new Error('no answer')))"
    return page.evaluate(f"() => Promise.race([({script})(), {late}])")


def sign_in(page: Page, base_url: str, username: str, password: str = PASSWORD) -> None:
    """Sign in through the page that people use, and wait until it has let them in."""
    page.goto(f"{base_url}/accounts/login/")
    page.locator("input[name=login]").fill(username)
    page.locator("input[name=password]").fill(password)
    page.locator("input[name=password]").press("Enter")
    page.wait_for_url(lambda url: "/accounts/login/" not in url)


def give_session(page: Page, key: str) -> None:
    """Let the window be known by a session of the server."""
    page.context.add_cookies(
        [{"name": "sessionid", "value": key, "domain": "localhost", "path": "/"}]
    )


def let_in(page: Page, person: StaffMember) -> None:
    """Give the window the session of somebody who signed in just now."""
    give_session(page, signed_in(person).cookies["sessionid"].value)


def press(page: Page, name: str, *, exact: bool = False) -> None:
    """Press a button that leads to another page, and wait for that page."""
    with page.expect_navigation():
        page.get_by_role("button", name=name, exact=exact).click()


_TARGETS = """() => [...document.querySelectorAll(
    'button, .button, select, textarea, summary, nav a, input:not([type=hidden])')]
  .map(one => one.matches('[type=radio], [type=checkbox]') ? one.closest('label') : one)
  .filter(one => one.checkVisibility({visibilityProperty: true}))
  .map(one => [one.innerText || one.id || one.name, one.getBoundingClientRect()])
  .filter(([, box]) => box.width > 1 && (box.width < 47.5 || box.height < 47.5))
  .map(([words, box]) => `${words}: ${box.width} x ${box.height} px`)"""
_WIDER = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"


def untidy(page: Page) -> list[str]:
    """What is wrong with the looks of a page: axe-core, wider than the window, small targets."""
    wider = page.evaluate(_WIDER)
    return [
        *axe_findings(page),
        *([f"wider than the window by {wider} px"] if wider > 0 else []),
        *(f"small target: {found}" for found in page.evaluate(_TARGETS)),
    ]


_CROWDED = """() => {
  const targets = [...document.querySelectorAll(
      'button, .button, select, textarea, summary, nav a, input:not([type=hidden])')]
    .map(one => one.matches('[type=radio], [type=checkbox]') ? one.closest('label') : one)
    .filter(one => one.checkVisibility({visibilityProperty: true}))
    .filter(one => !one.closest('.act-bar, .ledger-heads'))
    .map(one => [one, one.getBoundingClientRect()]);
  const near = ([one, a], [other, b]) => !one.contains(other) && !other.contains(one) &&
    Math.max(a.left - b.right, b.left - a.right) < 7.5 &&
    Math.max(a.top - b.bottom, b.top - a.bottom) < 7.5;
  return targets.flatMap((one, n) => targets.slice(n + 1).filter(other => near(one, other)).map(
    other => `${one[0].innerText || one[0].name} and ${other[0].innerText || other[0].name}`));
}"""


def crowded(page: Page) -> list[str]:
    """Pairs of targets with less than 8 px between them; what sticks lies above the page."""
    found: list[str] = page.evaluate(_CROWDED)
    return found
