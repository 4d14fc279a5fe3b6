"""Signing a visit: the one act that inserts readings."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, time
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import F
from django.urls import reverse

from clinic import audit, clock
from clinic.http import Conflict
from clinic.models.care import Visit
from clinic.permissions import Actor
from clinic.services import acts
from outcomes.core.entries import Entry
from outcomes.models.record import Reading, VisitDraft
from outcomes.queries.visit import ToSign
from outcomes.services import red_flags, status

NOON = time(12)


def sign(
    *,
    actor: Actor,
    key: UUID,
    visit: Visit,
    draft_version: int,
    found: ToSign,
    body: Mapping[str, Any],
) -> str:
    """Sign an open visit: readings, red flags, state, audit and status in one transaction.

    ``draft_version`` is the draft that ``found`` was read from; one that moved since is a
    conflict, and so is a visit that somebody else works on: they take it over first. ``body`` is
    what was posted: posting it again under the same key changes nothing and gives the same
    answer, the visit's address.
    """

    answer = reverse("visit", args=[visit.uid])

    def do() -> str:
        held = _held(actor=actor, visit=visit, draft_version=draft_version)
        _insert_readings(actor=actor, visit=held, found=found)
        red_flags.insert(
            actor=actor,
            visit=held,
            asked=found.asked,
            answers=found.answers,
            action=found.action,
            contacted=found.contacted,
        )
        Visit.objects.filter(pk=held.pk).update(
            state="signed",
            signed_at=clock.now(),
            signed_by_id=actor.staff_id,
            note=found.note,
            version=F("version") + 1,
        )
        VisitDraft.objects.filter(visit_id=held.pk).delete()
        audit.write(actor=actor, act="sign_visit", subject="visit", subject_ids=[held.pk])
        status.rebuild_followed(patient_id=held.patient_id, rules=found.rules)
        return answer

    return _once(actor=actor, key=key, visit=visit, body=body, do=do, answer=answer)


def answer_again(*, actor: Actor, key: UUID, visit: Visit, body: Mapping[str, Any]) -> str:
    """The answer of a signing that was posted twice; a conflict where it was not."""

    def do() -> str:
        raise Conflict(
            "This visit is signed already. What you typed is not in it: correct the signed "
            "measurement instead."
        )

    return _once(actor=actor, key=key, visit=visit, body=body, do=do)


def _once(
    *,
    actor: Actor,
    key: UUID,
    visit: Visit,
    body: Mapping[str, Any],
    do: Callable[[], str],
    answer: str = "",
) -> str:
    return acts.once(
        actor=actor,
        key=key,
        body={"act": "sign_visit", "visit": visit.pk, **body},
        patient_id=visit.patient_id,
        do=do,
        answer=answer,
    )


def _held(*, actor: Actor, visit: Visit, draft_version: int) -> Visit:
    """The visit, locked against draft saves, as long as it is what the person saw."""
    held = Visit.objects.select_for_update().get(pk=visit.pk)
    held.site = visit.site
    if held.state != "open":
        raise Conflict("This visit is not open any more. Open the page afresh to see it.")
    if held.clinician_id != actor.staff_id:
        raise Conflict("A colleague works on this visit. Take it over first, then sign.")
    version = VisitDraft.objects.filter(visit_id=held.pk).values_list("version", flat=True).first()
    if (version or 0) != draft_version:
        raise Conflict("Something was typed on another tablet meanwhile. Look at it, then sign.")
    return held


def _insert_readings(*, actor: Actor, visit: Visit, found: ToSign) -> None:
    measured_at, now = found.measured_at or measured_on(visit=visit), clock.now()
    Reading.objects.bulk_create(
        Reading(
            visit=visit,
            patient_id=visit.patient_id,
            date=visit.date,
            measure_version_id=found.rules.measure_ids[one.entry.measure],
            measured_at=measured_at,
            saved_on_device_at=one.saved_on_device_at,
            recorded_at=now,
            recorded_by_id=one.author or actor.staff_id,
            **columns(entry=one.entry),
        )
        for one in found.entries
    )


def columns(*, entry: Entry) -> dict[str, Any]:
    """An entry as the columns of a reading."""
    return {
        "measure": entry.measure,
        "limb": entry.limb.value,
        "comparison_key": entry.key,
        "status": entry.status.value,
        "value": entry.value,
        "typed_text": entry.typed_text,
        "typed_unit": entry.typed_unit,
        "trials": list(entry.trials),
        "conditions": entry.conditions,
        "details": dict(entry.details),
        "reason": entry.reason,
    }


def measured_on(*, visit: Visit) -> datetime:
    """When it was measured: when the visit was opened, or noon of its day if written up later."""
    zone = ZoneInfo(visit.site.zone)
    if visit.opened_at and visit.opened_at.astimezone(zone).date() == visit.date:
        return visit.opened_at
    return datetime.combine(visit.date, NOON, tzinfo=zone)
