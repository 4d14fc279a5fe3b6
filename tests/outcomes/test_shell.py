"""The ledger without a patient, and the worker that shows it without network."""

from __future__ import annotations

from datetime import timedelta
from html.parser import HTMLParser
from typing import Any

import pytest
from django.test import Client

from clinic.models.audit import AuditEntry
from tests.cast import MOMENT, TODAY, Cast
from tests.factories.clinic import EpisodeFactory, PatientFactory, SurgeryFactory
from tests.factories.outcomes import signed_visit
from tests.outcomes.paper import Paper, open_visit
from tests.outcomes.story import limit
from tests.web import signed_in


class Ledger(HTMLParser):
    """What can be filled in on a page, and where its ledger without a patient is."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.names: list[str] = []
        self.places: list[str] = []
        self.shell = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Fields by name, places by their mark."""
        found = {name: value or "" for name, value in attrs}
        if tag in ("input", "select", "textarea") and found.get("type") != "hidden":
            self.names += [found["name"]] if "name" in found else []
        self.places += [found["data-kept"]] if "data-kept" in found else []
        self.shell = self.shell or (found["data-shell"] if found.get("id") == "ledger" else "")


@pytest.fixture
def other(cast: Cast) -> Any:
    """Another patient whose right knee is followed under the same protocol, in the same week."""
    patient = PatientFactory(name="Rosa Quennell")
    episode = EpisodeFactory(patient=patient, site=cast.harbour, responsible=cast.clinician)
    SurgeryFactory(episode=episode, recorded_by=cast.clinician)
    return patient
