"""The door: the object, 404 for an outsider, 403 for a colleague without the right; all noted."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.http import Http404, HttpRequest
from django.test import RequestFactory
from django_htmx.middleware import HtmxDetails

from clinic import access, clock
from clinic.http import StaffRequest
from clinic.middleware import fill, roles_of
from clinic.models.audit import AuditEntry
from clinic.models.places import Membership, StaffMember
from clinic.permissions import Action
from tests.cast import MOMENT, Cast, make_cast
from tests.factories.clinic import EpisodeFactory, PatientFactory, VisitFactory
from tests.web import signed_in


def _asked_by(person: StaffMember, *, htmx: bool = False, method: str = "GET") -> StaffRequest:
    request: HttpRequest = RequestFactory().generic(
        method, "/", headers={"HX-Request": "true"} if htmx else {}
    )
    request.user, request.session = person, {}  # type: ignore[assignment]
    request.request_id, request.htmx = uuid4(), HtmxDetails(request)  # type: ignore[attr-defined]
    fill(request, roles_of(person.pk))
    return request  # type: ignore[return-value]


def _rows() -> list[tuple[str, str, str, list[int], str, str]]:
    return [
        (row.staff.username, row.act, row.subject, row.subject_ids, row.outcome, row.note)
        for row in AuditEntry.objects.select_related("staff").order_by("id")
        if row.staff
    ]


def test_a_clinician_gets_the_patient_and_the_page_is_noted(cast: Cast) -> None:
    found = access.patient(_asked_by(cast.clinician), cast.ines.uid, Action.SEE_RECORD)
    assert found == cast.ines
    assert _rows() == [("clinician", "see_record", "patient", [cast.ines.pk], "done", "")]


def test_posts_and_fragments_of_a_page_that_was_shown_write_no_page_seen(cast: Cast) -> None:
    access.patient(_asked_by(cast.clinician, method="POST"), cast.ines.uid, Action.SEE_RECORD)
    assert _rows() == []
    seen = ("clinician", "see_record", "patient", [cast.ines.pk], "done", "")
    access.patient(_asked_by(cast.clinician), cast.ines.uid, Action.SEE_RECORD)
    access.patient(_asked_by(cast.clinician, htmx=True), cast.ines.uid, Action.SEE_RECORD)
    access.episode(_asked_by(cast.clinician, htmx=True), cast.episode.uid, Action.SEE_RECORD)
    assert _rows() == [seen]


def test_a_fragment_of_a_page_that_was_not_shown_is_noted_like_the_page(cast: Cast) -> None:
    """Anybody can send the header that marks a fragment; it must not hide who looked."""
    lead, fragment = cast.lead, _asked_by(cast.clinician, htmx=True)
    access.patient(_asked_by(lead), cast.ines.uid, Action.SEE_RECORD)
    access.episode(fragment, cast.episode.uid, Action.SEE_RECORD)
    with clock.held_at(clock.now() + timedelta(hours=13)):
        access.episode(fragment, cast.episode.uid, Action.SEE_RECORD)
    noted = ("clinician", "see_record", "episode", [cast.episode.pk], "done", "")
    assert _rows() == [
        ("lead", "see_record", "patient", [cast.ines.pk], "done", ""), noted, noted,
    ]  # fmt: skip


def test_a_colleague_without_the_right_is_refused_with_403(cast: Cast) -> None:
    with pytest.raises(PermissionDenied):
        access.patient(_asked_by(cast.desk), cast.ines.uid, Action.SEE_RECORD)
    assert _rows() == [("desk", "see_record", "patient", [cast.ines.pk], "refused", "")]


@pytest.mark.parametrize("room", ["patient", "episode", "visit"])
def test_an_outsider_learns_nothing_not_even_that_it_exists(cast: Cast, room: str) -> None:
    visit = VisitFactory(patient=cast.ines, site=cast.harbour, clinician=cast.clinician)
    there: Any = {"patient": cast.ines, "episode": cast.episode, "visit": visit}[room]
    told = []
    for uid in (there.uid, uuid4()):
        with pytest.raises(Http404) as refusal:
            getattr(access, room)(_asked_by(cast.outsider), uid, Action.SEE_RECORD)
        told.append(str(refusal.value))
    assert told[0] == told[1]
    assert _rows() == [
        ("outsider", "see_record", room, [there.pk], "refused", "outsider"),
        ("outsider", "see_record", room, [], "refused", "unknown address"),
    ]


def test_a_referrer_is_the_organisations_and_needs_the_right(cast: Cast) -> None:
    manage = Action.MANAGE_REFERRERS
    assert access.referrer(_asked_by(cast.outsider), cast.surgeon.uid, manage) == cast.surgeon
    with pytest.raises(PermissionDenied):
        access.referrer(_asked_by(cast.desk), cast.surgeon.uid, Action.WRITE_LETTER)


def test_roles_count_at_the_sites_of_the_patients_episodes_only(cast: Cast) -> None:
    Membership.objects.create(staff=cast.outsider, site=cast.harbour, role="front_desk")
    request = _asked_by(cast.outsider)
    assert access.patient(request, cast.ines.uid, Action.SEE_PERSON) == cast.ines
    with pytest.raises(PermissionDenied):
        access.patient(request, cast.ines.uid, Action.SEE_RECORD)
    EpisodeFactory(patient=cast.ines, site=cast.millbank, knee="left")
    assert access.patient(request, cast.ines.uid, Action.SEE_RECORD) == cast.ines


def test_a_role_that_ended_opens_nothing(cast: Cast) -> None:
    Membership.objects.filter(staff=cast.clinician).update(ended_on=MOMENT.date())
    assert roles_of(cast.clinician.pk) == {}
    Membership.objects.create(staff=cast.clinician, site=cast.millbank, role="clinician")
    with pytest.raises(Http404):
        access.patient(_asked_by(cast.clinician), cast.ines.uid, Action.SEE_RECORD)


def test_lists_hold_the_patients_of_ones_sites_once_each(cast: Cast) -> None:
    EpisodeFactory(patient=cast.ines, site=cast.harbour, knee="left")
    elsewhere = PatientFactory(name="Otto Elsewhere")
    EpisodeFactory(patient=elsewhere, site=cast.millbank)
    assert list(access.patients(_asked_by(cast.clinician), Action.SEE_RECORD)) == [cast.ines]
    assert list(access.patients(_asked_by(cast.outsider), Action.SEE_RECORD)) == [elsewhere]
    with pytest.raises(PermissionDenied):
        access.patients(_asked_by(cast.desk), Action.SEE_RECORD)


@pytest.mark.django_db(transaction=True)
def test_the_row_of_a_refusal_outlives_the_refusal() -> None:
    """What the door writes is committed before it refuses, so a rollback cannot take it away."""
    with clock.held_at(MOMENT):
        cast = make_cast()
        answer = signed_in(cast.desk).get("/clinic/")
    assert answer.status_code == 403
    assert not transaction.get_connection().in_atomic_block
    assert _rows() == [("desk", "manage_staff", "site", [cast.harbour.pk], "refused", "")]
