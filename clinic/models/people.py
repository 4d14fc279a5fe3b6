"""Patients and the people who refer them."""

import uuid

from django.db import models
from django.db.models import Q

SEXES = [("female", "female"), ("male", "male"), ("not_stated", "not stated")]
LIMBS = [("left", "left"), ("right", "right")]


class Patient(models.Model):
    """A person who is followed.

    Personal data: name, birth date, sex, contact, guardian, goal in own words.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    name = models.CharField(max_length=160)
    name_folded = models.CharField(max_length=160, editable=False, db_index=True)
    birth_date = models.DateField()
    sex = models.CharField(max_length=10, choices=SEXES, default="not_stated")
    preferred_limb = models.CharField(max_length=5, choices=LIMBS, blank=True)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    address = models.TextField(blank=True)
    guardian_name = models.CharField(max_length=160, blank=True)
    guardian_phone = models.CharField(max_length=40, blank=True)
    goal_words = models.TextField(blank=True)
    version = models.PositiveIntegerField(default=1)
    registered_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(sex__in=[code for code, _ in SEXES]), name="patient_sex"
            ),
            models.CheckConstraint(
                condition=Q(preferred_limb__in=["", "left", "right"]),
                name="patient_preferred_limb",
            ),
            models.CheckConstraint(condition=~Q(name=""), name="patient_has_a_name"),
            models.CheckConstraint(
                condition=Q(birth_date__gte="1900-01-01"), name="patient_born_after_1900"
            ),
        ]
        indexes = [models.Index(fields=["birth_date"])]

    def __str__(self) -> str:
        return f"patient {self.pk}"


class RecordNumber(models.Model):
    """A patient's record number at one site. Personal data: the number."""

    site = models.ForeignKey("clinic.Site", on_delete=models.PROTECT)
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="record_numbers")
    number = models.CharField(max_length=30)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "number"], name="record_number_once_a_site"),
            models.UniqueConstraint(fields=["site", "patient"], name="one_number_a_patient_a_site"),
            models.CheckConstraint(condition=~Q(number=""), name="record_number_not_empty"),
        ]

    def __str__(self) -> str:
        return f"record number {self.pk}"


class Referrer(models.Model):
    """A surgeon, doctor or other person who refers and receives letters.

    Personal data: name, practice, address.
    """

    KINDS = [("surgeon", "surgeon"), ("physician", "physician"), ("other", "other")]

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=10, choices=KINDS, default="surgeon")
    practice = models.CharField(max_length=120, blank=True)
    address = models.TextField(blank=True)
    retired = models.BooleanField(default=False)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["name", "practice"], name="referrer_once"),
            models.CheckConstraint(
                condition=Q(kind__in=["surgeon", "physician", "other"]), name="referrer_kind"
            ),
        ]

    def __str__(self) -> str:
        return self.name
