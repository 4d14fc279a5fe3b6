"""The band above the ledger: who, which knee, what was done, which limits hold."""

from __future__ import annotations

from dataclasses import dataclass

from clinic import words
from outcomes.charts.marks import LimbMark
from outcomes.core.values import Limb
from outcomes.queries.beams import marks_of
from outcomes.queries.knee_words import KneeWords, PageHead, knee_words, state_words
from outcomes.queries.visit import VisitSheet


@dataclass(frozen=True, kw_only=True, slots=True)
class VisitHead:
    """Everything above the rows."""

    name: str
    born: str
    record: str
    date: str
    clinician: str
    knees: tuple[KneeWords, ...]
    pages: tuple[PageHead, PageHead]
    involved: str


def head_of(*, sheet: VisitSheet) -> VisitHead:
    """The band of a visit."""
    visit, patient = sheet.visit, sheet.visit.patient
    limbs = frozenset(knee.limb for knee in sheet.knees)
    marks = dict(zip((Limb.LEFT, Limb.RIGHT), marks_of(knees=limbs), strict=True))
    return VisitHead(
        name=patient.name,
        born=words.day(patient.birth_date),
        record=sheet.record_number,
        date=words.day(visit.date),
        clinician=sheet.clinician.full_name if sheet.clinician else "nobody yet",
        knees=tuple(
            knee_words(
                episode=knee.episode,
                knees=limbs,
                limits=sheet.limits[knee.episode.pk],
                to_confirm=sheet.to_confirm[knee.episode.pk],
                on=visit.date,
            )
            for knee in sheet.knees
        ),
        pages=(
            _page(limb=Limb.LEFT, sheet=sheet, mark=marks[Limb.LEFT]),
            _page(limb=Limb.RIGHT, sheet=sheet, mark=marks[Limb.RIGHT]),
        ),
        involved=" ".join(sorted(limb.value for limb in limbs)),
    )


def empty_head(*, knees: frozenset[Limb]) -> VisitHead:
    """The band of no visit: only the marks of the two facing pages."""
    left, right = marks_of(knees=knees)
    return VisitHead(
        name="",
        born="",
        record="",
        date="",
        clinician="",
        knees=(),
        pages=(
            PageHead(limb=Limb.LEFT, mark=left, words=_followed(Limb.LEFT, knees)),
            PageHead(limb=Limb.RIGHT, mark=right, words=_followed(Limb.RIGHT, knees)),
        ),
        involved=" ".join(sorted(limb.value for limb in knees)),
    )


def _followed(limb: Limb, knees: frozenset[Limb]) -> str:
    return "operated or injured" if limb in knees else "other side"


def _page(*, limb: Limb, sheet: VisitSheet, mark: LimbMark) -> PageHead:
    knee = sheet.involved(limb=limb)
    if knee is None:
        return PageHead(limb=limb, mark=mark, words="other side")
    week = f", {knee.week_words}" if len(sheet.knees) > 1 else ""
    return PageHead(limb=limb, mark=mark, words=f"{state_words(episode=knee.episode)}{week}")
