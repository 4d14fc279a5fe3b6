"""Opening and editing an episode: one knee, followed from injury or referral to discharge."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.db.models import F, Min, Q
from django.urls import reverse

from clinic import audit, clock, words
from clinic.models.care import OPEN_CARE_STATES, Episode, EpisodeChange, Surgery, Visit
from clinic.models.people import Patient, Referrer
from clinic.models.places import Membership, Site
from clinic.permissions import Actor, Role
from clinic.services import acts, rules
from clinic.services.details import EpisodeDetails, Operation


def new_errors(
    *, episode: EpisodeDetails, operation: Operation | None, birth_date: date, today: date
) -> rules.Errors:
    """What is wrong with a new episode and its operation; operation fields carry a prefix."""
    found = [(operation.state, operation.date)] if operation else []
    named = [(operation.operation, operation.state)] if operation else []
    of_operation = (
        rules.operation_errors(
            operation=operation,
            birth_date=birth_date,
            injury_date=episode.injury_date,
            today=today,
        )
        if operation
        else {}
    )
    return (
        rules.kind_errors(kind=episode.kind, operations=named)
        | rules.episode_errors(
            episode=episode, birth_date=birth_date, today=today, operations=found
        )
        | {f"operation_{field}": sentence for field, sentence in of_operation.items()}
    )


def create(
    *,
    actor: Actor,
    patient: Patient,
    site: Site,
    episode: EpisodeDetails,
    operation: Operation | None,
) -> Episode:
    """The rows of a new episode, within the caller's act. Raises ``Refused``."""
    rules.refuse_if(
        _followed_already(patient_id=patient.pk, knee=episode.knee),
        _responsible_errors(site_id=site.pk, staff_id=episode.responsible_id),
    )
    follows = {"protocol": site.protocol} if site.protocol else {}
    row = Episode.objects.create(
        patient=patient, site=site, opened_on=clock.today(site), **follows, **_columns(episode)
    )
    if operation:
        Surgery.objects.create(
            episode=row,
            recorded_by_id=actor.staff_id,
            recorded_at=clock.now(),
            **operation_columns(operation),
        )
    return row


def add_episode(
    *,
    actor: Actor,
    key: UUID,
    patient_id: int,
    site_id: int,
    episode: EpisodeDetails,
    operation: Operation | None,
) -> str:
    """Another episode of a patient: the other knee, a revision, or a new start."""

    def do() -> str:
        patient, site = Patient.objects.get(pk=patient_id), Site.objects.get(pk=site_id)
        rules.refuse_if(
            new_errors(
                episode=episode,
                operation=operation,
                birth_date=patient.birth_date,
                today=clock.today(site),
            )
        )
        row = create(actor=actor, patient=patient, site=site, episode=episode, operation=operation)
        status_is_due(patient_id=patient_id)
        audit.write(actor=actor, act="add_episode", subject="episode", subject_ids=[row.pk])
        return reverse("person", args=[patient.uid])

    body = {
        "act": "add_episode",
        "patient": patient_id,
        "site": site_id,
        "episode": asdict(episode),
        "operation": asdict(operation) if operation else None,
    }
    return acts.once(actor=actor, key=key, body=body, patient_id=patient_id, do=do)


def edit_episode(
    *,
    actor: Actor,
    key: UUID,
    patient_id: int,
    episode_id: int,
    seen: int,
    episode: EpisodeDetails,
) -> str:
    """Change an episode's details; what knee, kind and responsible clinician said is kept."""

    def do() -> str:
        row = Episode.objects.select_related("patient", "site").get(pk=episode_id)
        rules.refuse_if(_edit_errors(row, episode))
        acts.bump(row, seen=seen)
        new = _columns(episode)
        for part, column in (("knee", "knee"), ("kind", "kind"), ("responsible", "responsible_id")):
            keep(
                actor=actor, episode=row, part=part, before=getattr(row, column), after=new[column]
            )
        Episode.objects.filter(pk=episode_id).update(**new)
        status_is_due(patient_id=patient_id, but=episode_id)
        audit.write(actor=actor, act="edit_episode", subject="episode", subject_ids=[episode_id])
        return reverse("person", args=[row.patient.uid])

    body = {"act": "edit_episode", "episode": episode_id, "seen": seen, "new": asdict(episode)}
    return acts.once(actor=actor, key=key, body=body, patient_id=patient_id, do=do)


def _edit_errors(row: Episode, new: EpisodeDetails) -> rules.Errors:
    operations = [(s.operation, s.state, s.date) for s in row.surgeries.all()]
    errors = rules.episode_errors(
        episode=new,
        birth_date=row.patient.birth_date,
        today=clock.today(row.site),
        operations=[(state, day) for _, state, day in operations],
    )
    if new.kind != row.kind:
        pairs = [(what, state) for what, state, _ in operations]
        errors |= rules.kind_errors(kind=new.kind, operations=pairs)
    if new.responsible_id != row.responsible_id:
        errors |= _responsible_errors(site_id=row.site_id, staff_id=new.responsible_id)
    if new.knee != row.knee:
        errors |= _knee_errors(row, new.knee)
    return errors


def _knee_errors(row: Episode, knee: str) -> rules.Errors:
    """The knee may be put right until a visit is signed in this episode, or since it began."""
    since = Q(date__gte=row.opened_on) | Q(signed_at__date__gte=row.opened_on - timedelta(days=1))
    if Visit.objects.filter(since, patient_id=row.patient_id, state="signed").exists():
        return {
            "knee": "A visit was signed in this episode, so its knee stays. Discharge it with the "
            "reason and add an episode for the other knee."
        }
    return _followed_already(patient_id=row.patient_id, knee=knee)


def _followed_already(*, patient_id: int, knee: str) -> rules.Errors:
    """At most one open episode a knee."""
    found = Episode.objects.filter(
        patient_id=patient_id, knee=knee, care_state__in=OPEN_CARE_STATES
    ).first()
    if found is None:
        return {}
    return {
        "knee": f"The {knee} knee has been followed since {words.day(found.opened_on)}. Discharge "
        "that episode first, or choose the other knee."
    }


def _responsible_errors(*, site_id: int, staff_id: int | None) -> rules.Errors:
    """The responsible clinician works as clinician at the episode's site."""
    works_here = Membership.objects.filter(
        site_id=site_id, staff_id=staff_id, role=Role.CLINICIAN.value, ended_on__isnull=True
    )
    if staff_id is None or works_here.exists():
        return {}
    return {"responsible_id": "Choose a clinician who works at this site."}


def birth_errors(*, patient_id: int, birth_date: date) -> rules.Errors:
    """A corrected birth date must not lie after anything on record."""
    first = Patient.objects.filter(pk=patient_id).aggregate(
        injury=Min("episodes__injury_date"),
        operation=Min("episodes__surgeries__date"),
        visit=Min("visits__date"),
    )
    earlier = {what: day for what, day in first.items() if day and day < birth_date}
    if not earlier:
        return {}
    what, day = min(earlier.items(), key=lambda item: item[1])
    return {"birth_date": f"The record holds an earlier {what}, on {words.day(day)}."}


def keep(
    *, actor: Actor, episode: Episode, part: str, before: object, after: object, reason: str = ""
) -> None:
    """Keep what an episode said before; nothing when it says the same."""
    old, new = ("" if value is None else str(value) for value in (before, after))
    if old != new:
        EpisodeChange.objects.create(
            episode=episode,
            part=part,
            before=old,
            after=new,
            reason=reason,
            on=clock.today(episode.site),
            made_by_id=actor.staff_id,
            made_at=clock.now(),
        )


def status_is_due(*, patient_id: int, but: int = 0) -> None:
    """Raise the version of the patient's episodes, so that each is judged again. One statement."""
    Episode.objects.filter(patient_id=patient_id).exclude(pk=but).update(version=F("version") + 1)


def _columns(episode: EpisodeDetails) -> dict[str, Any]:
    """The columns of an episode row; a new surgeon or referrer is added to the address book."""
    columns = asdict(episode)
    for part, kind in (("referrer", "physician"), ("surgeon", "surgeon")):
        name, practice = columns.pop(f"{part}_new_name"), columns.pop(f"{part}_new_practice")
        if name:
            row, _ = Referrer.objects.get_or_create(
                name=name, practice=practice, defaults={"kind": kind}
            )
            columns[f"{part}_id"] = row.pk
    return columns


def operation_columns(operation: Operation) -> dict[str, Any]:
    """The columns of a surgery row."""
    return {**asdict(operation), "procedures": list(operation.procedures or ())}
