"""What the core must know of visits, and of limits that nobody has confirmed yet."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date
from functools import cache
from typing import Any, Final, NamedTuple

from django.db.models import Max, Min, Q, QuerySet, prefetch_related_objects

from clinic.models import care
from outcomes.core.events import BY_CODE, asks_for_limits
from outcomes.core.values import Event, VisitFacts

WITHOUT_LIMITS: Final = frozenset(
    {"partial_meniscectomy", "cyclops_removal", "washout", "stiffness_procedure"}
)
"""Procedures after which load and range follow the ACL operation (common practice, no source).
After every other one the surgeon's limits are asked for."""

PROCEDURE: Final = dict(care.PROCEDURES)
REOPERATION: Final = "another operation on this knee"
NOT_KNOWN: Final = "what else was done is not known yet"


class Dates(NamedTuple):
    """Of one patient: last visit that took place, last one booked, oldest one not signed."""

    last: date | None
    booked: date | None
    unsigned: date | None


def visit_facts_of(
    *, episodes: Sequence[care.Episode], events: Mapping[int, Sequence[Event]]
) -> dict[int, VisitFacts]:
    """The visits of each episode's patient in short. At most three statements.

    A visit took place once it was opened or signed; a patient's visit counts for both knees.
    ``events`` are those of each episode: after some of them the surgeon's limits are asked for.
    """
    prefetch_related_objects(episodes, "surgeries")
    dates = _dates(patient_ids={episode.patient_id for episode in episodes})
    asking = [one.pk for one in episodes if _to_confirm(one, events, None)]
    told = _told_on(episode_ids=asking)
    none = Dates(None, None, None)
    return {
        episode.pk: VisitFacts(
            last_on=dates.get(episode.patient_id, none).last,
            booked_on=dates.get(episode.patient_id, none).booked,
            unsigned_since=dates.get(episode.patient_id, none).unsigned,
            followed_since=episode.opened_on,
            limits_to_confirm=_to_confirm(episode, events, told.get(episode.pk)),
        )
        for episode in episodes
    }


def _dates(*, patient_ids: Collection[int]) -> dict[int, Dates]:
    rows = _all_dates().filter(patient_id__in=patient_ids)
    return {ident: Dates(*found) for ident, *found in rows}


@cache
def _all_dates() -> QuerySet[care.Visit, Any]:
    """The dates of every patient, built once: each judgement asks for some of them."""
    return (
        care.Visit.objects.order_by()
        .values("patient_id")
        .annotate(
            last=Max("date", filter=Q(state__in=["open", "signed"])),
            booked=Max("date", filter=Q(state="booked")),
            unsigned=Min("date", filter=Q(state="open")),
        )
        .values_list("patient_id", "last", "booked", "unsigned")
    )


def _told_on(*, episode_ids: Collection[int]) -> dict[int, date]:
    """The latest day from which an instruction of the surgeon holds, by episode."""
    rows = (
        care.Restriction.objects.filter(episode_id__in=episode_ids, origin="surgeon")
        .order_by()
        .values("episode_id")
        .annotate(latest=Max("since"))
    )
    return dict(rows.values_list("episode_id", "latest"))


def _to_confirm(
    episode: care.Episode, events: Mapping[int, Sequence[Event]], told_on: date | None
) -> tuple[str, ...]:
    mine = events[episode.pk]
    return limits_to_confirm(episode=episode, events=mine, told_on=told_on)


def limits_to_confirm(
    *, episode: care.Episode, events: Sequence[Event], told_on: date | None
) -> tuple[str, ...]:
    """The procedures, in words, whose limits the surgeon has not confirmed since they were done.

    Any instruction of the surgeon that holds from the day of the operation or later confirms.
    Reads ``episode.surgeries.all()``, which may be prefetched.
    """
    words: list[str] = []
    for surgery in episode.surgeries.all():
        if surgery.state != "performed" or (told_on and told_on >= (surgery.date or told_on)):
            continue
        asked_for = [code for code in surgery.procedures if code not in WITHOUT_LIMITS]
        words += [PROCEDURE[code] for code in asked_for]
        if surgery.procedures_asked_on and not surgery.procedures:
            words.append(NOT_KNOWN)
    for event in events:
        if event.ref and asks_for_limits(event=event) and not (told_on and told_on >= event.on):
            words.append(_asked_after(event))
    return tuple(dict.fromkeys(words))


def _asked_after(event: Event) -> str:
    """What was done at a reoperation, as the surgeon is asked about it."""
    if event.detail in ("other", "not_known"):
        return REOPERATION
    return BY_CODE[event.code].details.get(event.detail, REOPERATION)
