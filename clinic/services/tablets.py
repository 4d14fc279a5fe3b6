"""Registered tablets: shared devices on which a six-digit PIN unlocks."""

from __future__ import annotations

from uuid import UUID

from django.db import transaction

from clinic import audit, clock
from clinic.models.places import Tablet
from clinic.permissions import Actor
from clinic.services import acts
from clinic.services.staff import hash_of, secret_for


def register(*, actor: Actor, key: UUID, site_id: int, label: str) -> str:
    """Register the device at hand; its key goes into a cookie, only the hash is kept."""
    secret = secret_for(actor=actor, key=key, purpose="tablet")

    def do() -> str:
        row = Tablet.objects.create(
            site_id=site_id,
            label=label,
            key_hash=hash_of(secret),
            registered_by_id=actor.staff_id,
            registered_at=clock.now(),
        )
        audit.write(actor=actor, act="register_tablet", subject="tablet", subject_ids=[row.pk])
        return ""

    body = {"site": site_id, "label": label}
    acts.once(actor=actor, key=key, body=body, patient_id=None, do=do)
    return secret


def retire(*, actor: Actor, tablet_id: int) -> None:
    """No PIN unlocks on it any more."""
    with transaction.atomic():
        rows = Tablet.objects.filter(pk=tablet_id, retired_at__isnull=True)
        if rows.update(retired_at=clock.now()):
            audit.write(actor=actor, act="retire_tablet", subject="tablet", subject_ids=[tablet_id])


def with_key(*, key: str, staff_id: int) -> Tablet | None:
    """The registered tablet of that key, if the person works at its site."""
    if not key:
        return None
    return Tablet.objects.filter(
        key_hash=hash_of(key),
        retired_at__isnull=True,
        site__memberships__staff_id=staff_id,
        site__memberships__ended_on__isnull=True,
    ).first()
