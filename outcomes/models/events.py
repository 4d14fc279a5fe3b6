"""What happened to a knee on a day: giving way, another injury, a return to sport."""

import uuid

from django.db import models
from django.db.models import Q

from outcomes.core.values import Limb
from outcomes.models.superseding import KINDS, supersedes_with_a_reason

EVENTS = [
    ("giving_way", "giving way"),
    ("new_injury", "new injury"),
    ("graft_rupture", "graft rupture"),
    ("other_knee_acl_injury", "ACL injury of the other knee"),
    ("reoperation", "reoperation"),
    ("infection", "infection"),
    ("clot", "clot"),
    ("fracture", "fracture"),
    ("stiffness_procedure", "procedure for stiffness"),
    ("return_to_running", "return to running"),
    ("return_to_training", "return to training"),
    ("return_to_competition", "return to competition"),
]
RETURNS = ["return_to_running", "return_to_training", "return_to_competition"]


class Event(models.Model):
    """Something that happened within an episode, on a local date. Personal data: health data.

    ``detail`` is the code of what was done (the kind of a reoperation). A return can be earlier
    than advised: it is recorded and meets nothing. Insert-only by database triggers: a correction
    or withdrawal is a new row that supersedes this one, with a reason.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    episode = models.ForeignKey("clinic.Episode", on_delete=models.PROTECT, related_name="events")
    event = models.CharField(max_length=30, choices=EVENTS)
    limb = models.CharField(max_length=5, choices=[(limb.value, limb.value) for limb in Limb])
    date = models.DateField()
    detail = models.CharField(max_length=40, blank=True)
    earlier_than_advised = models.BooleanField(default=False)
    note = models.CharField(max_length=300, blank=True)
    kind = models.CharField(max_length=10, choices=KINDS, default="entered")
    supersedes = models.OneToOneField(
        "self", null=True, on_delete=models.PROTECT, related_name="superseded_by"
    )
    reason = models.CharField(max_length=200, blank=True)
    origin = models.CharField(max_length=20, default="here")
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        "clinic.StaffMember", on_delete=models.PROTECT, related_name="events"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(event__in=[code for code, _ in EVENTS]), name="event_is_known"
            ),
            models.CheckConstraint(
                condition=Q(limb__in=[limb.value for limb in Limb]), name="event_limb"
            ),
            models.CheckConstraint(
                condition=Q(event__in=RETURNS) | Q(earlier_than_advised=False),
                name="event_only_a_return_is_early",
            ),
            supersedes_with_a_reason("event_supersedes_with_a_reason"),
        ]
        indexes = [models.Index(fields=["episode", "-date", "-id"])]

    def __str__(self) -> str:
        return f"event {self.pk}"
