"""The address book of surgeons and referrers."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from uuid import UUID

from django.db import IntegrityError, transaction
from django.urls import reverse

from clinic import audit
from clinic.models.people import Referrer
from clinic.permissions import Actor
from clinic.services import acts, rules


@dataclass(frozen=True, kw_only=True, slots=True)
class ReferrerDetails:
    """Who refers, and where letters go."""

    name: str
    kind: str
    practice: str = ""
    address: str = ""


def add(*, actor: Actor, key: UUID, details: ReferrerDetails) -> str:
    """A new referrer. Raises ``Refused`` when name and practice are there already."""

    def do() -> str:
        with _once_each():
            row = Referrer.objects.create(**asdict(details))
        audit.write(actor=actor, act="add_referrer", subject="referrer", subject_ids=[row.pk])
        return reverse("referrers")

    body = {"act": "add_referrer", **asdict(details)}
    return acts.once(actor=actor, key=key, body=body, patient_id=None, do=do)


def edit(*, actor: Actor, key: UUID, referrer_id: int, seen: int, details: ReferrerDetails) -> str:
    """Change a referrer. Letters that were signed keep what they say."""

    def do() -> str:
        row = Referrer.objects.get(pk=referrer_id)
        acts.bump(row, seen=seen)
        with _once_each():
            Referrer.objects.filter(pk=referrer_id).update(**asdict(details))
        audit.write(actor=actor, act="edit_referrer", subject="referrer", subject_ids=[row.pk])
        return reverse("referrers")

    body = {"act": "edit_referrer", "referrer": referrer_id, "seen": seen, **asdict(details)}
    return acts.once(actor=actor, key=key, body=body, patient_id=None, do=do)


def retire(*, actor: Actor, key: UUID, referrer_id: int, seen: int, retired: bool) -> str:
    """Take a referrer off the lists to choose from, or put them back."""

    def do() -> str:
        row = Referrer.objects.get(pk=referrer_id)
        acts.bump(row, seen=seen)
        Referrer.objects.filter(pk=referrer_id).update(retired=retired)
        act = "retire_referrer" if retired else "restore_referrer"
        audit.write(actor=actor, act=act, subject="referrer", subject_ids=[row.pk])
        return reverse("referrers")

    body = {"act": "retire_referrer", "referrer": referrer_id, "seen": seen, "retired": retired}
    return acts.once(actor=actor, key=key, body=body, patient_id=None, do=do)


@contextmanager
def _once_each() -> Iterator[None]:
    """Name and practice together are one entry of the address book."""
    try:
        with transaction.atomic():
            yield
    except IntegrityError as twice:
        raise rules.Refused(
            {"name": "This name is in the list already, with the same practice."}
        ) from twice
