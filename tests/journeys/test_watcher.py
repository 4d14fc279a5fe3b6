"""The watcher and axe-core find what is planted, so that "nothing found" means something."""

import pytest
from playwright.sync_api import Page, Route

from tests.journeys.browser import Watcher, axe_findings, untidy

pytestmark = pytest.mark.journey
_BAD = "<html lang=en><title>t</title><main><h1 style='color:red'>One</h1><img src='/x.png'></main>"
_GOOD = "<!doctype html><html lang=en><title>t</title><main><h1>One</h1></main>"


def _serve(page: Page, body: str) -> None:
    def answer(route: Route) -> None:
        status, text = (404, "") if route.request.url.endswith(".png") else (200, body)
        policy = {"Content-Security-Policy": "style-src 'self'; default-src 'self'"}
        route.fulfill(status=status, body=text, content_type="text/html", headers=policy)

    page.route("**/*", answer)
    page.goto("/planted")


def test_planted_faults_are_found(desktop: Page, watcher: Watcher) -> None:
    _serve(desktop, _BAD)
    assert [finding.split(":")[0] for finding in axe_findings(desktop)] == ["image-alt"]
    kinds = sorted(text.split(":")[0] for text in watcher.unexpected())
    assert kinds == ["error", "error", "policy"]
    watcher.expect("Content Security Policy|style-src-attr")
    assert [text.split(" (")[0] for text in watcher.unexpected()] == [
        "error: Failed to load resource: the server responded with a status of 404"
    ]
    watcher.expect("status of 404")


def test_a_planted_small_target_and_a_wide_line_are_found(phone: Page) -> None:
    wide = "<button>x</button><pre>" + "wide " * 200 + "</pre></main>"
    _serve(phone, _GOOD.replace("</main>", wide))
    kinds = [finding.split(" by ")[0].split(": x")[0] for finding in untidy(phone)]
    assert kinds == ["wider than the window", "small target"]


def test_a_quiet_page_is_quiet(tablet: Page, watcher: Watcher) -> None:
    _serve(tablet, _GOOD)
    assert axe_findings(tablet) == []
    assert watcher.complaints == []
