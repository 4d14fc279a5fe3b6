"""Whether a picture may be kept: who agreed, who has to, and since when that is not enough."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from clinic import words
from clinic.models.people import Patient
from clinic.models.places import Site
from outcomes.core.dates import age_on, birthday
from outcomes.models.pictures import PictureAgreement


@dataclass(frozen=True, kw_only=True, slots=True)
class AgreementLine:
    """An agreement or its withdrawal in words: when, what, by whom, who recorded it."""

    on: str
    kind: str
    by: str
    who: str
    erased: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Agreed:
    """What a patient's newest agreement is worth on a day at a site.

    ``stands``: there is one that can be taken back. ``counts``: a new picture may be kept under
    it, because whoever has to agree at the patient's age did. ``until``: the birthday from which
    a guardian's agreement counts no more.
    """

    newest: PictureAgreement | None
    child: bool
    majority: int
    until: date

    @property
    def stands(self) -> bool:
        """Whether it was given, in whatever way, and not taken back."""
        return self.newest is not None and self.newest.kind != "withdrawn"

    @property
    def counts(self) -> bool:
        """Whether a new picture may be kept under it."""
        by = "guardian" if self.child else "patient"
        return (
            self.newest is not None and self.newest.kind == "given" and self.newest.agreed_by == by
        )

    @property
    def says(self) -> str:
        """How it stands in a sentence, and what to do where a new picture may not be kept."""
        if self.counts and self.child:
            return (
                "The agreement to keep pictures stands: a parent or guardian agreed, and the young "
                f"person too. For new pictures it counts until {words.day(self.until)}, the "
                "birthday of coming of age; then the patient is asked."
            )
        if self.counts:
            return "The agreement to keep pictures stands."
        return self._missing()

    def _missing(self) -> str:
        if self.child and self.stands:
            return (
                f"Under {self.majority} years a parent or guardian is asked by name, and the "
                "young person too. Record both before a new picture is kept."
            )
        if self.child:
            return (
                f"No agreement is recorded. Under {self.majority} years a parent or guardian "
                "agrees, and the young person too."
            )
        if self.stands:
            return (
                "A parent or guardian agreed before the patient came of age. Record the "
                "patient's own agreement before a new picture is kept."
            )
        return "No agreement is recorded. Record the patient's agreement first."


def agreed(*, patient: Patient, site: Site, on: date) -> Agreed:
    """The patient's newest agreement, as the site's age of majority has it on that day."""
    rows = PictureAgreement.objects.filter(patient_id=patient.pk).order_by("-id")
    born, majority = patient.birth_date, site.majority
    return Agreed(
        newest=rows.first(),
        child=age_on(birth_date=born, on=on) < majority,
        majority=majority,
        until=birthday(birth_date=born, age=majority),
    )


def agreements_of(*, patient_id: int, zone: str) -> Sequence[AgreementLine]:
    """What was agreed and taken back, newest first, at the times of a zone."""
    rows = PictureAgreement.objects.filter(patient_id=patient_id).select_related("recorded_by")
    return [
        AgreementLine(
            on=words.moment(row.recorded_at, zone=zone),
            kind=row.kind,
            by=_by(row),
            who=row.recorded_by.full_name,
            erased=row.erased,
        )
        for row in rows.order_by("-id")
    ]


def _by(row: PictureAgreement) -> str:
    """Who said so: the patient, or the guardian as they were named and the young person."""
    if row.agreed_by == "patient":
        return row.get_agreed_by_display()
    named = row.guardian or row.get_agreed_by_display()
    return f"{named}, and by the young person" if row.assented else named
