"""What was seen and measured: drafts that may change, readings that never do."""

from django.db import models
from django.db.models import Q

from outcomes.core.values import Limb, ReadingStatus
from outcomes.models.superseding import KINDS, supersedes_with_a_reason

STATUSES = [(s.value, s.value.replace("_", " ")) for s in ReadingStatus]
WITH_VALUE = ["measured", "stopped_by_pain"]
COURSES = [
    ("goes_ahead", "goes ahead"),
    ("not_yet", "not yet"),
    ("begun_early", "begun by the patient, earlier than advised"),
]


class VisitDraft(models.Model):
    """What has been typed in one visit and is not signed. Personal data: health data.

    ``fields`` maps a form field's name to its typed text, version, last author and all authors,
    and the page (``sheet``) that wrote it: ``{"v:knee_flexion:left": {"text": "128",
    "version": 3, "by": 7, "at": "…", "sheet": "…", "authors": [4, 7]}}``; what waited on a tablet
    without network has ``"device"`` too, the moment at which the tablet kept it, and what other
    pages typed alike ``"with"``, those pages with who typed it there.
    Drafts never reach charts, results or letters. ``heard`` is the newest number that each page
    sent, by field ("" for its whole form): what comes after it with a lower one is older.
    ``also`` is what the visit asks beyond the set of its week, fixed with the first word.
    """

    visit = models.OneToOneField("clinic.Visit", on_delete=models.PROTECT, related_name="draft")
    fields = models.JSONField(default=dict)
    heard = models.JSONField(default=dict)
    also = models.JSONField(null=True)
    version = models.PositiveIntegerField(default=1)
    opened_at = models.DateTimeField()
    saved_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"draft of visit {self.visit_id}"


class Reading(models.Model):
    """One signed value of one measure for one limb at one visit. Personal data: health data.

    ``typed_text`` and ``typed_unit`` are the truth; ``value`` is canonical, derived once.
    Grades keep their word as text and their rank as value. Insert-only by database triggers:
    a correction or withdrawal is a new row that supersedes this one, with a reason.
    ``saved_on_device_at`` is when a tablet without network kept it, by its own clock held between
    the opening of its page and the moment at which the server had it; empty where it came at once.
    """

    visit = models.ForeignKey("clinic.Visit", on_delete=models.PROTECT, related_name="readings")
    patient = models.ForeignKey("clinic.Patient", on_delete=models.PROTECT, related_name="readings")
    date = models.DateField()
    measure_version = models.ForeignKey("outcomes.MeasureVersion", on_delete=models.PROTECT)
    measure = models.CharField(max_length=60)
    limb = models.CharField(max_length=5, choices=[(limb.value, limb.value) for limb in Limb])
    comparison_key = models.CharField(max_length=200, blank=True)
    status = models.CharField(max_length=16, choices=STATUSES, default="measured")
    value = models.DecimalField(max_digits=15, decimal_places=6, null=True)
    typed_text = models.CharField(max_length=60, blank=True)
    typed_unit = models.CharField(max_length=20, blank=True)
    trials = models.JSONField(default=list)
    conditions = models.JSONField(default=dict)
    details = models.JSONField(default=dict)
    kind = models.CharField(max_length=10, choices=KINDS, default="entered")
    supersedes = models.OneToOneField(
        "self", null=True, on_delete=models.PROTECT, related_name="superseded_by"
    )
    reason = models.CharField(max_length=200, blank=True)
    origin = models.CharField(max_length=20, default="here")
    measured_at = models.DateTimeField()
    saved_on_device_at = models.DateTimeField(null=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        "clinic.StaffMember", on_delete=models.PROTECT, related_name="readings"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["visit", "measure", "limb", "comparison_key"],
                condition=Q(kind="entered"),
                name="one_entered_reading_a_test",
            ),
            models.CheckConstraint(
                condition=Q(limb__in=[limb.value for limb in Limb]), name="reading_limb"
            ),
            models.CheckConstraint(
                condition=Q(status__in=[s.value for s in ReadingStatus]), name="reading_status"
            ),
            models.CheckConstraint(
                condition=(
                    Q(kind="withdrawn", value__isnull=True)
                    | Q(status="measured", value__isnull=False)
                    | Q(status="stopped_by_pain")
                    | (~Q(status__in=WITH_VALUE) & Q(value__isnull=True))
                ),
                name="reading_value_fits_status",
            ),
            supersedes_with_a_reason("reading_supersedes_with_a_reason"),
        ]
        indexes = [
            models.Index(
                fields=["patient", "measure", "limb", "comparison_key", "-date", "-id"],
                name="reading_latest",
            )
        ]

    def __str__(self) -> str:
        return f"reading {self.pk}"


class RedFlagCheck(models.Model):
    """What was asked about red flags at a visit, and answered. Personal data: health data.

    ``answers`` maps question codes to yes or no; a question that is missing was not asked.
    """

    visit = models.ForeignKey(
        "clinic.Visit", on_delete=models.PROTECT, related_name="red_flag_checks"
    )
    form = models.CharField(max_length=10, choices=[("eight", "all eight"), ("four", "short four")])
    answers = models.JSONField(default=dict)
    tier = models.CharField(max_length=10, blank=True)
    action = models.TextField(blank=True)
    contacted = models.CharField(max_length=160, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey("clinic.StaffMember", on_delete=models.PROTECT)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(form__in=["eight", "four"]), name="red_flag_form"),
            models.CheckConstraint(
                condition=Q(tier__in=["", "now", "today", "this_week"]), name="red_flag_tier"
            ),
        ]

    def __str__(self) -> str:
        return f"red-flag check {self.pk}"


class LookAnswer(models.Model):
    """An answer to a reason to look: seen, plan, look again on. Personal data: health data."""

    episode = models.ForeignKey(
        "clinic.Episode", on_delete=models.PROTECT, related_name="look_answers"
    )
    code = models.CharField(max_length=60)
    size = models.DecimalField(max_digits=15, decimal_places=6)
    plan = models.CharField(max_length=300)
    look_again_on = models.DateField()
    answered_at = models.DateTimeField()
    answered_by = models.ForeignKey("clinic.StaffMember", on_delete=models.PROTECT)

    class Meta:
        indexes = [models.Index(fields=["episode", "code", "-id"])]

    def __str__(self) -> str:
        return f"answer {self.pk}"


class Decision(models.Model):
    """A named clinician's recorded decision, with who took part and the evidence as it stood.

    ``course`` is what was decided; ``begun_early`` records what the patient did and meets nothing.
    ``evidence`` is the judgement of that day with its inputs. Personal data: health data.
    """

    episode = models.ForeignKey(
        "clinic.Episode", on_delete=models.PROTECT, related_name="decisions"
    )
    milestone = models.CharField(max_length=60)
    protocol_version = models.ForeignKey("outcomes.ProtocolVersion", on_delete=models.PROTECT)
    kind = models.CharField(
        max_length=10, choices=[("made", "made"), ("withdrawn", "withdrawn")], default="made"
    )
    course = models.CharField(max_length=12, choices=COURSES, default="not_yet")
    agreed = models.CharField(max_length=300)
    took_part = models.JSONField(default=list)
    why_unmet = models.TextField(blank=True)
    risk_discussed = models.TextField(blank=True)
    recheck_on = models.DateField(null=True)
    evidence = models.JSONField(default=dict)
    evidence_sha256 = models.CharField(max_length=64)
    supersedes = models.OneToOneField(
        "self", null=True, on_delete=models.PROTECT, related_name="superseded_by"
    )
    reason = models.CharField(max_length=200, blank=True)
    decided_at = models.DateTimeField()
    decided_by = models.ForeignKey("clinic.StaffMember", on_delete=models.PROTECT)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=(
                    Q(kind="made", supersedes__isnull=True)
                    | (Q(kind="withdrawn", supersedes__isnull=False) & ~Q(reason=""))
                ),
                name="decision_withdrawn_with_a_reason",
            ),
            models.CheckConstraint(
                condition=Q(course__in=[code for code, _ in COURSES]), name="decision_course"
            ),
        ]

    def __str__(self) -> str:
        return f"decision {self.pk}"
