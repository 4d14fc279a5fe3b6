"""Frozen versions of the catalogue, protocols, progressions and norms; insert-only by triggers."""

from django.db import models
from django.db.models import Q

ORIGINS = [("shipped", "shipped"), ("clinic", "this clinic's own")]


class Version(models.Model):
    """What was in force: code, version, canonical JSON and its SHA-256. Personal data: none."""

    code = models.CharField(max_length=60)
    version = models.PositiveIntegerField()
    origin = models.CharField(max_length=8, choices=ORIGINS, default="shipped")
    body = models.TextField()
    sha256 = models.CharField(max_length=64)
    created_at = models.DateTimeField()
    created_by = models.ForeignKey("clinic.StaffMember", null=True, on_delete=models.PROTECT)

    class Meta:
        abstract = True
        constraints = [
            models.UniqueConstraint(fields=["code", "version"], name="%(class)s_once"),
            models.CheckConstraint(
                condition=Q(origin__in=["shipped", "clinic"]), name="%(class)s_origin"
            ),
            models.CheckConstraint(
                condition=Q(origin="shipped") | Q(code__startswith="own_"),
                name="%(class)s_own_codes_say_so",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code}@{self.version}"


class MeasureVersion(Version):
    """A version of one measure. Readings point at it."""


class ProtocolVersion(Version):
    """A version of one protocol. Decisions point at it. ``note``: what changed since the last."""

    note = models.CharField(max_length=200, blank=True)


class ProtocolDraft(models.Model):
    """A protocol of the clinic's own while it is edited: nothing is judged by it.

    ``base`` is the version that it was copied from, like ``composite@1``; ``body`` what a seed
    would hold; ``version`` counts the times it was saved. It is overwritten freely and ends when it
    is published. Personal data: none.
    """

    code = models.CharField(max_length=30, unique=True)
    base = models.CharField(max_length=40)
    body = models.JSONField()
    version = models.PositiveIntegerField(default=1)
    author = models.ForeignKey(
        "clinic.StaffMember", on_delete=models.PROTECT, related_name="protocol_drafts"
    )
    changed_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(code__startswith="own_"), name="protocol_draft_own_code_says_so"
            )
        ]

    def __str__(self) -> str:
        return f"draft of {self.code}"


class InstrumentVersion(Version):
    """A version of one questionnaire: numbered items and scoring. Completed ones point at it."""


class ProgressionVersion(Version):
    """A version of one progression: its text stays as it was when a plan was made from it."""


class NormVersion(Version):
    """A version of a percentile as the clinic entered it, by sex and age. None is shipped."""


class Switch(models.Model):
    """Whether this clinic uses a measure or questionnaire. Personal data: none.

    Without a row the shipped default holds. A retired one is shown where it was used and asked
    for no more.
    """

    code = models.CharField(max_length=60, unique=True)
    state = models.CharField(
        max_length=8, choices=[("on", "on"), ("off", "off"), ("retired", "retired")]
    )
    changed_at = models.DateTimeField()
    changed_by = models.ForeignKey("clinic.StaffMember", on_delete=models.PROTECT)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(state__in=["on", "off", "retired"]), name="switch_state"
            )
        ]

    def __str__(self) -> str:
        return f"{self.code}: {self.state}"
