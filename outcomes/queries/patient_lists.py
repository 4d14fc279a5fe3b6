"""The lists at the foot of the patient page: visits, letters, and who covers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Final
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Exists
from django.urls import reverse

from clinic import words
from clinic.models import care
from clinic.models.handovers import Handover
from clinic.models.people import Patient
from clinic.queries.care import week_words
from outcomes.models.letters import Letter
from outcomes.models.pictures import PictureAgreement

NIL: Final = UUID(int=0)
SHOWN: Final = 10
"""How many visits stand in the page; the rest is a touch away."""


@dataclass(frozen=True, kw_only=True, slots=True)
class VisitLine:
    """A visit in one line; ``weeks`` names the week of each shown knee."""

    uid: UUID
    address: str
    on: str
    weeks: str
    state: str
    who: str


@dataclass(frozen=True, kw_only=True, slots=True)
class LetterLine:
    """A letter in one line."""

    uid: UUID
    on: str
    state: str
    to: str
    by: str


@dataclass(frozen=True, kw_only=True, slots=True)
class CoverLine:
    """A cover that has not ended: who, when, and the two lines."""

    who: str
    days: str
    aim_now: str
    watch_for: str
    taken_over: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class VisitList:
    """The newest visits, or all of them; ``more`` says that there are older ones.

    ``agreed``: keeping pictures was agreed to at some time, so that there may be some.
    """

    lines: Sequence[VisitLine]
    more: bool
    agreed: bool


def visit_list(*, patient: Patient, shown: Sequence[care.Episode], everything: bool) -> VisitList:
    """The patient's visits, newest first. One statement."""
    agreed = Exists(PictureAgreement.objects.filter(patient=patient))
    rows = care.Visit.objects.filter(patient=patient).annotate(agreed=agreed)
    rows = rows.order_by("-date", "-id")
    found = rows.values_list("uid", "date", "state", "clinician__full_name", "agreed")
    seen = [(row[:4], row[4]) for row in (found if everything else found[: SHOWN + 1])]
    lines = [row for row, _ in (seen if everything else seen[:SHOWN])]
    return VisitList(
        lines=_visit_lines(lines, shown=shown),
        more=len(seen) > SHOWN and not everything,
        agreed=any(yes for _, yes in seen),
    )


@lru_cache(maxsize=8)
def _pattern(name: str) -> str:
    """The address of a page named by a UUID, with the nil UUID in its place."""
    return reverse(name, args=[NIL])


def address_of(*, name: str, uid: UUID) -> str:
    """The address of a page named by a UUID, without looking through all routes again."""
    return _pattern(name).replace(str(NIL), str(uid))


def _visit_lines(
    rows: Iterable[tuple[UUID, date, str, str | None]], *, shown: Sequence[care.Episode]
) -> list[VisitLine]:
    states = dict(care.VISIT_STATES)
    return [
        VisitLine(
            uid=uid,
            address=address_of(name="visit", uid=uid),
            on=words.day(day),
            weeks="; ".join(
                week_words(episode=episode, on=day)
                + (f" ({episode.knee})" if len(shown) > 1 else "")
                for episode in shown
            ),
            state=states[state],
            who=who or "",
        )
        for uid, day, state, who in rows
    ]


def letter_lines(*, episodes: Sequence[care.Episode]) -> list[LetterLine]:
    """The letters of the patient's episodes, newest first. One statement."""
    zone = ZoneInfo(episodes[0].site.zone)
    rows = Letter.objects.filter(episode__in=episodes).order_by("-drafted_at", "-id")
    found = rows.values_list(
        "uid", "drafted_at", "signed_at", "recipient__name", "drafted_by__full_name",
        "replaced_by__signed_at",
    )  # fmt: skip
    return [
        LetterLine(
            uid=uid,
            on=words.day((signed or drafted).astimezone(zone).date()),
            state="replaced" if replaced else "signed" if signed else "draft",
            to=to,
            by=by,
        )
        for uid, drafted, signed, to, by, replaced in found
    ]


def cover_lines(*, shown: Sequence[care.Episode], on: date) -> list[CoverLine]:
    """The covers of the shown episodes that have not ended, in order. One statement."""
    rows = Handover.objects.filter(episode__in=shown, until__gte=on).order_by("since", "id")
    found = rows.values_list(
        "giver__full_name", "taker__full_name", "since", "until", "aim_now", "watch_for",
        "taken_over_at",
    )  # fmt: skip
    return [
        CoverLine(
            who=f"{taker} covers for {giver}",
            days=f"{words.short_day(since, today=on)} to {words.short_day(until, today=on)}",
            aim_now=aim,
            watch_for=watch,
            taken_over=taken is not None,
        )
        for giver, taker, since, until, aim, watch, taken in found
    ]
