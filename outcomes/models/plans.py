"""The plan of each progression: the level, its dose, since when, and what was proposed."""

from django.db import models
from django.db.models import Q

ANSWERS = [
    ("accepted", "accepted as proposed"),
    ("changed", "changed"),
    ("declined", "declined"),
    ("set", "set by the clinician"),
]
MOVES = [
    ("progress", "step up"),
    ("stay", "the same"),
    ("regress", "step back"),
    ("begun", "begun"),
]
REASONS = [
    ("quality", "the movement is not good enough yet"),
    ("symptoms", "pain, swelling or tiredness today"),
    ("patient", "the patient would rather not"),
    ("practical", "no equipment, room or time for it"),
    ("judged", "judged otherwise by the clinician"),
]
"""Why a proposal is declined, each one tap (setting of this house)."""
ANSWERED = ["accepted", "changed", "declined"]


class PlanStep(models.Model):
    """One step of the plan: where a knee stands in a progression after a clinician's answer.

    The newest row that nothing supersedes is the plan. ``level`` empty: nothing of it now.
    ``proposed`` is what was proposed and why, frozen; empty where nothing was. ``move`` is what
    the answer did to the plan before. Insert-only by database triggers. Personal data: health data.
    """

    episode = models.ForeignKey(
        "clinic.Episode", on_delete=models.PROTECT, related_name="plan_steps"
    )
    progression = models.CharField(max_length=60)
    progression_version = models.PositiveIntegerField()
    level = models.CharField(max_length=60, blank=True)
    at = models.DecimalField(max_digits=9, decimal_places=2, null=True)
    sets = models.PositiveSmallIntegerField(null=True)
    reps = models.PositiveSmallIntegerField(null=True)
    hold_s = models.PositiveSmallIntegerField(null=True)
    load_kg = models.DecimalField(max_digits=5, decimal_places=1, null=True)
    days_a_week = models.PositiveSmallIntegerField(null=True)
    since = models.DateField()
    proposed = models.JSONField(default=dict)
    proposed_sha256 = models.CharField(max_length=64, blank=True)
    answer = models.CharField(max_length=10, choices=ANSWERS)
    move = models.CharField(max_length=10, choices=MOVES)
    decline_reason = models.CharField(max_length=10, choices=REASONS, blank=True)
    note = models.CharField(max_length=300, blank=True)
    answered_on = models.DateField()
    answered_at = models.DateTimeField()
    answered_by = models.ForeignKey("clinic.StaffMember", on_delete=models.PROTECT)
    supersedes = models.OneToOneField(
        "self", null=True, on_delete=models.PROTECT, related_name="superseded_by"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["episode", "progression"],
                condition=Q(supersedes__isnull=True),
                name="one_first_plan_step",
            ),
            models.CheckConstraint(
                condition=Q(answer__in=[code for code, _ in ANSWERS]), name="plan_answer"
            ),
            models.CheckConstraint(
                condition=Q(move__in=[code for code, _ in MOVES]), name="plan_move"
            ),
            models.CheckConstraint(
                condition=Q(answer="declined", decline_reason__in=[code for code, _ in REASONS])
                | (~Q(answer="declined") & Q(decline_reason="")),
                name="plan_declined_with_a_reason",
            ),
            models.CheckConstraint(
                condition=(Q(answer__in=ANSWERED) & ~Q(proposed_sha256=""))
                | Q(answer="set", proposed_sha256=""),
                name="plan_answers_a_proposal",
            ),
            models.CheckConstraint(
                condition=Q(
                    level="", sets__isnull=True, reps__isnull=True, hold_s__isnull=True,
                    days_a_week__isnull=True, load_kg__isnull=True, at__isnull=True,
                )
                | (
                    ~Q(level="")
                    & Q(sets__isnull=False, days_a_week__isnull=False)
                    & (
                        Q(reps__isnull=True, hold_s__isnull=False)
                        | Q(reps__isnull=False, hold_s__isnull=True)
                    )
                ),
                name="plan_level_has_a_dose",
            ),
        ]  # fmt: skip

    def __str__(self) -> str:
        return f"plan step {self.pk}"
