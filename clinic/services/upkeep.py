"""What is thrown away at night: keys of acts long done, sessions that ended, old sign-in tries."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from axes.models import AccessAttempt
from django.contrib.sessions.models import Session

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
