"""What only a letter asks of the record: red flags asked, visits kept, what is still unknown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.db.models import Count, Max, Min, Q

from clinic import words
from clinic.models import care
from clinic.models.people import RecordNumber
from clinic.queries.care import index_date
from outcomes.models.record import RedFlagCheck


@dataclass(frozen=True, kw_only=True, slots=True)
class Check:
    """A red-flag check: its day, its form and the answers; a missing code was not asked."""

    on: date
    form: str
    answers: Mapping[str, bool]


@dataclass(frozen=True, kw_only=True, slots=True)
class Visits:
    """Visits counted from a day, and the next one booked."""

    seen: int
    missed: int
    last: date | None
    booked: date | None
    since: str


def newest_check(*, episode: care.Episode, on: date) -> Check | None:
    """The newest red-flag check of the patient since the episode was opened. One statement."""
    row = (
        RedFlagCheck.objects.filter(
            visit__patient_id=episode.patient_id,
            visit__date__gte=episode.opened_on,
            visit__date__lte=on,
        )
        .order_by("-visit__date", "-id")
        .values_list("visit__date", "form", "answers")
        .first()
    )
    return Check(on=row[0], form=row[1], answers=row[2]) if row else None


def visits_of(*, episode: care.Episode, on: date) -> Visits:
    """The signed visits since the index date, or since the episode was opened. One statement."""
    day0 = index_date(episode=episode)
    start = day0 if day0 is not None and day0 <= on else episode.opened_on
    what = "injury" if episode.kind == "without_surgery" else "surgery"
    kept = Q(state="signed", date__range=(start, on))
    found = care.Visit.objects.filter(patient_id=episode.patient_id).aggregate(
        seen=Count("pk", filter=kept),
        missed=Count("pk", filter=Q(state="missed", date__range=(start, on))),
        last=Max("date", filter=kept),
        booked=Min("date", filter=Q(state="booked", date__gte=on)),
    )
    return Visits(since=what if start == day0 else words.day(start), **found)


def asked_for_none(*, episode: care.Episode, on: date) -> bool:
    """Whether the surgeon was asked and set no limit, and that still stands. One statement."""
    rows = care.Restriction.objects.filter(episode=episode, kind="none", since__lte=on)
    standing = Q(superseded_by__isnull=True) | Q(superseded_by__since__gt=on)
    return rows.filter(standing).exists()


def unknown_parts(*, episode: care.Episode) -> tuple[str, ...]:
    """What the recipient may know and the record does not. Reads ``surgeries.all()``."""
    parts: dict[str, None] = {}
    for surgery in episode.surgeries.all():
        if surgery.state != "performed":
            continue
        parts |= {"the date of the operation": None} if surgery.date is None else {}
        parts |= {"the graft": None} if surgery.graft == "unknown" else {}
        if surgery.procedures_asked_on and not surgery.procedures:
            parts |= {"what else was done": None}
    return tuple(parts)


def number_of(*, episode: care.Episode) -> str:
    """The patient's record number at the site of the episode, or at any. One statement."""
    rows = RecordNumber.objects.filter(patient_id=episode.patient_id).order_by("-id")
    found = dict(rows.values_list("site_id", "number"))
    return found.get(episode.site_id) or next(iter(found.values()), "without number")
