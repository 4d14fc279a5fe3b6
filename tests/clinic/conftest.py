"""What the tests of the clinic share: the cast, the clock held at its moment, no old misses."""

from collections.abc import Iterator

import pytest
from django.core.cache import cache

from clinic import clock
from tests.cast import MOMENT, Cast, make_cast


@pytest.fixture
def cast(db: None) -> Iterator[Cast]:
    """The standing cast on Wednesday 25 November 2026, 09:00 UTC."""
    cache.clear()
    with clock.held_at(MOMENT):
        yield make_cast()
