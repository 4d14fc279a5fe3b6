"""What the tests of outcomes share: the cast, and the clock held at its moment."""

from collections.abc import Iterator

import pytest

from clinic import clock
from clinic.models.care import Visit
from tests.cast import MOMENT, Cast, make_cast
from tests.outcomes.paper import open_visit
from tests.outcomes.tablet import Tablet


@pytest.fixture
def cast(db: None) -> Iterator[Cast]:
    """The standing cast on Wednesday 25 November 2026, 09:00 UTC."""
    with clock.held_at(MOMENT):
        yield make_cast()


@pytest.fixture
def harbour(cast: Cast) -> Cast:
    """The cast without an episode, so that the rows of a list are all the test's own."""
    cast.surgery.delete()
    cast.episode.delete()
    return cast


@pytest.fixture
def visit(cast: Cast) -> Visit:
    """Ines Marlow's open visit of today."""
    return open_visit(cast)


@pytest.fixture
def tablet(cast: Cast, visit: Visit) -> Tablet:
    """A tablet on which the clinician has that visit open."""
    return Tablet(cast, visit)
