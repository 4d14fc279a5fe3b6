"""What people set for themselves: PIN, password, what letters say of them, and their sessions."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum

from django.contrib.auth.hashers import check_password, make_password
from django.contrib.sessions.models import Session
from django.db import transaction
from django.db.models import F

from clinic import audit, clock
from clinic.models.places import StaffMember
from clinic.permissions import Actor

PIN_MISSES = 5


class PinAnswer(StrEnum):
    """What came of trying a PIN."""

    RIGHT = "right"
    WRONG = "wrong"
    SPENT = "spent"


def set_pin(*, actor: Actor, pin: str) -> None:
    """Set the PIN that unlocks a registered tablet."""
    with transaction.atomic():
        StaffMember.objects.filter(pk=actor.staff_id).update(pin=make_password(pin), pin_misses=0)
        audit.write(actor=actor, act="set_pin", subject="staff", subject_ids=[actor.staff_id])


def try_pin(*, staff_id: int, pin: str) -> PinAnswer:
    """Try a PIN. The try is counted before it is judged, so tries at once cannot exceed five.

    ``SPENT`` after five misses, until a full sign-in: ``forgive_misses``.
    """
    row = StaffMember.objects.filter(pk=staff_id)
    if not row.filter(pin_misses__lt=PIN_MISSES).update(pin_misses=F("pin_misses") + 1):
        return PinAnswer.SPENT
    person = row.get()
    if person.pin and check_password(pin, person.pin):
        forgive_misses(staff_id=staff_id)
        return PinAnswer.RIGHT
    return PinAnswer.SPENT if person.pin_misses >= PIN_MISSES else PinAnswer.WRONG


def pin_works(*, staff_id: int) -> bool:
    """Whether the person has a PIN that was not missed five times."""
    return (
        StaffMember.objects.filter(pk=staff_id, pin_misses__lt=PIN_MISSES).exclude(pin="").exists()
    )


def forgive_misses(*, staff_id: int) -> None:
    """Count from nothing again: after a full sign-in, or a right PIN."""
    StaffMember.objects.filter(pk=staff_id, pin_misses__gt=0).update(pin_misses=0)


def change_password(*, actor: Actor, password: str) -> StaffMember:
    """Set a new password; every other session of the person ends by it."""
    with transaction.atomic():
        person = StaffMember.objects.select_for_update().get(pk=actor.staff_id)
        person.set_password(password)
        person.save(update_fields=["password"])
        audit.write(actor=actor, act="new_password", subject="staff", subject_ids=[person.pk])
        return person


def describe_self(*, actor: Actor, credential: str, contact: str) -> None:
    """What is printed under a person's name on letters."""
    with transaction.atomic():
        StaffMember.objects.filter(pk=actor.staff_id).update(credential=credential, contact=contact)
        audit.write(actor=actor, act="edit_self", subject="staff", subject_ids=[actor.staff_id])


@dataclass(frozen=True, kw_only=True, slots=True)
class OpenSession:
    """A place where a person is signed in."""

    key: str
    since: datetime
    last: datetime
    where: str


def sessions_of(*, staff_id: int) -> list[OpenSession]:
    """A person's open sessions, the newest first. Reads every unexpired session of the clinic."""
    found = []
    for row in Session.objects.filter(expire_date__gt=clock.now()):
        data = row.get_decoded()
        if data.get("_auth_user_id") == str(staff_id):
            began = data.get("signed_in_at", 0)
            last = data.get("last_activity", began)
            found.append(
                OpenSession(
                    key=row.session_key,
                    since=datetime.fromtimestamp(began, UTC),
                    last=datetime.fromtimestamp(last, UTC),
                    where=data.get("tablet", "") or "not a registered tablet",
                )
            )
    return sorted(found, key=lambda one: (one.since, one.key), reverse=True)


def end_other_sessions(*, actor: Actor, keep: str) -> int:
    """Sign the person out everywhere but here; how many sessions ended."""
    others = [one.key for one in sessions_of(staff_id=actor.staff_id) if one.key != keep]
    with transaction.atomic():
        Session.objects.filter(session_key__in=others).delete()
        audit.write(actor=actor, act="end_sessions", subject="staff", subject_ids=[actor.staff_id])
    return len(others)
