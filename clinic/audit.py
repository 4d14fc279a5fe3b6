"""The one writer of audit rows: who did or saw what, where, and whether it was refused."""

from collections.abc import Sequence
from datetime import timedelta
from uuid import UUID

from django.conf import settings
from django.db.models import Q

from clinic import clock
from clinic.models.audit import AuditEntry
from clinic.permissions import Actor


def write(
    *,
    actor: Actor,
    act: str,
    subject: str,
    subject_ids: Sequence[int] = (),
    outcome: str = "done",
    note: str = "",
) -> None:
    """One row for an act or a page seen. ``note`` carries codes, never names or values."""
    AuditEntry.objects.create(
        at=clock.now(),
        staff_id=actor.staff_id,
        site_id=actor.site_id,
        request_id=actor.request_id,
        act=act,
        subject=subject,
        subject_ids=list(subject_ids),
        outcome=outcome,
        note=note,
    )


def was_shown(*, actor: Actor, subject: str, ident: int, patient_id: int) -> bool:
    """Whether a page of the subject or its patient was shown to the person within a shift."""
    page = Q(subject=subject, subject_ids=[ident]) | Q(subject="patient", subject_ids=[patient_id])
    since = clock.now() - timedelta(seconds=settings.SESSION_COOKIE_AGE)
    rows = AuditEntry.objects.filter(page, at__gte=since, staff_id=actor.staff_id, outcome="done")
    return rows.exists()


def sign_in(*, staff_id: int | None, request_id: UUID, act: str, outcome: str = "done") -> None:
    """One row for a sign-in, sign-out, lock or unlock; there may be no site and no person yet."""
    AuditEntry.objects.create(
        at=clock.now(),
        staff_id=staff_id,
        request_id=request_id,
        act=act,
        subject="session",
        outcome=outcome,
    )
