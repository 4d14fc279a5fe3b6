"""Registering and editing a patient."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import asdict
from uuid import UUID

from django.db import IntegrityError, transaction
from django.urls import reverse

from clinic import audit, clock, words
from clinic.models.people import Patient, RecordNumber
from clinic.models.places import Site
from clinic.permissions import Actor
from clinic.queries.finding import Found, alike
from clinic.services import acts, episodes, rules
from clinic.services.details import EpisodeDetails, Operation, Person


class MaybeTheSame(rules.Refused):
    """Somebody who is registered could be this person: compare before registering twice."""

    def __init__(self, found: Sequence[Found]) -> None:
        super().__init__({"": "Somebody like this is registered. Compare before going on."})
        self.found = found


def register(
    *,
    actor: Actor,
    key: UUID,
    site_id: int,
    person: Person,
    record_number: str,
    episode: EpisodeDetails,
    operation: Operation | None,
    look_among: Collection[int],
    compared: Collection[str] = (),
) -> str:
    """A new patient with record number, episode and operation, all or nothing.

    Answers with the address of the person's page. Raises ``Refused`` with a sentence per field,
    and ``MaybeTheSame`` when patients of the sites ``look_among`` could be this person and their
    uids are not among those ``compared``.
    """

    def do() -> str:
        site = Site.objects.get(pk=site_id)
        _look_for_the_same(person, record_number, look_among, compared)
        today, born = clock.today(site), person.birth_date
        rules.refuse_if(
            rules.person_errors(person=person, today=today),
            episodes.new_errors(episode=episode, operation=operation, birth_date=born, today=today),
        )
        patient = _create(person)
        set_record_number(patient_id=patient.pk, site_id=site_id, number=record_number)
        episodes.create(
            actor=actor, patient=patient, site=site, episode=episode, operation=operation
        )
        audit.write(actor=actor, act="register", subject="patient", subject_ids=[patient.pk])
        return reverse("person", args=[patient.uid])

    body = {
        "act": "register",
        "site": site_id,
        "person": asdict(person),
        "number": record_number,
        "episode": asdict(episode),
        "operation": asdict(operation) if operation else None,
    }
    return acts.once(actor=actor, key=key, body=body, patient_id=None, do=do)


def _create(person: Person) -> Patient:
    return Patient.objects.create(
        **asdict(person), name_folded=folded(person.name), registered_at=clock.now()
    )


def _look_for_the_same(
    person: Person, number: str, look_among: Collection[int], compared: Collection[str]
) -> None:
    mine = Patient.objects.filter(episodes__site_id__in=look_among).distinct()
    found = alike(patients=mine, name=person.name, birth_date=person.birth_date, number=number)
    if {str(row.patient.uid) for row in found} - set(compared):
        raise MaybeTheSame(found)


def edit_person(
    *,
    actor: Actor,
    key: UUID,
    patient_id: int,
    seen: int,
    site_id: int,
    person: Person,
    record_number: str,
) -> str:
    """Change a person's details and their record number at a site; the episodes' status is due.

    Raises ``Conflict`` when somebody else changed the person after version ``seen``.
    """

    def do() -> str:
        patient = Patient.objects.get(pk=patient_id)
        today = clock.today(Site.objects.get(pk=site_id))
        rules.refuse_if(
            rules.person_errors(person=person, today=today),
            episodes.birth_errors(patient_id=patient_id, birth_date=person.birth_date),
        )
        acts.bump(patient, seen=seen)
        Patient.objects.filter(pk=patient_id).update(
            **asdict(person), name_folded=folded(person.name)
        )
        set_record_number(patient_id=patient_id, site_id=site_id, number=record_number)
        episodes.status_is_due(patient_id=patient_id)
        audit.write(actor=actor, act="edit_person", subject="patient", subject_ids=[patient_id])
        return reverse("person", args=[patient.uid])

    body = {
        "act": "edit_person",
        "patient": patient_id,
        "seen": seen,
        "person": asdict(person),
        "number": record_number,
    }
    return acts.once(actor=actor, key=key, body=body, patient_id=patient_id, do=do)


def folded(name: str) -> str:
    """The search key of a name, no longer than its column."""
    return words.fold(name)[:160]


def set_record_number(*, patient_id: int, site_id: int, number: str) -> None:
    """The patient's number at the site; empty takes it away. ``Refused`` when it is taken."""
    mine = RecordNumber.objects.filter(patient_id=patient_id, site_id=site_id)
    if not number:
        mine.delete()
        return
    try:
        with transaction.atomic():
            if not mine.update(number=number):
                RecordNumber.objects.create(patient_id=patient_id, site_id=site_id, number=number)
    except IntegrityError as taken:
        raise rules.Refused(
            {"record_number": f"{number} is another patient's record number at this site."}
        ) from taken
