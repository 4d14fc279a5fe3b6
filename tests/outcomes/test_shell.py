"""The ledger without a patient, and the worker that shows it without network."""

from __future__ import annotations

from datetime import timedelta
from html.parser import HTMLParser
from typing import Any

import pytest
from django.test import Client

from clinic.models.audit import AuditEntry
from clinic.models.care import Visit
from tests.cast import MOMENT, TODAY, Cast
from tests.factories.clinic import EpisodeFactory, PatientFactory, SurgeryFactory
from tests.factories.outcomes import both_limbs, signed_visit
from tests.outcomes.paper import Paper, open_visit
from tests.outcomes.story import limit
from tests.web import signed_in


class Ledger(HTMLParser):
    """What can be filled in on a page, and where its ledger without a patient is."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.names: list[str] = []
        self.places: list[str] = []
        self.shell = self.more = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Fields by name, places by their mark."""
        found = {name: value or "" for name, value in attrs}
        if tag in ("input", "select", "textarea") and found.get("type") != "hidden":
            self.names += [found["name"]] if "name" in found else []
        self.places += [found["data-kept"]] if "data-kept" in found else []
        if found.get("id") == "ledger":
            self.shell, self.more = found.get("data-shell", ""), found.get("data-more", "")


@pytest.fixture
def other(cast: Cast) -> Any:
    """Another patient whose right knee is followed under the same protocol, in the same week."""
    patient = PatientFactory(name="Rosa Quennell")
    episode = EpisodeFactory(patient=patient, site=cast.harbour, responsible=cast.clinician)
    SurgeryFactory(episode=episode, recorded_by=cast.clinician)
    return patient


def opened(cast: Cast, patient: Any = None) -> tuple[Ledger, Paper]:
    visit = open_visit(cast, patient=patient) if patient else open_visit(cast)
    paper = Paper(signed_in(cast.clinician), visit)
    return Ledger(paper.response.content.decode()), paper


def test_the_shell_of_two_patients_is_the_same_and_holds_nothing_of_either(
    cast: Cast, other: Any
) -> None:
    past = signed_visit(
        patient=cast.ines, site=cast.harbour, by=cast.clinician, on=TODAY - timedelta(days=21)
    )
    both_limbs(visit=past, measure="quadriceps_torque", left="157.3", right="119.4")
    limit(cast, limit="no kneeling for Ines")
    _, paper = opened(cast)
    paper.type({"v:knee_flexion:right": "133.5", "note": "stairs hurt"}).save()
    paper.read(paper.client.get(paper.address))
    seen = paper.response.content.decode()
    ines = Ledger(seen)
    rosa, _ = opened(cast, other)
    rows = AuditEntry.objects.count()
    assert ines.shell == rosa.shell != ""
    stranger, tess = Client().get(ines.shell), signed_in(cast.clinician).get(ines.shell)
    assert stranger.content == tess.content == Client().get(rosa.shell).content
    assert AuditEntry.objects.count() == rows
    every = Client().get(ines.more).content
    assert every == Client().get(rosa.more).content
    page = stranger.content.decode()
    for text in (
        "Ines", "Marlow", "H-0412", "Rosa", "Quennell", "Tess", "Okafor", "Harbour", "stairs hurt",
        "157.3", "119.4", "133.5", "no kneeling", "12 Aug 2026", "hamstring autograft",
        str(paper.address.split("/")[2]), "csrf", 'data-holds="say-single_hop-right"',
    ):  # fmt: skip
        assert text not in page
        assert text.encode() not in every
    there = (
        "Marlow", "H-0412", "Okafor", "157.3", "119.4", "133.5", "no kneeling", "12 Aug 2026",
        "hamstring autograft", 'data-holds="say-single_hop-right"',
    )  # fmt: skip
    assert [text for text in there if text not in seen] == []
    shell = Ledger(page)
    assert (shell.names, shell.places, shell.shell) == (ines.names, ines.places, ines.shell)
    measured = {name for name in shell.names if not name.startswith("f:")}
    assert {"v:single_hop:right", *measured} <= {*Ledger(every.decode()).names}
    assert "v:single_hop:right" not in measured
    assert stranger.cookies == {}


def test_another_set_has_another_shell_and_a_name_that_is_not_ours_has_none(cast: Cast) -> None:
    ines, paper = opened(cast)
    paper.type({"r:single_hop": "1"})
    added = paper.save(add="single_hop")
    assert added.status_code == 302
    paper.read(paper.client.get(paper.address))
    more = Ledger(paper.response.content.decode())
    assert set(more.names) > set(ines.names)
    assert more.shell != ines.shell
    assert Ledger(Client().get(more.shell).content.decode()).names == more.names
    assert Client().get(ines.shell[:-4] + "abc/").status_code == 404


def test_the_worker_keeps_to_visits_and_files_and_can_be_switched_off(
    cast: Cast, settings: Any
) -> None:
    on = Client().get("/sw.js")
    assert (on["Content-Type"], on["Cache-Control"]) == ("text/javascript", "no-cache")
    script = on.content.decode()
    assert script.count("cache.add") == 1
    assert "cache.put" not in script
    assert "skipWaiting" not in script
    assert opened(cast)[0].shell
    settings.RELOAD_WITHOUT_NETWORK = False
    off = Client().get("/sw.js").content.decode()
    assert 'addEventListener("fetch"' not in off
    assert "registration.unregister()" in off
    Visit.objects.update(state="cancelled")
    ledger, paper = opened(cast)
    assert ledger.shell == ""
    assert "data-worker" not in paper.response.content.decode()


def test_the_end_of_the_shift_is_told_in_seconds(cast: Cast, settings: Any) -> None:
    visit, client = open_visit(cast), signed_in(cast.clinician)
    session = client.session
    session["signed_in_at"] = (MOMENT - timedelta(hours=11)).timestamp()
    session.save()
    page = client.get(f"/visits/{visit.uid}/").content.decode()
    assert 'data-shift="3600"' in page
