"""What journeys share: a watcher of the page, axe-core, signing in."""

import re
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from playwright.sync_api import BrowserContext, ConsoleMessage, Page, WebError

from tests.cast import PASSWORD

_AXE = Path(__file__).parent.parent / "vendor" / "axe.min.js"
_TELL = """document.addEventListener('securitypolicyviolation', event =>
    window.tellViolation(`${event.violatedDirective} ${event.blockedURI} ${event.sourceFile}`))"""


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
            text for text in self.complaints if not any(re.search(e, text) for e in self.expected)
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
    page.evaluate(_axe_source())
    found = page.evaluate("() => axe.run(document, {resultTypes: ['violations']})")
    return [
        f"{violation['id']}: {violation['help']}: {node['html']}"
        for violation in found["violations"]
        for node in violation["nodes"]
    ]


def sign_in(page: Page, base_url: str, username: str, password: str = PASSWORD) -> None:
    """Sign in through the page that people use, and wait until it has let them in."""
    page.goto(f"{base_url}/accounts/login/")
    page.locator("input[name=login]").fill(username)
    page.locator("input[name=password]").fill(password)
    page.locator("input[name=password]").press("Enter")
    page.wait_for_url(lambda url: "/accounts/login/" not in url)
