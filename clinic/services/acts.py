"""One transaction per act: lock the patient, do it once per key, answer with an address."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction

from clinic import clock
from clinic.http import Conflict, KeyReused
from clinic.models.care import Episode, Visit
from clinic.models.intents import Intent
from clinic.models.people import Patient, Referrer
from clinic.permissions import Actor


@contextmanager
def locked(patient_id: int | None) -> Iterator[None]:
    """A transaction that holds the patient's row first, so that acts on one patient queue up."""
    with transaction.atomic():
        if patient_id is not None:
            Patient.objects.select_for_update().only("pk").get(pk=patient_id)
        yield


def once(
    *,
    actor: Actor,
    key: UUID,
    body: Mapping[str, Any],
    patient_id: int | None,
    do: Callable[[], str],
    answer: str = "",
) -> str:
    """Do an act once for this key and return its answer (an address, at most 200 letters).

    ``answer`` is what it will be, where that is known before: then it is kept with the key.

    The same key with the same body returns the kept answer and changes nothing; the same key
    with another body raises ``KeyReused``. Everything, the key included, is one transaction.
    """
    mark = fingerprint(body)
    with locked(patient_id):
        kept, new = _claimed(staff_id=actor.staff_id, key=key, mark=mark, answer=answer)
        if not new:
            if kept.fingerprint != mark:
                raise KeyReused("Nothing was changed. Open the page afresh and enter it again.")
            return kept.answer
        kept.answer = do()
        if kept.answer != answer:
            kept.save(update_fields=["answer"])
        return kept.answer


def _claimed(*, staff_id: int, key: UUID, mark: str, answer: str) -> tuple[Intent, bool]:
    """The key's row, and whether it is new. A key is new nearly always, so it is inserted first."""
    kept = Intent(
        staff_id=staff_id, key=key, fingerprint=mark, answer=answer, created_at=clock.now()
    )
    try:
        with transaction.atomic():
            kept.save(force_insert=True)
    except IntegrityError:
        return Intent.objects.get(staff_id=staff_id, key=key), False
    return kept, True


def fingerprint(body: Mapping[str, Any]) -> str:
    """SHA-256 of a posted body in canonical form; dates, decimals and ids as their text."""
    text = json.dumps(body, sort_keys=True, ensure_ascii=False, default=str)
    return hashlib.sha256(text.encode()).hexdigest()


def bump(row: Episode | Visit | Patient | Referrer, *, seen: int | None = None) -> None:
    """Raise a row's version by ``UPDATE … WHERE version``; a version that moved is a conflict.

    ``seen`` is the version that the person's form was made from; None takes the row's own.
    """
    expected = row.version if seen is None else seen
    changed = type(row).objects.filter(pk=row.pk, version=expected).update(version=expected + 1)
    if not changed:
        raise Conflict("Nothing was overwritten. Open the page afresh to see what changed.")
    row.version = expected + 1
