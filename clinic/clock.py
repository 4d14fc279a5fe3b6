"""The only place that asks what time it is."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

if TYPE_CHECKING:
    from clinic.models.places import Site

_held: ContextVar[datetime | None] = ContextVar("held", default=None)


def now() -> datetime:
    """The present moment, aware, in UTC."""
    return _held.get() or datetime.now(UTC)


def today(site: Site) -> date:
    """The local calendar date at a site: the date that weeks are counted with."""
    return now().astimezone(ZoneInfo(site.zone)).date()


@contextmanager
def held_at(moment: datetime) -> Iterator[None]:
    """Hold the clock at an aware moment: for the demo clinic's past visits and for tests."""
    token = _held.set(moment.astimezone(UTC))
    try:
        yield
    finally:
        _held.reset(token)
