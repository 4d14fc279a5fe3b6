"""Cover: whose patients can be handed over, what was handed to whom, what was taken over."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Q, QuerySet

from clinic import words
from clinic.models.care import OPEN_CARE_STATES, Episode
from clinic.models.handovers import Handover
from clinic.queries.care import week_words


@dataclass(frozen=True, kw_only=True, slots=True)
class Cover:
    """A hand-over in words: who covers whom, when, and the two lines."""

    pk: int
    episode: Episode
    title: str
    giver: str
    taker: str
    days: str
    aim_now: str
    watch_for: str
    taken_over: bool
    to_me: bool


def own_episodes(
    *, responsible_id: int, site_ids: Collection[int], on: date
) -> Sequence[tuple[int, str]]:
    """The followed episodes of a clinician at these sites: id and a line. Two statements."""
    rows = Episode.objects.filter(
        responsible_id=responsible_id, site_id__in=site_ids, care_state__in=OPEN_CARE_STATES
    )
    found = rows.select_related("patient").prefetch_related("surgeries")
    return [
        (row.pk, _title(row, on))
        for row in found.order_by("patient__name_folded", "patient_id", "knee", "pk")
    ]


def covers_of(
    *, staff_id: int, site_ids: Collection[int], on: date, everyone: bool
) -> Sequence[Cover]:
    """What was handed to or by a person, or by ``everyone``, and has not ended, newest first.

    Two statements.
    """
    mine = Q() if everyone else Q(taker_id=staff_id) | Q(giver_id=staff_id)
    rows = Handover.objects.filter(mine, until__gte=on, episode__site_id__in=site_ids)
    return [_cover(row, on, staff_id) for row in _with_names(rows)]


def _with_names(rows: QuerySet[Handover]) -> QuerySet[Handover]:
    return (
        rows.select_related("episode__patient", "giver", "taker")
        .prefetch_related("episode__surgeries")
        .order_by("-since", "-pk")
    )


def _cover(row: Handover, on: date, staff_id: int) -> Cover:
    return Cover(
        pk=row.pk,
        episode=row.episode,
        title=_title(row.episode, on),
        giver=row.giver.full_name,
        taker=row.taker.full_name,
        days=f"{words.day(row.since)} to {words.day(row.until)}",
        aim_now=row.aim_now,
        watch_for=row.watch_for,
        taken_over=row.taken_over_at is not None,
        to_me=row.taker_id == staff_id,
    )


def _title(episode: Episode, on: date) -> str:
    return f"{episode.patient.name}, {episode.knee} knee, {week_words(episode=episode, on=on)}"
