"""Files as production serves them, named by their content: a reload without network finds each."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.contrib.staticfiles.storage import staticfiles_storage
from django.core.handlers.wsgi import WSGIHandler
from django.core.management import call_command
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from clinic.models.care import Visit
from tests.cast import MOMENT, Cast
from tests.journeys.browser import Watcher, told, untidy
from tests.journeys.ledger import expected_today, open_ledger, record
from tests.journeys.test_outbox import READY, waits

pytestmark = pytest.mark.journey

HASHED = "whitenoise.storage.CompressedManifestStaticFilesStorage"
FILES = """async () => {
  const names = performance.getEntriesByType('resource').map(({name}) => new URL(name).pathname);
  const files = [...new Set(names.filter((name) => name.startsWith('/static/')))];
  const kept = await Promise.all(files.map((name) => caches.match(name)));
  const tagged = [...document.querySelectorAll('link[href], script[src], img[src]')]
    .map((one) => one.getAttribute('href') ?? one.getAttribute('src'));
  return {tagged, missing: files.filter((_, n) => !kept[n]), files, caches: await caches.keys()};
}"""


@pytest.fixture
def _as_in_production(live_server: LiveServer, settings: Any, tmp_path: Path) -> Iterator[None]:
    """The server serves collected files alone; compressing them is left out, it takes long."""
    settings.STATIC_ROOT = tmp_path
    settings.STORAGES = {**settings.STORAGES, "staticfiles": {"BACKEND": HASHED}}
    settings.WHITENOISE_USE_FINDERS = settings.WHITENOISE_AUTOREFRESH = False
    settings.WHITENOISE_SKIP_COMPRESS_EXTENSIONS = ("css", "html", "js", "json", "svg", "txt")
    call_command("collectstatic", interactive=False, verbosity=0)
    httpd: Any = live_server.thread.httpd
    before = httpd.get_app()
    httpd.set_app(WSGIHandler())
    yield
    httpd.set_app(before)


@pytest.mark.usefixtures("_as_in_production")
def test_no_file_is_missing_when_an_open_visit_is_reloaded_without_network(
    tablet: Page, cast: Cast, watcher: Watcher
) -> None:
    watcher.expect("ERR_INTERNET_DISCONNECTED|htmx:")
    record(cast)
    visit: Visit = expected_today(cast, state="open", opened_at=MOMENT)
    ledger = open_ledger(tablet, cast, visit)
    tablet.evaluate(READY)
    with_network = told(tablet, FILES)
    tablet.context.set_offline(True)
    ledger.type(Flexion__right="134")
    waits(tablet, 1)
    tablet.reload()
    expect(tablet.get_by_role("heading", name="Ines Marlow")).to_be_visible()
    expect(ledger.field("Flexion, right")).to_have_value("134")
    ledger.type(Body_mass="63.4")
    waits(tablet, 2)
    assert untidy(tablet) == []
    shown = told(tablet, FILES)
    storage: Any = staticfiles_storage
    lost = [text for text in watcher.complaints if "Failed to load" in text and "/static/" in text]
    assert lost == []
    assert [with_network["missing"], shown["missing"]] == [[], []]
    assert shown["caches"] == [f"kneeledger-{storage.manifest_hash}"]
    names = set(storage.hashed_files.values())
    tagged = [one for one in shown["tagged"] if one.startswith("/static/")]
    assert [one for one in tagged if one.removeprefix("/static/") not in names] == []
    assert {*tagged} <= {*shown["files"]} <= {*with_network["files"]}
    assert len(tagged) > 20
