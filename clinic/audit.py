"""The one writer of audit rows: who did or saw what, where, and whether it was refused."""

from collections.abc import Sequence
from uuid import UUID

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
