"""The browser of the journeys and its windows: tablet, desktop, phone, and one without script."""

import os
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.core.cache import cache
from django.db import connection
from playwright.sync_api import Browser, Page, sync_playwright
from pytest_django.live_server_helper import LiveServer

from tests.cast import MOMENT, Cast, make_cast
from tests.journeys.browser import Watcher
from tests.journeys.wall_clock import WallClock
from tests.tools import programs

_TABLET = {"viewport": {"width": 820, "height": 1180}, "has_touch": True}
_DESKTOP = {"viewport": {"width": 1280, "height": 800}}
_PHONE = {"viewport": {"width": 320, "height": 640}, "has_touch": True}

Opener = Callable[..., Page]


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix: None, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """SQLite lies in a file: in memory the server's threads would share one connection.

    On PostgreSQL each worker has a database of its own.
    """
    if connection.vendor == "sqlite":
        file = tmp_path_factory.mktemp("database") / "journeys.sqlite3"
        connection.settings_dict["TEST"]["NAME"] = str(file)


@pytest.fixture(scope="session")
def live_server(django_db_setup: None, live_server: LiveServer) -> LiveServer:
    """The server starts once it is known that the database is not in memory."""
    return live_server


@pytest.fixture
def wall_clock(monkeypatch: pytest.MonkeyPatch) -> WallClock:
    """Wednesday 25 November 2026, 09:00 UTC, for the test and for the server's own threads."""
    held = WallClock(monkeypatch)
    held.hold(MOMENT)
    return held


@pytest.fixture
def cast(transactional_db: None, wall_clock: WallClock) -> Cast:
    """The standing cast as committed rows, without any tries of an earlier test."""
    cache.clear()
    return make_cast()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """The system's Chromium; playwright's own loop must not make Django refuse its database."""
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=programs.chromium(), args=programs.FLAGS.split()
        )
        yield browser
        browser.close()


@pytest.fixture
def watcher() -> Iterator[Watcher]:
    """Fails the test for anything a page complained about unexpectedly."""
    watcher = Watcher()
    yield watcher
    assert watcher.unexpected() == []


@pytest.fixture
def open_window(browser: Browser, live_server: LiveServer, watcher: Watcher) -> Iterator[Opener]:
    """Open windows, each with its own cookies; addresses may be given without the host."""
    contexts = []

    def open_one(**options: Any) -> Page:
        context = browser.new_context(base_url=live_server.url, locale="en-GB", **options)
        context.set_default_timeout(10_000)
        contexts.append(context)
        watcher.watch(context)
        return context.new_page()

    yield open_one
    for context in contexts:
        context.close()


@pytest.fixture
def tablet(open_window: Opener) -> Page:
    """A tablet held upright, touched."""
    return open_window(**_TABLET)


@pytest.fixture
def desktop(open_window: Opener) -> Page:
    """A desk's screen with a mouse."""
    return open_window(**_DESKTOP)


@pytest.fixture
def phone(open_window: Opener) -> Page:
    """The narrowest window that must work."""
    return open_window(**_PHONE)


@pytest.fixture
def without_script(open_window: Opener) -> Page:
    """The tablet with JavaScript switched off."""
    return open_window(**_TABLET, java_script_enabled=False)
