"""The clinic's places and the people who work there."""

import uuid

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import Q
from django.db.models.functions import Now

from clinic.permissions import Role

UNITS = [("metric", "metric"), ("us", "US customary")]
PAPERS = [("A4", "A4"), ("Letter", "Letter")]
MAJORITY = (14, 25)
ROLES = [(role.value, role.value.replace("_", " ")) for role in Role]


class Organisation(models.Model):
    """The one organisation of this installation. Personal data: none."""

    id = models.SmallAutoField(primary_key=True)
    name = models.CharField(max_length=120)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(id=1), name="one_organisation")]

    def __str__(self) -> str:
        return self.name


class Site(models.Model):
    """A place where patients are seen: its zone, units, letterhead. Personal data: none."""

    organisation = models.ForeignKey(Organisation, on_delete=models.PROTECT, related_name="sites")
    code = models.SlugField(max_length=20, unique=True)
    name = models.CharField(max_length=80)
    zone = models.CharField(max_length=40, default="UTC", help_text="IANA time zone")
    units = models.CharField(max_length=8, choices=UNITS, default="metric")
    letterhead = models.TextField(blank=True, help_text="address lines printed on letters")
    emergency_line = models.CharField(max_length=120, blank=True)
    paper = models.CharField(max_length=6, choices=PAPERS, default="A4")
    proposals = models.BooleanField(default=True, help_text="next steps are proposed")
    pictures = models.BooleanField(default=False, help_text="angles may be read off a picture")
    keep_pictures = models.BooleanField(
        default=False, help_text="a picture may be kept once the patient agreed"
    )
    majority = models.PositiveSmallIntegerField(
        default=18, help_text="age of majority in years, as the local law has it"
    )
    protocol = models.CharField(
        max_length=40, blank=True, help_text="of new episodes; blank: as shipped"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(units__in=["metric", "us"]), name="site_units"),
            models.CheckConstraint(condition=Q(paper__in=["A4", "Letter"]), name="site_paper"),
            models.CheckConstraint(
                condition=Q(majority__gte=MAJORITY[0], majority__lte=MAJORITY[1]),
                name="site_majority",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class StaffManager(BaseUserManager["StaffMember"]):
    """Creates people who can sign in; only invitations and ``init`` call it."""

    def create(self, *, username: str, full_name: str, password: str) -> "StaffMember":  # type: ignore[override]
        """A person with a usable password, saved."""
        person = self.model(username=username, full_name=full_name)
        person.set_password(password)
        person.save(using=self._db)
        return person


class StaffMember(AbstractBaseUser):
    """A person who signs in. Personal data: name, credential, contact, sign-in times."""

    username = models.CharField(max_length=60, unique=True)
    full_name = models.CharField(max_length=120)
    credential = models.CharField(max_length=80, blank=True, help_text="printed under the name")
    contact = models.CharField(max_length=120, blank=True, help_text="printed on letters")
    email = models.EmailField(blank=True)
    pin = models.CharField(max_length=128, blank=True, editable=False)
    pin_misses = models.PositiveSmallIntegerField(default=0, editable=False)
    is_active = models.BooleanField(default=True)
    joined_at = models.DateTimeField(db_default=Now())

    objects = StaffManager()
    USERNAME_FIELD = "username"
    REQUIRED_FIELDS = ["full_name"]

    def __str__(self) -> str:
        return self.full_name


class Membership(models.Model):
    """A person's role at a site. Ending one keeps the row. Personal data: who works where."""

    staff = models.ForeignKey(StaffMember, on_delete=models.PROTECT, related_name="memberships")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=12, choices=ROLES)
    ended_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["staff", "site", "role"], name="one_role_once_a_site"),
            models.CheckConstraint(
                condition=Q(role__in=[r.value for r in Role]), name="known_role"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.staff_id} {self.role} at {self.site_id}"


class Invitation(models.Model):
    """A one-time link, shown once on screen; only its hash is kept. Personal data: a name.

    With ``renews`` it lets that person choose a new password instead of adding a person.
    """

    token_hash = models.CharField(max_length=64, unique=True)
    site = models.ForeignKey(Site, on_delete=models.PROTECT)
    role = models.CharField(max_length=12, choices=ROLES)
    full_name = models.CharField(max_length=120)
    invited_by = models.ForeignKey(
        StaffMember, null=True, on_delete=models.PROTECT, related_name="invitations"
    )
    created_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True)
    accepted_by = models.ForeignKey(
        StaffMember, null=True, on_delete=models.PROTECT, related_name="accepted_invitations"
    )
    renews = models.ForeignKey(
        StaffMember, null=True, on_delete=models.PROTECT, related_name="renewals"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(accepted_at__isnull=True, accepted_by__isnull=True)
                | Q(accepted_at__isnull=False, accepted_by__isnull=False),
                name="invitation_accepted_by_someone",
            ),
            models.CheckConstraint(
                condition=Q(role__in=[r.value for r in Role]), name="invitation_known_role"
            ),
        ]

    def __str__(self) -> str:
        return f"invitation {self.pk} to site {self.site_id}"


class Tablet(models.Model):
    """A registered shared tablet, on which a six-digit PIN unlocks. Personal data: none."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="tablets")
    label = models.CharField(max_length=60)
    key_hash = models.CharField(max_length=64, unique=True)
    registered_by = models.ForeignKey(StaffMember, on_delete=models.PROTECT)
    registered_at = models.DateTimeField()
    retired_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return self.label
