"""How far people agree who grade the same thing: drawn figures, and a test of a real visit."""

import uuid

from django.db import models
from django.db.models import Q

from outcomes.core.values import Limb

SEEN = [("no", "no"), ("yes", "yes")]


class FigureSet(models.Model):
    """A numbered set of drawn figures, the same for everybody who grades it. Personal data: none.

    ``figures`` holds what each is drawn from, the drop in degrees included: that never reaches a
    page before it was graded. Insert-only by database triggers.
    """

    number = models.PositiveIntegerField(unique=True)
    figures = models.JSONField()
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"figure set {self.number}"


class LineRound(models.Model):
    """A set of figures that somebody began to grade. Personal data: staff, what they practised.

    ``order`` says which figure of the set stands at each place of the page. Everybody grades a set
    once: after that its answers are known to them. Insert-only by database triggers.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    figure_set = models.ForeignKey(FigureSet, on_delete=models.PROTECT, related_name="rounds")
    staff = models.ForeignKey(
        "clinic.StaffMember", on_delete=models.PROTECT, related_name="line_rounds"
    )
    order = models.JSONField()
    started_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["staff", "figure_set"], name="one_round_a_set")
        ]

    def __str__(self) -> str:
        return f"round {self.pk}"


class LineGrades(models.Model):
    """The grades of a finished round, in the order of its set. Personal data: staff, how they did.

    Insert-only by database triggers.
    """

    round = models.OneToOneField(LineRound, on_delete=models.PROTECT, related_name="given")
    grades = models.JSONField()
    finished_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"grades of round {self.round_id}"


class Agreement(models.Model):
    """A second clinician's own grade of a test of a visit; never a reading. Personal data: health.

    ``had_seen`` is what the clinician says about the first grade, ``pages_opened`` what the audit
    trail says: whether they had opened a page of the patient that may have shown it. One for each
    visit, measure, limb and clinician. Insert-only by database triggers.
    """

    visit = models.ForeignKey("clinic.Visit", on_delete=models.PROTECT, related_name="agreements")
    patient = models.ForeignKey(
        "clinic.Patient", on_delete=models.PROTECT, related_name="agreements"
    )
    measure_version = models.ForeignKey("outcomes.MeasureVersion", on_delete=models.PROTECT)
    measure = models.CharField(max_length=60)
    limb = models.CharField(max_length=5, choices=[(limb.value, limb.value) for limb in Limb])
    grade = models.CharField(max_length=40)
    rank = models.PositiveSmallIntegerField()
    had_seen = models.CharField(max_length=3, choices=SEEN)
    pages_opened = models.BooleanField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        "clinic.StaffMember", on_delete=models.PROTECT, related_name="agreements"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["visit", "measure", "limb", "recorded_by"], name="one_second_grade"
            ),
            models.CheckConstraint(
                condition=Q(limb__in=[limb.value for limb in Limb]), name="agreement_limb"
            ),
            models.CheckConstraint(
                condition=Q(had_seen__in=[code for code, _ in SEEN]), name="agreement_had_seen"
            ),
        ]

    def __str__(self) -> str:
        return f"second grade {self.pk}"
