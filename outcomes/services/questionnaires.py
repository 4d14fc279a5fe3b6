"""Questionnaires that were keyed: kept once a visit, corrected and withdrawn by new rows."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any
from uuid import UUID

from django.urls import reverse

from clinic import audit, clock
from clinic.http import Conflict
from clinic.models.care import Visit
from clinic.permissions import Actor
from clinic.services import acts
from outcomes.core.values import Limb
from outcomes.models.questionnaires import CompletedQuestionnaire
from outcomes.queries.keying import Sheet, what_words
from outcomes.services import status

ANEW = "keyed anew after it was withdrawn"


def keep(*, actor: Actor, key: UUID, visit: Visit, sheet: Sheet) -> str:
    """Keep one keyed form at a visit, in one transaction with its audit row.

    Raises ``Conflict`` where the visit holds that questionnaire for that knee already. Scores are
    derived, and criteria may rest on them: the followed knees are judged again. Answers with the
    address of the visit's questionnaires.
    """

    def do() -> str:
        before = _standing(visit=visit, code=sheet.instrument.code, limb=sheet.limb)
        _refuse_second(before=before, sheet=sheet)
        row = _insert(
            actor=actor,
            visit=visit,
            kind="corrected" if before else "entered",
            supersedes_id=before.pk if before else None,
            reason=ANEW if before else "",
            **_columns(sheet=sheet),
        )
        _audit(actor=actor, act="key_questionnaire", ids=[row.pk])
        return reverse("visit_questionnaires", args=[visit.uid])

    body = {"act": "key_questionnaire", "visit": visit.pk, **_columns(sheet=sheet)}
    return acts.once(actor=actor, key=key, body=body, patient_id=visit.patient_id, do=do)


def correct(
    *, actor: Actor, key: UUID, row: CompletedQuestionnaire, sheet: Sheet, reason: str
) -> str:
    """A new row with other answers that supersedes a completed form. Its address is the answer.

    Raises ``Conflict`` where it was corrected or withdrawn meanwhile.
    """
    fields = {**_columns(sheet=sheet), "reason": reason}
    return _superseding(actor=actor, key=key, row=row, kind="corrected", fields=fields)


def withdraw(*, actor: Actor, key: UUID, row: CompletedQuestionnaire, reason: str) -> str:
    """A new row without answers that takes a form out of every score. It stays visible."""
    fields = {
        "instrument_version_id": row.instrument_version_id,
        "instrument": row.instrument,
        "limb": row.limb,
        "layout": row.layout,
        "reason": reason,
    }
    return _superseding(actor=actor, key=key, row=row, kind="withdrawn", fields=fields)


def _superseding(
    *,
    actor: Actor,
    key: UUID,
    row: CompletedQuestionnaire,
    kind: str,
    fields: dict[str, Any],
) -> str:
    act = "correct_questionnaire" if kind == "corrected" else "withdraw_questionnaire"

    def do() -> str:
        _refuse_superseded(row=row)
        new = _insert(actor=actor, visit=row.visit, kind=kind, supersedes_id=row.pk, **fields)
        _audit(actor=actor, act=act, ids=[row.pk, new.pk])
        return reverse("questionnaire", args=[new.uid])

    return _once(actor=actor, key=key, row=row, body={"act": act, **fields}, do=do)


def _once(
    *,
    actor: Actor,
    key: UUID,
    row: CompletedQuestionnaire,
    body: Mapping[str, Any],
    do: Callable[[], str],
) -> str:
    named = {"questionnaire": row.pk, **body}
    return acts.once(actor=actor, key=key, body=named, patient_id=row.patient_id, do=do)


def _standing(*, visit: Visit, code: str, limb: Limb) -> CompletedQuestionnaire | None:
    """The newest row of that questionnaire and knee at the visit, withdrawn or not."""
    rows = CompletedQuestionnaire.objects.filter(
        visit_id=visit.pk, instrument=code, limb=limb.value, superseded_by__isnull=True
    )
    return rows.first()


def _refuse_second(*, before: CompletedQuestionnaire | None, sheet: Sheet) -> None:
    if before is not None and before.kind != "withdrawn":
        what = what_words(instrument=sheet.instrument, limb=sheet.limb)
        raise Conflict(
            f"{what} is kept for this visit already, and nothing was added. A clinician corrects "
            "it on its own page."
        )


def _refuse_superseded(*, row: CompletedQuestionnaire) -> None:
    later = CompletedQuestionnaire.objects.filter(supersedes_id=row.pk)
    if row.kind == "withdrawn" or later.exists():
        raise Conflict("This form was corrected or withdrawn meanwhile. Open the page afresh.")


def _columns(*, sheet: Sheet) -> dict[str, Any]:
    return {
        "instrument_version_id": sheet.version_id,
        "instrument": sheet.instrument.code,
        "limb": sheet.limb.value,
        "layout": sheet.layout,
        "answers": dict(sheet.answers),
        "typed": dict(sheet.typed),
        "keyed_twice": sheet.keyed_twice,
    }


def _insert(*, actor: Actor, visit: Visit, **fields: Any) -> CompletedQuestionnaire:
    row = CompletedQuestionnaire.objects.create(
        visit_id=visit.pk,
        patient_id=visit.patient_id,
        date=visit.date,
        recorded_at=clock.now(),
        recorded_by_id=actor.staff_id,
        **fields,
    )
    status.rebuild_followed(patient_id=visit.patient_id)
    return row


def _audit(*, actor: Actor, act: str, ids: list[int]) -> None:
    audit.write(actor=actor, act=act, subject="questionnaire", subject_ids=ids)
