"""What is followed: episodes, operations, surgeon's limits and visits."""

import uuid

from django.db import models
from django.db.models import F, Q

from clinic.models.people import LIMBS

EPISODE_KINDS = [
    ("waiting", "waiting for a decision"),
    ("reconstruction", "reconstruction"),
    ("repair", "ligament repair"),
    ("revision", "revision"),
    ("without_surgery", "without surgery"),
]
CARE_STATES = [
    ("active", "active"),
    ("on_hold", "on hold"),
    ("follow_up_only", "follow-up only"),
    ("discharged", "discharged"),
    ("transferred", "transferred"),
]
OPEN_CARE_STATES = ["active", "on_hold", "follow_up_only"]
GOALS = [
    ("pivoting", "pivoting or contact sport"),
    ("sideways", "sideways movement without contact"),
    ("straight_line", "straight line"),
    ("no_sport", "no sport"),
    ("not_stated", "not stated yet"),
]
OTHER_LIMB = [
    ("healthy", "healthy"),
    ("earlier_surgery", "earlier surgery"),
    ("current_problem", "current problem"),
    ("not_stated", "not asked yet"),
]
GRAFTS = [
    ("patellar_tendon", "patellar tendon"),
    ("hamstring", "hamstring"),
    ("quadriceps_tendon", "quadriceps tendon"),
    ("allograft", "allograft"),
    ("other", "other"),
    ("unknown", "unknown, asked"),
]
GRAFT_FROM = [
    ("same_limb", "same limb"),
    ("other_limb", "other limb"),
    ("donor", "donor"),
    ("unknown", "unknown, asked"),
]
OPERATIONS = [
    ("reconstruction", "ACL reconstruction"),
    ("repair", "ACL repair"),
    ("revision", "ACL revision"),
    ("reoperation", "another operation on this knee"),
]
INDEX_OPERATIONS = ["reconstruction", "repair", "revision"]
PROCEDURES = [
    ("partial_meniscectomy", "partial meniscectomy"),
    ("meniscal_repair", "meniscal repair"),
    ("meniscal_repair_complex", "meniscal repair, complex or bucket-handle"),
    ("meniscal_root_repair", "meniscal root repair"),
    ("meniscal_transplant", "meniscal transplant"),
    ("cartilage_procedure", "cartilage procedure"),
    ("collateral_medial", "medial collateral ligament"),
    ("collateral_lateral", "lateral or posterolateral corner"),
    ("lateral_procedure", "lateral extra-articular procedure"),
    ("cyclops_removal", "removal of scar tissue at the front"),
    ("washout", "washout"),
    ("stiffness_procedure", "stiffness procedure"),
]
RESTRICTION_KINDS = [
    ("weight_bearing", "weight bearing"),
    ("range", "range of motion"),
    ("brace", "brace"),
    ("open_chain", "seated knee extension"),
    ("hamstring_load", "hamstring loading"),
    ("loaded_flexion", "loaded knee bend"),
    ("pivoting", "pivoting"),
    ("impact", "impact"),
    ("none", "asked: no limit from the surgeon"),
    ("set_aside", "set aside by a clinician"),
    ("taken_back", "set aside no longer"),
]
OF_CLINICIANS = ("set_aside", "taken_back")
"""Kinds of rows that a clinician adds to limits; no limits themselves."""
LIMIT_ORIGINS = [("surgeon", "surgeon"), ("template", "template"), ("clinician", "clinician")]
CHANGED_PARTS = [
    ("knee", "knee"),
    ("kind", "kind"),
    ("care_state", "care"),
    ("responsible", "responsible clinician"),
    ("operation", "operation"),
    ("protocol", "protocol"),
]
VISIT_STATES = [
    ("booked", "booked"),
    ("arrived", "arrived"),
    ("open", "open"),
    ("signed", "signed"),
    ("missed", "missed"),
    ("cancelled", "cancelled"),
]
CAME_STATES = ("arrived", "open", "signed")
"""The states of a visit to which the patient has come."""


def _codes(choices: list[tuple[str, str]]) -> list[str]:
    return [code for code, _ in choices]


class Episode(models.Model):
    """One knee followed from injury or referral to discharge. Personal data: health data."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    patient = models.ForeignKey("clinic.Patient", on_delete=models.PROTECT, related_name="episodes")
    site = models.ForeignKey("clinic.Site", on_delete=models.PROTECT, related_name="episodes")
    knee = models.CharField(max_length=5, choices=LIMBS)
    kind = models.CharField(max_length=16, choices=EPISODE_KINDS)
    care_state = models.CharField(max_length=16, choices=CARE_STATES, default="active")
    care_reason = models.CharField(max_length=200, blank=True)
    care_until = models.DateField(null=True, blank=True)
    goal = models.CharField(max_length=16, choices=GOALS, default="not_stated")
    sport = models.CharField(max_length=80, blank=True)
    level_before = models.CharField(max_length=80, blank=True)
    injury_date = models.DateField(null=True, blank=True)
    injury_asked_on = models.DateField(null=True, blank=True)
    other_limb = models.CharField(max_length=16, choices=OTHER_LIMB, default="not_stated")
    responsible = models.ForeignKey(
        "clinic.StaffMember", null=True, on_delete=models.PROTECT, related_name="episodes"
    )
    referrer = models.ForeignKey(
        "clinic.Referrer", null=True, blank=True, on_delete=models.PROTECT, related_name="referred"
    )
    surgeon = models.ForeignKey(
        "clinic.Referrer", null=True, blank=True, on_delete=models.PROTECT, related_name="operated"
    )
    protocol = models.CharField(max_length=40, default="starter@2")
    opened_on = models.DateField()
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(knee__in=["left", "right"]), name="episode_knee"),
            models.CheckConstraint(
                condition=Q(kind__in=_codes(EPISODE_KINDS)), name="episode_kind"
            ),
            models.CheckConstraint(
                condition=Q(care_state__in=_codes(CARE_STATES)), name="episode_care_state"
            ),
            models.CheckConstraint(condition=Q(goal__in=_codes(GOALS)), name="episode_goal"),
            models.CheckConstraint(
                condition=Q(other_limb__in=_codes(OTHER_LIMB)), name="episode_other_limb"
            ),
            models.CheckConstraint(
                condition=~Q(care_state="on_hold") | Q(care_until__isnull=False),
                name="episode_on_hold_until",
            ),
            models.CheckConstraint(
                condition=~Q(kind="without_surgery")
                | Q(injury_date__isnull=False)
                | Q(injury_asked_on__isnull=False),
                name="episode_injury_date_or_asked",
            ),
            models.UniqueConstraint(
                fields=["patient", "knee"],
                condition=Q(care_state__in=OPEN_CARE_STATES),
                name="one_open_episode_a_knee",
            ),
        ]
        indexes = [
            models.Index(fields=["site", "care_state"]),
            models.Index(fields=["protocol"], name="episode_protocol"),
        ]

    def __str__(self) -> str:
        return f"episode {self.pk}"


class Surgery(models.Model):
    """An operation within an episode; each part may be unknown, asked on a date.

    Personal data: health data.
    """

    STATES = [("planned", "planned"), ("performed", "performed"), ("cancelled", "cancelled")]

    episode = models.ForeignKey(Episode, on_delete=models.PROTECT, related_name="surgeries")
    operation = models.CharField(max_length=16, choices=OPERATIONS)
    state = models.CharField(max_length=10, choices=STATES)
    date = models.DateField(null=True, blank=True)
    date_asked_on = models.DateField(null=True, blank=True)
    graft = models.CharField(max_length=20, choices=GRAFTS, default="unknown", blank=True)
    graft_asked_on = models.DateField(null=True, blank=True)
    graft_from = models.CharField(max_length=12, choices=GRAFT_FROM, default="unknown", blank=True)
    procedures = models.JSONField(default=list, blank=True)
    procedures_asked_on = models.DateField(null=True, blank=True)
    recorded_by = models.ForeignKey("clinic.StaffMember", on_delete=models.PROTECT)
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(operation__in=_codes(OPERATIONS)), name="surgery_operation"
            ),
            models.CheckConstraint(
                condition=Q(state__in=["planned", "performed", "cancelled"]), name="surgery_state"
            ),
            models.CheckConstraint(
                condition=~Q(state="performed")
                | Q(date__isnull=False)
                | Q(date_asked_on__isnull=False),
                name="surgery_date_or_asked",
            ),
            models.CheckConstraint(
                condition=Q(graft__in=["", *_codes(GRAFTS)]), name="surgery_graft"
            ),
            models.CheckConstraint(
                condition=Q(graft_from__in=["", *_codes(GRAFT_FROM)]), name="surgery_graft_from"
            ),
            models.CheckConstraint(
                condition=~Q(graft="unknown", state="performed") | Q(graft_asked_on__isnull=False),
                name="surgery_graft_or_asked",
            ),
            models.CheckConstraint(
                condition=Q(operation="reoperation", graft="")
                | Q(operation="repair", graft="")
                | (Q(operation__in=["reconstruction", "revision"]) & ~Q(graft="")),
                name="surgery_graft_fits_operation",
            ),
            models.UniqueConstraint(
                fields=["episode"],
                condition=Q(state="performed", operation__in=INDEX_OPERATIONS),
                name="one_index_operation_an_episode",
            ),
        ]

    def __str__(self) -> str:
        return f"surgery {self.pk}"


class EpisodeChange(models.Model):
    """What an episode said before it was changed, so that no history is lost; insert-only.

    ``before`` and ``after`` are codes, dates or a person's id, never free text. Personal data:
    health data.
    """

    episode = models.ForeignKey(Episode, on_delete=models.PROTECT, related_name="changes")
    part = models.CharField(max_length=12, choices=CHANGED_PARTS)
    before = models.CharField(max_length=60, blank=True)
    after = models.CharField(max_length=60, blank=True)
    reason = models.CharField(max_length=200, blank=True)
    on = models.DateField()
    made_by = models.ForeignKey("clinic.StaffMember", on_delete=models.PROTECT)
    made_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(part__in=_codes(CHANGED_PARTS)), name="episode_change_part"
            ),
            models.CheckConstraint(
                condition=~Q(before=F("after")), name="episode_change_changes_something"
            ),
        ]

    def __str__(self) -> str:
        return f"change {self.pk}"


class Restriction(models.Model):
    """A surgeon's limit with its dates. A new instruction supersedes; nothing is edited.

    ``procedure`` is the code of the one procedure whose limits the row confirms, empty for an
    instruction that confirms none. ``origin``: surgeon is what the surgeon said for this patient,
    template a usual limit that was confirmed; clinician sets aside, with the reason in ``limit``
    and from ``since`` on, the usual limit that it supersedes or the earliest date of ``milestone``,
    or takes back what was set aside: it supersedes that row.
    Personal data: health data.
    """

    episode = models.ForeignKey(Episode, on_delete=models.PROTECT, related_name="restrictions")
    kind = models.CharField(max_length=16, choices=RESTRICTION_KINDS)
    limit = models.CharField(max_length=200)
    since = models.DateField()
    until = models.DateField(null=True, blank=True)
    origin = models.CharField(max_length=10, choices=LIMIT_ORIGINS)
    procedure = models.CharField(max_length=40, blank=True, help_text="whose limits it confirms")
    milestone = models.CharField(max_length=60, blank=True, help_text="whose gate it sets aside")
    told_by = models.CharField(max_length=120, blank=True, help_text="who told it, and how")
    told_on = models.DateField(null=True, blank=True)
    recorded_by = models.ForeignKey("clinic.StaffMember", on_delete=models.PROTECT)
    recorded_at = models.DateTimeField()
    supersedes = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="superseded_by"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=_codes(RESTRICTION_KINDS)), name="restriction_kind"
            ),
            models.CheckConstraint(
                condition=Q(origin__in=_codes(LIMIT_ORIGINS)), name="restriction_origin"
            ),
            models.CheckConstraint(
                condition=~Q(origin="template")
                | (~Q(procedure="") & Q(told_on__isnull=False) & ~Q(kind="none")),
                name="restriction_template_is_confirmed",
            ),
            models.CheckConstraint(
                condition=(
                    Q(origin="clinician", procedure="", until__isnull=True)
                    & (
                        Q(kind="set_aside", milestone="", supersedes__isnull=False)
                        | (Q(kind="set_aside", supersedes__isnull=True) & ~Q(milestone=""))
                        | Q(kind="taken_back", supersedes__isnull=False)
                    )
                )
                | (~Q(origin="clinician") & ~Q(kind__in=OF_CLINICIANS) & Q(milestone="")),
                name="restriction_sets_one_thing_aside",
            ),
            models.CheckConstraint(
                condition=Q(origin="clinician") | ~Q(told_by=""), name="restriction_told_by"
            ),
            models.CheckConstraint(
                condition=Q(until__isnull=True) | Q(until__gte=F("since")),
                name="restriction_ends_after_it_starts",
            ),
        ]

    def __str__(self) -> str:
        return f"restriction {self.pk}"


class Visit(models.Model):
    """A patient's visit on a local date; it may touch two knees. Personal data: health data."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    patient = models.ForeignKey("clinic.Patient", on_delete=models.PROTECT, related_name="visits")
    site = models.ForeignKey("clinic.Site", on_delete=models.PROTECT, related_name="visits")
    date = models.DateField()
    time = models.TimeField(null=True, blank=True)
    state = models.CharField(max_length=10, choices=VISIT_STATES)
    clinician = models.ForeignKey(
        "clinic.StaffMember", null=True, on_delete=models.PROTECT, related_name="visits"
    )
    arrived_at = models.DateTimeField(null=True)
    opened_at = models.DateTimeField(null=True)
    signed_at = models.DateTimeField(null=True)
    signed_by = models.ForeignKey(
        "clinic.StaffMember", null=True, on_delete=models.PROTECT, related_name="signed_visits"
    )
    note = models.TextField(blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(state__in=_codes(VISIT_STATES)), name="visit_state"),
            models.CheckConstraint(
                condition=(
                    Q(state="signed", signed_at__isnull=False, signed_by__isnull=False)
                    | (~Q(state="signed") & Q(signed_at__isnull=True, signed_by__isnull=True))
                ),
                name="visit_signed_by_someone",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=["open", "signed"]) | Q(opened_at__isnull=False),
                name="visit_opened_before_signed",
            ),
            models.UniqueConstraint(
                fields=["patient", "date"],
                condition=Q(state__in=["arrived", "open"]),
                name="one_running_visit_a_day",
            ),
        ]
        indexes = [
            models.Index(fields=["site", "date"]),
            models.Index(fields=["patient", "-date", "-id"]),
        ]

    def __str__(self) -> str:
        return f"visit {self.pk}"
