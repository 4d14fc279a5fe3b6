"""What every test gets: watched requests, quick passwords, guards that survive the flush."""

import gc
import os
from collections.abc import Iterator

import hypothesis
import pytest
from django.conf import settings
from django.db import connection, connections
from django.test import TransactionTestCase, override_settings
from zeal.constants import initialize_app_registry
from zeal.patch import patch as let_zeal_listen

from clinic.models.guards import install_guards, remove_guards

gc.set_threshold(100_000, 50, 100)  # most of a test's objects go without it: a sixth of the time
hypothesis.settings.register_profile("ci", derandomize=True, deadline=None, print_blob=True)
hypothesis.settings.register_profile("here", deadline=None)
hypothesis.settings.load_profile("ci" if os.environ.get("CI") == "true" else "here")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out tests that belong to the other database; they run in the other round."""
    other = "sqlite" if connection.vendor == "postgresql" else "postgresql"
    left_out = [item for item in items if item.get_closest_marker(other)]
    config.hook.pytest_deselected(items=left_out)
    items[:] = [item for item in items if item not in left_out]


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


@pytest.fixture(scope="session", autouse=True)
def _guards_around_the_flush() -> Iterator[None]:
    """The flush after a test with real transactions empties tables that refuse to be emptied."""
    flush = TransactionTestCase._fixture_teardown  # type: ignore[attr-defined]

    def flush_without_guards(case: TransactionTestCase) -> None:
        names = case._databases_names(include_mirrors=False)  # type: ignore[attr-defined]
        for name in names:
            remove_guards(connections[name])
        try:
            flush(case)
        finally:
            for name in names:
                install_guards(connections[name])

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TransactionTestCase, "_fixture_teardown", flush_without_guards)
        yield
