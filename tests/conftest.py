"""What every test gets: watched requests, quick passwords, guards that survive the flush."""

import gc
import os
import pickle
import tomllib
from collections.abc import Iterator, Sequence
from functools import cache
from typing import Any

import hypothesis
import pytest
from django.conf import settings
from django.core.management.base import CommandError
from django.db import connection, connections
from django.template import Context, Template
from django.test import TransactionTestCase, override_settings
from django.test.signals import template_rendered
from django.utils.safestring import SafeString
from zeal.constants import initialize_app_registry
from zeal.patch import patch as let_zeal_listen

from clinic.models.guards import remove_guards

gc.set_threshold(500_000, 50, 100)  # most of a test's objects go without it: a fifth of the time
hypothesis.settings.register_profile("ci", derandomize=True, deadline=None, print_blob=True)
hypothesis.settings.register_profile("here", deadline=None)
hypothesis.settings.load_profile("ci" if os.environ.get("CI") == "true" else "here")
ASKS = {"db", "transactional_db", "django_db_reset_sequences", "live_server"}


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Mark what asks for the database; leave out what belongs to the other round's database."""
    for item in items:
        if item.get_closest_marker("django_db") or ASKS & set(getattr(item, "fixturenames", ())):
            item.add_marker("database")
    other = "sqlite" if connection.vendor == "postgresql" else "postgresql"
    left_out = [item for item in items if item.get_closest_marker(other)]
    config.hook.pytest_deselected(items=left_out)
    items[:] = [item for item in items if item not in left_out]


@pytest.fixture(scope="session", autouse=True)
def _seeds_are_parsed_once() -> Iterator[None]:
    """Every flush seeds the versions again: each file's text is parsed once, and unpacked anew."""
    parse = tomllib.loads
    packed = cache(lambda text: pickle.dumps(parse(text)))

    def loads(text: str, **options: Any) -> dict[str, Any]:
        return parse(text, **options) if options else pickle.loads(packed(text))

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tomllib, "loads", loads)
        yield


def _render(template: Template, context: Context) -> SafeString:
    """Tell a test's client of whole pages; to copy the context of every field takes long."""
    name = template.name or ""
    if not (name.startswith("django/forms/") or "/_" in f"/{name}"):
        template_rendered.send(sender=template, template=template, context=context)
    return template.nodelist.render(context)


@pytest.fixture(scope="session", autouse=True)
def _whole_pages_are_told(django_test_environment: None) -> Iterator[None]:
    """A test's client keeps the contexts of pages, none of the parts within them."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Template, "_render", _render)
        yield


@pytest.fixture(scope="session", autouse=True)
def _watched_and_quick() -> Iterator[None]:
    """Requests that repeat a query raise (``zeal_ignore()`` permits it); passwords hash quickly."""
    initialize_app_registry()
    let_zeal_listen()
    with override_settings(
        MIDDLEWARE=["zeal.middleware.zeal_middleware", *settings.MIDDLEWARE],
        PASSWORD_HASHERS=["django.contrib.auth.hashers.MD5PasswordHasher"],
        WHITENOISE_AUTOREFRESH=True,  # looks a file up when it is asked for, not all at each start
    ):
        yield


def _emptied(ops: Any, style: Any, tables: Sequence[str], **options: bool) -> list[str]:
    """Deleting few rows takes a tenth of the time of truncating; both wait for who still writes."""
    assert not options.get("reset_sequences")
    names = [ops.quote_name(table) for table in tables]
    waits = f"LOCK TABLE {', '.join(names)} IN ACCESS EXCLUSIVE MODE"
    return [waits, *(f"DELETE FROM {name}" for name in names)] if names else []


@pytest.fixture(scope="session", autouse=True)
def _guards_around_the_flush() -> Iterator[None]:
    """The flush after a test with real transactions empties tables that refuse to be emptied."""
    flush = TransactionTestCase._fixture_teardown  # type: ignore[attr-defined]

    def flush_without_guards(case: TransactionTestCase) -> None:
        names = case._databases_names(include_mirrors=False)  # type: ignore[attr-defined]
        for name in names:
            remove_guards(connections[name])
        for tries_left in (4, 3, 2, 1, 0):  # a request that still writes can cross its locks
            try:
                flush(case)  # what follows each migrate follows a flush too: the guards stand again
                return
            except CommandError:
                if not tries_left:
                    raise

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TransactionTestCase, "_fixture_teardown", flush_without_guards)
        if connection.vendor == "postgresql":
            patch.setattr(type(connection.ops), "sql_flush", _emptied)
        yield
