"""Pictures that are kept, and those that were erased one by one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from clinic import words
from outcomes.models.pictures import Picture, PictureErasure


@dataclass(frozen=True, kw_only=True, slots=True)
class PictureLine:
    """A kept picture in words, without its bytes."""

    uid: UUID
    on: str
    limb: str
    view: str
    who: str
    kept_at: str


@dataclass(frozen=True, kw_only=True, slots=True)
class ErasureLine:
    """That a picture was erased, in words: when, what it showed, by whom and why."""

    on: str
    visit_on: str
    limb: str
    view: str
    who: str
    reason: str


def pictures_of(*, patient_id: int, zone: str) -> Sequence[PictureLine]:
    """The kept pictures of a patient, newest first, at the times of a zone."""
    rows = Picture.objects.filter(visit__patient_id=patient_id).select_related(
        "visit", "recorded_by"
    )
    return [
        PictureLine(
            uid=row.uid,
            on=words.day(row.visit.date),
            limb=row.limb,
            view=row.get_view_display(),
            who=row.recorded_by.full_name,
            kept_at=words.moment(row.recorded_at, zone=zone),
        )
        for row in rows.defer("content").order_by("-id")
    ]


def erasures_of(*, patient_id: int, zone: str) -> Sequence[ErasureLine]:
    """Pictures of a patient that were erased one by one, newest first, at the times of a zone."""
    rows = PictureErasure.objects.filter(visit__patient_id=patient_id)
    return [
        ErasureLine(
            on=words.moment(row.erased_at, zone=zone),
            visit_on=words.day(row.visit.date),
            limb=row.limb,
            view=row.get_view_display(),
            who=row.erased_by.full_name,
            reason=row.reason,
        )
        for row in rows.select_related("visit", "erased_by").order_by("-id")
    ]


def kept_in(*, visit_id: int) -> int:
    """How many pictures of a visit are kept."""
    return Picture.objects.filter(visit_id=visit_id).count()
