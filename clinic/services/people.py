"""Registering and editing a patient."""

from __future__ import annotations

from dataclasses import asdict
from uuid import UUID

from django.db import IntegrityError, transaction
from django.urls import reverse

from clinic import audit, clock, words
from clinic.models.people import Patient, RecordNumber
from clinic.models.places import Site
from clinic.permissions import Actor
from clinic.services import acts, episodes, rules
from clinic.services.details import EpisodeDetails, Operation, Person


def register(
    *,
    actor: Actor,
    key: UUID,
    site_id: int,
    person: Person,
    record_number: str,
    episode: EpisodeDetails,
    operation: Operation | None,
) -> str:
    """A new patient with record number, episode and operation, all or nothing.

    Answers with the address of the person's page. Raises ``Refused`` with a sentence per field.
    """

    def do() -> str:
        site = Site.objects.get(pk=site_id)
        rules.refuse_if(
            rules.person_errors(person=person, today=clock.today(site)),
            episodes.new_errors(
                episode=episode,
                operation=operation,
                birth_date=person.birth_date,
                today=clock.today(site),
            ),
        )
        patient = Patient.objects.create(
            **asdict(person), name_folded=folded(person.name), registered_at=clock.now()
        )
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
