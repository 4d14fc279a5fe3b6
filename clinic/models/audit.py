"""The audit trail: one row per act and per page seen; insert-only by database triggers."""

from django.db import models


class AuditEntry(models.Model):
    """Who did or saw what, where and when. Personal data: staff and patient ids, never values."""

    at = models.DateTimeField(db_index=True)
    staff = models.ForeignKey("clinic.StaffMember", null=True, on_delete=models.PROTECT)
    site = models.ForeignKey("clinic.Site", null=True, on_delete=models.PROTECT)
    request_id = models.UUIDField()
    act = models.CharField(max_length=40)
    subject = models.CharField(max_length=20)
    subject_ids = models.JSONField(default=list)
    outcome = models.CharField(max_length=10, default="done")
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(outcome__in=["done", "refused", "failed"]), name="audit_outcome"
            )
        ]
        indexes = [models.Index(fields=["subject", "at"])]

    def __str__(self) -> str:
        return f"{self.act} {self.subject}"
