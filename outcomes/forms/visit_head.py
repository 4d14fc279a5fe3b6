"""The band above the ledger: who, which knee, what was done, which limits hold."""

from __future__ import annotations

from dataclasses import dataclass

from clinic import words
from clinic.models.care import PROCEDURES
from clinic.queries.care import Limit
from outcomes.charts.marks import LimbMark
from outcomes.core.values import Limb
from outcomes.queries.beams import marks_of
from outcomes.queries.visit import Knee, VisitSheet

PROCEDURE = dict(PROCEDURES)


@dataclass(frozen=True, kw_only=True, slots=True)
class KneeLine:
    """One followed knee in words."""

    mark: LimbMark
    what: str
    rest: str
    week: str
    limits: tuple[str, ...]
    unconfirmed: str


@dataclass(frozen=True, kw_only=True, slots=True)
class PageHead:
    """The head of one facing page: the patient's left or right limb."""

    limb: Limb
    mark: LimbMark
    words: str


@dataclass(frozen=True, kw_only=True, slots=True)
class VisitHead:
    """Everything above the rows."""

    name: str
    born: str
    record: str
    date: str
    clinician: str
    knees: tuple[KneeLine, ...]
    pages: tuple[PageHead, PageHead]
    involved: str


def state_of(*, knee: Knee) -> str:
    """Operated or injured, as the record says."""
    done = knee.surgery is not None and knee.surgery.state == "performed"
    return "operated" if done else "injured"


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
        knees=tuple(_line(sheet=sheet, knee=knee, mark=marks[knee.limb]) for knee in sheet.knees),
        pages=(
            _page(limb=Limb.LEFT, sheet=sheet, mark=marks[Limb.LEFT]),
            _page(limb=Limb.RIGHT, sheet=sheet, mark=marks[Limb.RIGHT]),
        ),
        involved=" ".join(sorted(limb.value for limb in limbs)),
    )


def _page(*, limb: Limb, sheet: VisitSheet, mark: LimbMark) -> PageHead:
    knee = sheet.involved(limb=limb)
    if knee is None:
        return PageHead(limb=limb, mark=mark, words="other side")
    week = f", {knee.week_words}" if len(sheet.knees) > 1 else ""
    return PageHead(limb=limb, mark=mark, words=f"{state_of(knee=knee)}{week}")


def _line(*, sheet: VisitSheet, knee: Knee, mark: LimbMark) -> KneeLine:
    ident = knee.episode.pk
    return KneeLine(
        mark=mark,
        what=f"{knee.limb.value.capitalize()} knee, {_done(knee=knee)}",
        rest=words.listed(_what_was_done(knee=knee)),
        week=knee.week_words,
        limits=tuple(_limit(limit) for limit in sheet.limits[ident]),
        unconfirmed=words.listed(list(sheet.to_confirm[ident])),
    )


def _done(*, knee: Knee) -> str:
    surgery = knee.surgery
    if surgery is None:
        injured = knee.episode.injury_date
        return f"injured {words.day(injured)}" if injured else "injured, date not known"
    if surgery.state == "planned":
        when = f" for {words.day(surgery.date)}" if surgery.date else ""
        return f"operation planned{when}"
    return f"operated {words.day(surgery.date)}" if surgery.date else "operated, date not known"


def _what_was_done(*, knee: Knee) -> list[str]:
    surgery = knee.surgery
    if surgery is None:
        return []
    graft = (
        [words.graft(graft=surgery.graft, graft_from=surgery.graft_from)] if surgery.graft else []
    )
    return [*graft, *(PROCEDURE[code] for code in surgery.procedures)]


def _limit(limit: Limit) -> str:
    until = f" until {words.short_day(limit.until, today=limit.since)}" if limit.until else ""
    return f"Surgeon's limit{until}: {limit.words}, {limit.limit}."
