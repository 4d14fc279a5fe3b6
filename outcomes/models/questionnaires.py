"""Questionnaires that a patient completed: numbered answers, never their wording."""

import uuid

from django.db import models
from django.db.models import Q

from outcomes.core.values import Limb
from outcomes.models.superseding import KINDS, supersedes_with_a_reason


class CompletedQuestionnaire(models.Model):
    """The answers of one completed form, for a knee or the person. Personal data: health data.

    ``answers`` maps each item to its answer as it counts, as text, or null where it was left open;
    ``typed`` maps items to what was marked where that differs (two boxes, another layout). Scores
    are derived and never stored. Insert-only by database triggers: a correction or withdrawal is
    a new row that supersedes this one, with a reason.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    visit = models.ForeignKey(
        "clinic.Visit", on_delete=models.PROTECT, related_name="questionnaires"
    )
    patient = models.ForeignKey(
        "clinic.Patient", on_delete=models.PROTECT, related_name="questionnaires"
    )
    date = models.DateField()
    instrument_version = models.ForeignKey("outcomes.InstrumentVersion", on_delete=models.PROTECT)
    instrument = models.CharField(max_length=60)
    limb = models.CharField(max_length=5, choices=[(limb.value, limb.value) for limb in Limb])
    layout = models.CharField(max_length=20, blank=True)
    answers = models.JSONField(default=dict)
    typed = models.JSONField(default=dict)
    keyed_twice = models.BooleanField(default=False)
    kind = models.CharField(max_length=10, choices=KINDS, default="entered")
    supersedes = models.OneToOneField(
        "self", null=True, on_delete=models.PROTECT, related_name="superseded_by"
    )
    reason = models.CharField(max_length=200, blank=True)
    origin = models.CharField(max_length=20, default="here")
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        "clinic.StaffMember", on_delete=models.PROTECT, related_name="questionnaires"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["visit", "instrument", "limb"],
                condition=Q(kind="entered"),
                name="one_entered_questionnaire_a_visit",
            ),
            models.CheckConstraint(
                condition=Q(limb__in=[limb.value for limb in Limb]), name="questionnaire_limb"
            ),
            supersedes_with_a_reason("questionnaire_supersedes_with_a_reason"),
        ]
        indexes = [models.Index(fields=["patient", "instrument", "limb", "-date", "-id"])]

    def __str__(self) -> str:
        return f"questionnaire {self.pk}"
