"""Insert-only rows that a later row corrects or withdraws, with a reason."""

from django.db import models
from django.db.models import Q

KINDS = [("entered", "entered"), ("corrected", "corrected"), ("withdrawn", "withdrawn")]


def supersedes_with_a_reason(name: str) -> models.CheckConstraint:
    """The first row supersedes nothing; a later one names the row it replaces, and why."""
    later = Q(kind__in=["corrected", "withdrawn"], supersedes__isnull=False) & ~Q(reason="")
    condition = Q(kind="entered", supersedes__isnull=True) | later
    return models.CheckConstraint(condition=condition, name=name)
