"""What is thrown away: at night keys, sessions and sign-in tries; at once what was erased."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from axes.models import AccessAttempt
from django.contrib.sessions.models import Session
from django.db import connection

from clinic import clock
from clinic.models.intents import Intent

KEPT_FOR = timedelta(days=90)


@dataclass(frozen=True, kw_only=True, slots=True)
class Pruned:
    """How many rows went."""

    intents: int
    sessions: int
    tries: int


def prune() -> Pruned:
    """Delete keys of acts and sign-in tries older than 90 days, and sessions that have ended."""
    now = clock.now()
    old = now - KEPT_FOR
    return Pruned(
        intents=Intent.objects.filter(created_at__lt=old).delete()[0],
        sessions=Session.objects.filter(expire_date__lt=now).delete()[0],
        tries=AccessAttempt.objects.filter(attempt_time__lt=old).delete()[0],
    )


def wipe_deleted() -> None:
    """Leave no bytes of deleted rows in SQLite's log: pages are emptied already (secure_delete).

    Whoever reads at that moment keeps the log in place until the next time. PostgreSQL clears
    deleted rows by its own autovacuum.
    """
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
