"""What a tablet typed without network and sent later."""

from django.db import models
from django.db.models import Q

FATES = [
    ("kept", "taken into the draft"),
    ("clash", "typed differently elsewhere meanwhile"),
    ("late", "came after the visit was closed, or too late to be taken unseen"),
]


class WaitingSave(models.Model):
    """One sealed save of a tablet, opened once. Personal data: health data while it is unsettled.

    ``fields`` holds what did not go into the draft: ``{"v:knee_flexion:left": {"typed": "128",
    "shown": ""}}``; ``settled`` names those that a person has decided about. The key is the
    intent: sent twice it has one effect. ``saved_on_device_at`` is the tablet's own clock.
    """

    key = models.UUIDField(unique=True)
    visit = models.ForeignKey(
        "clinic.Visit", on_delete=models.PROTECT, related_name="waiting_saves"
    )
    typed_by = models.ForeignKey(
        "clinic.StaffMember", on_delete=models.PROTECT, related_name="waiting_saves"
    )
    sheet = models.UUIDField()
    row = models.CharField(max_length=80)
    number = models.PositiveBigIntegerField()
    fate = models.CharField(max_length=5, choices=FATES)
    fields = models.JSONField(default=dict)
    settled = models.JSONField(default=list)
    open = models.BooleanField(default=False)
    flagged = models.BooleanField(default=False, help_text="a red flag answered yes is in it")
    saved_on_device_at = models.DateTimeField()
    received_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(fate__in=[code for code, _ in FATES]), name="waiting_save_fate"
            ),
            models.CheckConstraint(
                condition=Q(open=False) | ~Q(fate="kept"), name="waiting_save_kept_is_settled"
            ),
        ]
        indexes = [models.Index(fields=["visit"], condition=Q(open=True), name="waiting_save_open")]

    def __str__(self) -> str:
        return f"waiting save {self.pk} of visit {self.visit_id}"
