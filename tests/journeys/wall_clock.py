"""One clock for the test and for the threads that serve its pages."""

from contextvars import ContextVar
from datetime import datetime

import pytest

from clinic import clock


class WallClock:
    """Holds the clinic's clock for every thread; ``clock.held_at`` holds it for one alone."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.monkeypatch = monkeypatch

    def hold(self, moment: datetime) -> None:
        """From now on it is this aware moment, everywhere."""
        held: ContextVar[datetime | None] = ContextVar("held", default=moment)
        self.monkeypatch.setattr(clock, "_held", held)
