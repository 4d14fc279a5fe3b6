"""Letters and the bytes that were signed."""

import uuid

from django.db import models
from django.db.models import Q


class Document(models.Model):
    """Bytes as they were signed, with their SHA-256; insert-only. Personal data: health data."""

    media_type = models.CharField(max_length=60, default="application/pdf")
    content = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    created_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"document {self.sha256[:12]}"


class Letter(models.Model):
    """A letter to a surgeon or referrer. Once signed it is never changed or rendered again.

    ``facts`` is the snapshot of the record that the letter was drafted from; ``copies`` are ids of
    referrers as text, or "patient"; ``spellings`` maps words that no vendored font can print to
    the spelling that the clinician chose.
    Personal data: health data.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    episode = models.ForeignKey("clinic.Episode", on_delete=models.PROTECT, related_name="letters")
    recipient = models.ForeignKey(
        "clinic.Referrer", on_delete=models.PROTECT, related_name="letters"
    )
    copies = models.JSONField(default=list)
    state = models.CharField(max_length=6, choices=[("draft", "draft"), ("signed", "signed")])
    bottom_line = models.TextField()
    question = models.TextField(blank=True)
    plan = models.TextField(blank=True)
    next_test_on = models.DateField(null=True)
    facts = models.JSONField(default=dict)
    spellings = models.JSONField(default=dict)
    replaces = models.OneToOneField(
        "self", null=True, on_delete=models.PROTECT, related_name="replaced_by"
    )
    drafted_at = models.DateTimeField()
    drafted_by = models.ForeignKey(
        "clinic.StaffMember", on_delete=models.PROTECT, related_name="drafted_letters"
    )
    signed_at = models.DateTimeField(null=True)
    signed_by = models.ForeignKey(
        "clinic.StaffMember", null=True, on_delete=models.PROTECT, related_name="signed_letters"
    )
    document = models.OneToOneField(Document, null=True, on_delete=models.PROTECT)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=(
                    Q(
                        state="signed",
                        signed_at__isnull=False,
                        signed_by__isnull=False,
                        document__isnull=False,
                    )
                    | Q(
                        state="draft",
                        signed_at__isnull=True,
                        signed_by__isnull=True,
                        document__isnull=True,
                    )
                ),
                name="letter_signed_with_its_bytes",
            )
        ]

    def __str__(self) -> str:
        return f"letter {self.pk}"
