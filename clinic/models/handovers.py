"""Cover by a colleague for some days."""

from django.db import models
from django.db.models import F, Q

from clinic.models.care import Episode


class Handover(models.Model):
    """Cover by a colleague: from, until, aim now, watch for. Personal data: health data."""

    episode = models.ForeignKey(Episode, on_delete=models.PROTECT, related_name="handovers")
    giver = models.ForeignKey(
        "clinic.StaffMember", on_delete=models.PROTECT, related_name="handovers_given"
    )
    taker = models.ForeignKey(
        "clinic.StaffMember", on_delete=models.PROTECT, related_name="handovers_taken"
    )
    since = models.DateField()
    until = models.DateField()
    aim_now = models.CharField(max_length=200)
    watch_for = models.CharField(max_length=200)
    recorded_at = models.DateTimeField()
    taken_over_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(until__gte=F("since")), name="handover_ends_after_it_starts"
            ),
            models.CheckConstraint(condition=~Q(giver=F("taker")), name="handover_to_a_colleague"),
        ]

    def __str__(self) -> str:
        return f"handover {self.pk}"
