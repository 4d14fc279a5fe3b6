"""Pictures that a patient agreed to have kept, that agreement, and what was erased."""

import uuid

from django.db import models
from django.db.models import Q

AGREED_BY = [("patient", "the patient"), ("guardian", "a parent or guardian")]
AGREEMENTS = [
    ("given", "given"),
    ("withdrawn", "withdrawn"),
    ("lapsed", "given by a guardian who was not named"),
]
LIMBS = [("left", "left"), ("right", "right")]
VIEWS = [("front", "from in front"), ("back", "from behind")]


class PictureAgreement(models.Model):
    """The agreement to keep pictures, or its withdrawal; insert-only, the newest counts.

    A child's is given by a guardian who is named with their relation, and by the child; what an
    older version took from a guardian without both is kept as lapsed. Personal data: health data.
    """

    patient = models.ForeignKey(
        "clinic.Patient", on_delete=models.PROTECT, related_name="picture_agreements"
    )
    kind = models.CharField(max_length=9, choices=AGREEMENTS)
    erased = models.PositiveIntegerField(default=0, help_text="pictures erased by a withdrawal")
    agreed_by = models.CharField(max_length=8, choices=AGREED_BY)
    guardian = models.CharField(max_length=160, blank=True, help_text="name and relation")
    assented = models.BooleanField(null=True, help_text="the child agrees too")
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        "clinic.StaffMember", on_delete=models.PROTECT, related_name="picture_agreements"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=[code for code, _ in AGREEMENTS]),
                name="picture_agreement_kind",
            ),
            models.CheckConstraint(
                condition=~Q(kind="given")
                | Q(agreed_by="patient", guardian="", assented__isnull=True)
                | (
                    Q(agreed_by="guardian", assented=True, assented__isnull=False) & ~Q(guardian="")
                ),
                name="picture_agreement_by_whom",
            ),
        ]

    def __str__(self) -> str:
        return f"picture agreement {self.pk}"


class Picture(models.Model):
    """A still of a task, encoded afresh without metadata; insert-only. Personal data: health data.

    ``content`` is a JPEG of at most a few megabytes, kept in the database so that copies of it and
    erasure reach it. It is erased alone with a reason, and with all others when the patient takes
    the agreement back.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    visit = models.ForeignKey("clinic.Visit", on_delete=models.PROTECT, related_name="pictures")
    measure = models.CharField(max_length=60)
    limb = models.CharField(max_length=5, choices=LIMBS)
    view = models.CharField(max_length=5, choices=VIEWS)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    content = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        "clinic.StaffMember", on_delete=models.PROTECT, related_name="pictures"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(limb__in=["left", "right"]), name="picture_limb"),
            models.CheckConstraint(condition=Q(view__in=["front", "back"]), name="picture_view"),
        ]

    def __str__(self) -> str:
        return f"picture {self.pk}"


class PictureErasure(models.Model):
    """That one kept picture was erased, by whom and why; nothing of the picture. Insert-only.

    Personal data: health data.
    """

    uid = models.UUIDField(unique=True, editable=False, help_text="of the picture that was erased")
    visit = models.ForeignKey(
        "clinic.Visit", on_delete=models.PROTECT, related_name="picture_erasures"
    )
    limb = models.CharField(max_length=5, choices=LIMBS)
    view = models.CharField(max_length=5, choices=VIEWS)
    reason = models.CharField(max_length=200)
    erased_at = models.DateTimeField()
    erased_by = models.ForeignKey(
        "clinic.StaffMember", on_delete=models.PROTECT, related_name="picture_erasures"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="picture_erasure_has_a_reason")
        ]

    def __str__(self) -> str:
        return f"picture erasure {self.pk}"
