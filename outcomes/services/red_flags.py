"""Red-flag checks as rows: with the signed visit, or later when notes follow an urgent act."""

from __future__ import annotations

from collections.abc import Mapping
from uuid import UUID

from django.urls import reverse

from clinic import audit, clock
from clinic.http import Unprocessable
from clinic.models.care import Visit
from clinic.permissions import Actor
from clinic.services import acts
from outcomes.core.redflags import tier
from outcomes.models.record import RedFlagCheck
from outcomes.services import status


def insert(
    *,
    actor: Actor,
    visit: Visit,
    asked: str,
    answers: Mapping[str, bool],
    action: str,
    contacted: str,
) -> None:
    """One check of a visit. Without any answer nothing was asked, and there is no row."""
    if not answers:
        return
    found = tier(answers=answers)
    RedFlagCheck.objects.create(
        visit=visit,
        form=asked,
        answers=dict(answers),
        tier=found.value if found else "",
        action=action.strip(),
        contacted=contacted.strip()[:160],
        recorded_at=clock.now(),
        recorded_by_id=actor.staff_id,
    )


def record(
    *,
    actor: Actor,
    key: UUID,
    visit: Visit,
    asked: str,
    answers: Mapping[str, bool],
    action: str,
    contacted: str,
) -> str:
    """A later check of a signed visit: what was done and who was told, or questions asked late."""

    def do() -> str:
        if not answers:
            raise Unprocessable("Answer at least one question.")
        insert(
            actor=actor,
            visit=visit,
            asked=asked,
            answers=answers,
            action=action,
            contacted=contacted,
        )
        audit.write(actor=actor, act="check_red_flags", subject="visit", subject_ids=[visit.pk])
        status.rebuild_followed(patient_id=visit.patient_id)
        return reverse("visit", args=[visit.uid])

    body = {
        "act": "check_red_flags",
        "visit": visit.pk,
        "asked": asked,
        "answers": dict(answers),
        "action": action,
        "contacted": contacted,
    }
    return acts.once(actor=actor, key=key, body=body, patient_id=visit.patient_id, do=do)
