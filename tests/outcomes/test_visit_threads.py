"""Two acts on one patient at once leave the status right: 30 of 30 rounds, on PostgreSQL."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date
from threading import Barrier
from uuid import UUID, uuid4

import pytest
from django.db import connection

from clinic import clock
from clinic.models.care import Episode, Visit
from clinic.permissions import Actor
from outcomes.forms.ledger import LedgerForm
from outcomes.models.record import Reading, VisitDraft
from outcomes.models.status import EpisodeStatus
from outcomes.queries.visit import VisitSheet
from outcomes.services import drafts, signing, status
from tests.cast import MOMENT, make_cast
from tests.factories.clinic import EpisodeFactory, PatientFactory, SurgeryFactory
from tests.outcomes.paper import FULL, open_visit

ROUNDS = 30


def sign_at_once(visit: Visit, actor: Actor, barrier: Barrier) -> None:
    """Sign a visit in a thread of its own, at the same moment as the other thread."""
    try:
        with clock.held_at(MOMENT):
            sheet = VisitSheet(Visit.objects.select_related("patient", "site").get(pk=visit.pk))
            found = LedgerForm(sheet=sheet).to_sign
            version = sheet.draft.version if sheet.draft else 0
            barrier.wait(timeout=20)
            signing.sign(
                actor=actor,
                key=uuid4(),
                visit=sheet.visit,
                draft_version=version,
                found=found,
                body={},
            )
    finally:
        connection.close()


def save_at_once(visit: Visit, actor: Actor, number: int, barrier: Barrier) -> None:
    """Save one field from a page of its own, at the same moment as the other pages."""
    try:
        with clock.held_at(MOMENT):
            barrier.wait(timeout=20)
            typed = {f"v:quadriceps_torque:right:{number}": str(100 + number)}
            drafts.save(actor=actor, visit_id=visit.pk, typed=typed, shown={}, sheet=str(uuid4()))
    finally:
        connection.close()


def kept(episode: Episode) -> dict:
    """The kept row without what names its own row."""
    row = EpisodeStatus.objects.values().get(episode=episode)
    return {name: value for name, value in row.items() if name != "id"}


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_two_visits_signed_at_once_leave_the_status_right() -> None:
    with clock.held_at(MOMENT):
        cast = make_cast()
        actor = Actor(staff_id=cast.clinician.pk, site_id=cast.harbour.pk, request_id=UUID(int=7))
        right = 0
        for number in range(ROUNDS):
            patient = PatientFactory(name=f"Round {number}")
            episode = EpisodeFactory(patient=patient, site=cast.harbour)
            SurgeryFactory(episode=episode, recorded_by=cast.clinician)
            visits = [
                open_visit(cast, patient=patient, date=date(2026, 11, day)) for day in (24, 25)
            ]
            for visit, torque in zip(visits, ("101", "119"), strict=True):
                typed = FULL | {"v:quadriceps_torque:right:2": torque}
                drafts.save(
                    actor=actor, visit_id=visit.pk, typed=typed, shown={}, sheet=str(uuid4())
                )
            barrier = Barrier(2)
            with ThreadPoolExecutor(max_workers=2) as pool:
                done = [pool.submit(sign_at_once, visit, actor, barrier) for visit in visits]
            assert [one.exception() for one in done] == [None, None]
            assert Reading.objects.filter(patient=patient).count() == 24
            found = kept(episode)
            status.rebuild(episode_ids=[episode.pk])
            right += found == kept(episode)
        assert right == ROUNDS


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_fields_saved_at_once_from_several_pages_are_all_kept() -> None:
    pages = range(2, 6)
    with clock.held_at(MOMENT):
        cast = make_cast()
        actor = Actor(staff_id=cast.clinician.pk, site_id=cast.harbour.pk, request_id=UUID(int=7))
        for day in range(15, 25):
            visit = open_visit(cast, date=date(2026, 11, day))
            barrier = Barrier(len(pages))
            with ThreadPoolExecutor(max_workers=len(pages)) as pool:
                done = [pool.submit(save_at_once, visit, actor, n, barrier) for n in pages]
            assert [one.exception() for one in done] == [None] * len(pages)
            fields = VisitDraft.objects.get(visit=visit).fields
            assert {name: field["text"] for name, field in fields.items()} == {
                f"v:quadriceps_torque:right:{n}": str(100 + n) for n in pages
            }
