"""After signing: corrections and withdrawals are new rows that supersede, with a reason."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.urls import reverse

from clinic import audit, clock
from clinic.http import Conflict, Unprocessable
from clinic.permissions import Actor
from clinic.services import acts
from outcomes.core.entries import Entry
from outcomes.models.record import Reading
from outcomes.queries.catalogue import measure_version_ids
from outcomes.services import status
from outcomes.services.signing import columns


def correct(
    *, actor: Actor, key: UUID, reading: Reading, entry: Entry, reason: str, body: Mapping[str, Any]
) -> str:
    """A new row that supersedes a reading, in one transaction with the status.

    Visit, patient and date stay; value, limb, conditions, details and status are the entry's.
    Raises ``Conflict`` when the reading was superseded meanwhile and ``Unprocessable`` when the
    visit already holds that test for that limb. Answers with the address of the new row.
    """

    def do() -> str:
        _refuse_superseded(reading=reading)
        _refuse_double(reading=reading, entry=entry)
        fields = columns(entry=entry) | {
            "measure_version_id": measure_version_ids()[entry.measure],
            "reason": reason,
        }
        return _supersede(actor=actor, reading=reading, kind="corrected", fields=fields)

    return _once(actor=actor, key=key, reading=reading, act="correct_reading", body=body, do=do)


def withdraw(*, actor: Actor, key: UUID, reading: Reading, reason: str) -> str:
    """A new row without a value that takes a reading out of every judgement. It stays visible."""

    def do() -> str:
        _refuse_superseded(reading=reading)
        fields = {
            "measure_version_id": reading.measure_version_id,
            "measure": reading.measure,
            "limb": reading.limb,
            "comparison_key": reading.comparison_key,
            "status": reading.status,
            "conditions": reading.conditions,
            "reason": reason,
        }
        return _supersede(actor=actor, reading=reading, kind="withdrawn", fields=fields)

    body = {"reason": reason}
    return _once(actor=actor, key=key, reading=reading, act="withdraw_reading", body=body, do=do)


def _once(
    *, actor: Actor, key: UUID, reading: Reading, act: str, body: Mapping[str, Any], do: Any
) -> str:
    named = {"act": act, "reading": reading.pk, **body}
    return acts.once(actor=actor, key=key, body=named, patient_id=reading.patient_id, do=do)


def _refuse_superseded(*, reading: Reading) -> None:
    if Reading.objects.filter(supersedes_id=reading.pk).exists() or reading.kind == "withdrawn":
        raise Conflict("This value was corrected or withdrawn meanwhile. Open the page afresh.")


def _refuse_double(*, reading: Reading, entry: Entry) -> None:
    same = Reading.objects.filter(
        visit_id=reading.visit_id,
        measure=entry.measure,
        limb=entry.limb.value,
        comparison_key=entry.key,
        superseded_by__isnull=True,
    )
    if same.exclude(kind="withdrawn").exclude(pk=reading.pk).exists():
        raise Unprocessable(
            "This visit already holds that test for that side under these conditions. Withdraw "
            "or correct the other one first."
        )


def _supersede(*, actor: Actor, reading: Reading, kind: str, fields: dict[str, Any]) -> str:
    """Insert the new row, audit it and rebuild the status."""
    row = Reading.objects.create(
        visit_id=reading.visit_id,
        patient_id=reading.patient_id,
        date=reading.date,
        measured_at=reading.measured_at,
        recorded_at=clock.now(),
        recorded_by_id=actor.staff_id,
        origin=reading.origin,
        kind=kind,
        supersedes_id=reading.pk,
        **fields,
    )
    act = "correct_reading" if kind == "corrected" else "withdraw_reading"
    audit.write(actor=actor, act=act, subject="reading", subject_ids=[reading.pk, row.pk])
    status.rebuild_followed(patient_id=reading.patient_id)
    return reverse("reading", args=[row.pk])
