"""Operations of an episode: recorded, moved, performed, completed and cancelled."""

from __future__ import annotations

from dataclasses import asdict
from uuid import UUID

from django.urls import reverse

from clinic import audit, clock, words
from clinic.models.care import INDEX_OPERATIONS, Episode, Surgery
from clinic.permissions import Actor
from clinic.services import acts, episodes, rules
from clinic.services.details import Operation


def record_surgery(
    *,
    actor: Actor,
    key: UUID,
    patient_id: int,
    episode_id: int,
    seen: int,
    operation: Operation,
) -> str:
    """A further operation of an episode. An ACL operation makes the episode's kind follow it.

    Answers with the address of the person's page. Raises ``Refused`` and ``Conflict``.
    """

    def do() -> str:
        episode = _episode(episode_id)
        rules.refuse_if(_errors(episode, operation, mine=None))
        acts.bump(episode, seen=seen)
        row = Surgery.objects.create(
            episode=episode,
            recorded_by_id=actor.staff_id,
            recorded_at=clock.now(),
            **episodes.operation_columns(operation),
        )
        _follow(actor, episode, operation, before="")
        audit.write(actor=actor, act="record_surgery", subject="surgery", subject_ids=[row.pk])
        return reverse("person", args=[episode.patient.uid])

    body = {"act": "record_surgery", "episode": episode_id, "seen": seen, "new": asdict(operation)}
    return acts.once(actor=actor, key=key, body=body, patient_id=patient_id, do=do)


def change_surgery(
    *,
    actor: Actor,
    key: UUID,
    patient_id: int,
    episode_id: int,
    surgery_id: int,
    seen: int,
    operation: Operation,
) -> str:
    """Move a planned operation, record it as performed, or fill in what was unknown.

    What was recorded before (state and date) is kept in the episode's history.
    """

    def do() -> str:
        episode = _episode(episode_id)
        row = episode.surgeries.get(pk=surgery_id)
        rules.refuse_if(_errors(episode, operation, mine=row))
        acts.bump(episode, seen=seen)
        before = _state(row.state, row.date)
        Surgery.objects.filter(pk=surgery_id).update(**episodes.operation_columns(operation))
        _follow(actor, episode, operation, before=before)
        audit.write(actor=actor, act="change_surgery", subject="surgery", subject_ids=[surgery_id])
        return reverse("person", args=[episode.patient.uid])

    body = {"act": "change_surgery", "surgery": surgery_id, "seen": seen, "new": asdict(operation)}
    return acts.once(actor=actor, key=key, body=body, patient_id=patient_id, do=do)


def cancel_surgery(
    *,
    actor: Actor,
    key: UUID,
    patient_id: int,
    episode_id: int,
    surgery_id: int,
    seen: int,
    reason: str,
) -> str:
    """Cancel a planned operation, with the reason. The row stays."""

    def do() -> str:
        episode = _episode(episode_id)
        row = episode.surgeries.get(pk=surgery_id)
        if row.state != "planned":
            raise rules.Refused(
                {"": f"This operation is {row.state}: only a planned one is cancelled."}
            )
        acts.bump(episode, seen=seen)
        Surgery.objects.filter(pk=surgery_id).update(state="cancelled")
        episodes.keep(
            actor=actor,
            episode=episode,
            part="operation",
            before=_state(row.state, row.date),
            after=_state("cancelled", row.date),
            reason=reason,
        )
        audit.write(actor=actor, act="cancel_surgery", subject="surgery", subject_ids=[surgery_id])
        return reverse("person", args=[episode.patient.uid])

    body = {"act": "cancel_surgery", "surgery": surgery_id, "seen": seen, "reason": reason}
    return acts.once(actor=actor, key=key, body=body, patient_id=patient_id, do=do)


def _episode(episode_id: int) -> Episode:
    return Episode.objects.select_related("patient", "site").get(pk=episode_id)


def _errors(episode: Episode, operation: Operation, *, mine: Surgery | None) -> rules.Errors:
    errors = rules.operation_errors(
        operation=operation,
        birth_date=episode.patient.birth_date,
        injury_date=episode.injury_date,
        today=clock.today(episode.site),
    )
    if mine and mine.state == "cancelled":
        errors[""] = "This operation was cancelled. Record a new one."
    if operation.operation in INDEX_OPERATIONS:
        errors |= _second_acl_operation(episode, mine)
    return errors


def _second_acl_operation(episode: Episode, mine: Surgery | None) -> rules.Errors:
    """An episode has one ACL operation: a new graft is a new episode."""
    others = episode.surgeries.filter(operation__in=INDEX_OPERATIONS).exclude(state="cancelled")
    found = others.exclude(pk=mine.pk if mine else 0).first()
    if found is None:
        return {}
    return {
        "operation": f"This episode has its operation ({found.state}, {words.day(found.date)}). "
        f"Change that one, choose “{rules.OPERATION['reoperation']}”, or, for a new graft, "
        "discharge this episode and add a new one."
    }


def _follow(actor: Actor, episode: Episode, operation: Operation, *, before: str) -> None:
    """Keep what changed, and let the kind follow an ACL operation."""
    after = _state(operation.state, operation.date)
    if before:
        episodes.keep(actor=actor, episode=episode, part="operation", before=before, after=after)
    if operation.operation in INDEX_OPERATIONS:
        episodes.keep(
            actor=actor,
            episode=episode,
            part="kind",
            before=episode.kind,
            after=operation.operation,
        )
        Episode.objects.filter(pk=episode.pk).update(kind=operation.operation)


def _state(state: str, day: object) -> str:
    return f"{state} {day or ''}".strip()
