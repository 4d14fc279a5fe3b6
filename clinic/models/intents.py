"""Intents: each act is posted with a key, so that a doubled request has one effect."""

from django.db import models


class Intent(models.Model):
    """A key used once by one person. Personal data: none (a fingerprint and an address)."""

    staff = models.ForeignKey("clinic.StaffMember", on_delete=models.PROTECT)
    key = models.UUIDField()
    fingerprint = models.CharField(max_length=64)
    answer = models.CharField(max_length=200, blank=True)
    created_at = models.DateTimeField(db_index=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["staff", "key"], name="intent_once")]

    def __str__(self) -> str:
        return f"intent {self.pk}"


class ErasurePass(models.Model):
    """While a row exists inside one transaction, guarded rows may be deleted, never changed.

    Only the sanctioned, audited erasure writes it, and takes it away before it commits.
    Personal data: none.
    """

    granted_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"erasure pass {self.pk}"
