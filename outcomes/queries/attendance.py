"""What the core must know of visits, and of limits that nobody has confirmed yet."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import UTC, date, datetime
from functools import cache
from typing import Any, Final, NamedTuple

from django.db.models import (
    Count,
    FilteredRelation,
    Max,
    Min,
    Q,
    QuerySet,
    prefetch_related_objects,
)

from clinic.models import care
from outcomes.core.events import BY_CODE, asks_for_limits
from outcomes.core.holds import KINDS
from outcomes.core.values import Event, LateTyping, Unconfirmed, VisitFacts
from outcomes.protocols.limits_reading import limit_templates

WITHOUT_LIMITS: Final = frozenset(
    {"partial_meniscectomy", "cyclops_removal", "washout", "stiffness_procedure"}
)
"""Procedures after which load and range follow the ACL operation (common practice, no source).
After every other one the surgeon's limits are asked for."""

PROCEDURE: Final = dict(care.PROCEDURES)
REOPERATION: Final = "another operation on this knee"
NOT_KNOWN: Final = "what else was done is not known yet"


class Asked(NamedTuple):
    """A procedure whose limits are asked for: code, words, the day it was done if known."""

    procedure: str
    words: str
    done_on: date | None

    @property
    def held(self) -> Unconfirmed:
        """What it holds back: the kinds it usually limits, every kind where that is not known."""
        template = limit_templates().get(self.procedure)
        return Unconfirmed(words=self.words, kinds=template.kinds if template else KINDS)


Told = Mapping[tuple[int, str], date]
"""The latest day from which confirmed limits hold, by episode and procedure."""


class Dates(NamedTuple):
    """Of one patient: last visit that took place, last one booked, oldest one not signed.

    Of the closed visits with texts that came late: how many, the oldest, when the newest came, the
    oldest with a red flag among them, and when the newest of those came.
    """

    last: date | None = None
    booked: date | None = None
    unsigned: date | None = None
    late: int = 0
    late_on: date | None = None
    late_at: datetime | None = None
    flagged_on: date | None = None
    flagged_at: datetime | None = None

    @property
    def late_typing(self) -> LateTyping | None:
        """The same as the core judges it."""
        if self.late_on is None or self.late_at is None:
            return None
        came_on = self.late_at.astimezone(UTC).date()
        return LateTyping(
            visits=self.late,
            oldest_on=self.late_on,
            came_on=came_on,
            flagged_on=self.flagged_on,
            flag_came_at=self.flagged_at.astimezone(UTC) if self.flagged_at else None,
        )


def visit_facts_of(
    *, episodes: Sequence[care.Episode], events: Mapping[int, Sequence[Event]]
) -> dict[int, VisitFacts]:
    """The visits of each episode's patient in short. At most three statements.

    A visit took place once it was opened or signed; a patient's visit counts for both knees.
    ``events`` are those of each episode: after some of them the surgeon's limits are asked for.
    """
    prefetch_related_objects(episodes, "surgeries")
    dates = _dates(patient_ids={episode.patient_id for episode in episodes})
    open_limits = unconfirmed_of(episodes=episodes, events=events)
    none = Dates()
    return {
        episode.pk: VisitFacts(
            last_on=dates.get(episode.patient_id, none).last,
            booked_on=dates.get(episode.patient_id, none).booked,
            unsigned_since=dates.get(episode.patient_id, none).unsigned,
            followed_since=episode.opened_on,
            late_typing=dates.get(episode.patient_id, none).late_typing,
            unconfirmed=tuple(one.held for one in open_limits[episode.pk]),
        )
        for episode in episodes
    }


def _dates(*, patient_ids: Collection[int]) -> dict[int, Dates]:
    rows = _all_dates().filter(patient_id__in=patient_ids)
    return {ident: Dates(*found) for ident, *found in rows}


@cache
def _all_dates() -> QuerySet[care.Visit, Any]:
    """The dates of every patient, built once: each judgement asks for some of them."""
    late = Q(late__isnull=False) & ~Q(state="open")
    return (
        care.Visit.objects.order_by()
        .annotate(late=FilteredRelation("waiting_saves", condition=Q(waiting_saves__open=True)))
        .values("patient_id")
        .annotate(
            last=Max("date", filter=Q(state__in=["open", "signed"])),
            booked=Max("date", filter=Q(state="booked")),
            unsigned=Min("date", filter=Q(state="open")),
            late_visits=Count("pk", filter=late, distinct=True),
            late_on=Min("date", filter=late),
            late_at=Max("late__received_at", filter=late),
            flagged_on=Min("date", filter=late & Q(late__flagged=True)),
            flagged_at=Max("late__received_at", filter=late & Q(late__flagged=True)),
        )
        .values_list(
            *("patient_id", "last", "booked", "unsigned"),
            *("late_visits", "late_on", "late_at", "flagged_on", "flagged_at"),
        )
    )


def unconfirmed_of(
    *, episodes: Sequence[care.Episode], events: Mapping[int, Sequence[Event]]
) -> dict[int, tuple[Asked, ...]]:
    """The procedures of each episode whose limits nobody has confirmed. At most one statement.

    Each procedure is confirmed by itself: limits that are recorded for it and hold from the day it
    was done or later. Reads ``episode.surgeries.all()``, which may be prefetched.
    """
    asked = {one.pk: asked_for(episode=one, events=events[one.pk]) for one in episodes}
    told = _told(episode_ids=[pk for pk, found in asked.items() if found])
    return {
        pk: tuple(one for one in found if not _confirmed(one, told.get((pk, one.procedure))))
        for pk, found in asked.items()
    }


def words_of(*, asked: Sequence[Asked]) -> tuple[str, ...]:
    """The procedures in words, each once."""
    return tuple(dict.fromkeys(one.words for one in asked))


def _confirmed(asked: Asked, told: date | None) -> bool:
    return told is not None and (asked.done_on is None or told >= asked.done_on)


def _told(*, episode_ids: Collection[int]) -> Told:
    if not episode_ids:
        return {}
    rows = (
        care.Restriction.objects.filter(episode_id__in=episode_ids)
        .exclude(procedure="")
        .order_by()
        .values("episode_id", "procedure")
        .annotate(latest=Max("since"))
        .values_list("episode_id", "procedure", "latest")
    )
    return {(pk, procedure): latest for pk, procedure, latest in rows}


def asked_for(*, episode: care.Episode, events: Sequence[Event]) -> list[Asked]:
    """Every procedure after which the surgeon's limits are asked for, confirmed or not."""
    found: list[Asked] = []
    for surgery in episode.surgeries.all():
        if surgery.state != "performed":
            continue
        found += [
            Asked(code, PROCEDURE[code], surgery.date)
            for code in surgery.procedures
            if code not in WITHOUT_LIMITS
        ]
        if surgery.procedures_asked_on and not surgery.procedures:
            found.append(Asked("not_known", NOT_KNOWN, surgery.date))
    found += [_asked_after(one) for one in events if one.ref and asks_for_limits(event=one)]
    return _newest_of_each(found)


def _newest_of_each(asked: Sequence[Asked]) -> list[Asked]:
    """What was done twice is asked for once: the last time counts."""
    newest: dict[str, Asked] = {}
    for one in asked:
        before = newest.get(one.procedure, one)
        newest[one.procedure] = max(before, one, key=lambda each: each.done_on or date.min)
    return list(newest.values())


def _asked_after(event: Event) -> Asked:
    """What was done at a reoperation, as the surgeon is asked about it."""
    if event.detail in ("other", "not_known"):
        return Asked("reoperation", REOPERATION, event.on)
    words = BY_CODE[event.code].details.get(event.detail, REOPERATION)
    return Asked(event.detail, words, event.on)
