"""From rows to what the core judges: readings, facts, limits and visits of many at once.

Every function costs a constant number of statements, however many patients or visits there are.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

from django.db.models import Count, Exists, OuterRef, Q, QuerySet, prefetch_related_objects

from clinic.models import care
from clinic.queries.care import Limit, Told, acl_operation, index_date, told_of
from outcomes.core.values import (
    EpisodeFacts,
    Event,
    GateAside,
    Limb,
    Reading,
    ReadingStatus,
    Restriction,
)
from outcomes.models.record import Reading as ReadingRow

OTHER_ACL: Final = "other_knee_acl_injury"
READING = (
    "patient_id", "measure", "limb", "value", "date", "comparison_key", "status", "details", "id",
    "kind", "recorded_by_id",
)  # fmt: skip


@cache
def _effective() -> QuerySet[ReadingRow, Any]:
    """What was entered or corrected, and neither superseded nor withdrawn, oldest first.

    Built once, as it is asked with every judgement: to be filtered, never to be read itself.
    """
    rows = ReadingRow.objects.filter(superseded_by__isnull=True).exclude(kind="withdrawn")
    return rows.order_by("date", "id").values_list(*READING)


def readings_of(*, patient_ids: Collection[int]) -> dict[int, list[Reading]]:
    """The effective readings of each patient, oldest first. One statement."""
    found: dict[int, list[Reading]] = {ident: [] for ident in patient_ids}
    for patient_id, reading in _readings(_effective().filter(patient_id__in=patient_ids)):
        found[patient_id].append(reading)
    return found


def measured_of(
    *, patient_ids: Collection[int], measures: Collection[str]
) -> dict[int, list[Reading]]:
    """The effective readings of some measures of each patient, oldest first. One statement."""
    found: dict[int, list[Reading]] = {ident: [] for ident in patient_ids}
    rows = _effective().filter(patient_id__in=patient_ids, measure__in=measures)
    for patient_id, reading in _readings(rows):
        found[patient_id].append(reading)
    return found


def some_readings(
    *, patient_id: int, measures: Collection[str], refs: Collection[int]
) -> list[Reading]:
    """Effective readings of some measures, and those named by ``refs``. One statement."""
    wanted = Q(measure__in=measures) | Q(pk__in=refs)
    rows = _effective().filter(wanted, patient_id=patient_id)
    return [reading for _, reading in _readings(rows)]


def days_read(*, patient_id: int) -> dict[tuple[str, str], int]:
    """On how many days each measure was read under each comparison key. One statement."""
    rows = _effective().filter(patient_id=patient_id).order_by()
    grouped = rows.values_list("measure", "comparison_key")
    return {
        (measure, key): days
        for measure, key, days in grouped.annotate(days=Count("date", distinct=True))
    }


def _readings(rows: Iterable[Any]) -> Iterator[tuple[int, Reading]]:
    """Patient and reading of each row."""
    for patient_id, measure, limb, value, on, key, status, details, ref, kind, by in rows:
        yield (
            patient_id,
            Reading(
                measure=measure,
                limb=Limb(limb),
                value=value,
                on=on,
                key=key,
                status=ReadingStatus(status),
                details=details,
                ref=ref,
                tester=tester_of(kind=kind, recorded_by=by),
            ),
        )


def tester_of(*, kind: str, recorded_by: int) -> int:
    """Who tested: whoever entered it. Of a corrected value it is not known here: 0."""
    return recorded_by if kind == "entered" else 0


def episode_facts(
    *, episodes: Sequence[care.Episode], events: Mapping[int, Sequence[Event]]
) -> dict[int, EpisodeFacts]:
    """What the core must know of each episode. At most three statements.

    A graft that is not known stays ``unknown``, and then the rule of the most cautious graft
    applies. A knee on the other side that has been followed here and operated is no healthy
    reference, whatever was ticked at registration; nor is one whose ACL was injured (``events``).
    """
    prefetch_related_objects(episodes, "patient", "surgeries")
    other_knees = _other_knees(patient_ids={e.patient_id for e in episodes})
    return {
        episode.pk: _facts(
            episode=episode,
            others=[o for o in other_knees[episode.patient_id] if o[0] != episode.knee],
            hurt=any(one.code == OTHER_ACL for one in events[episode.pk]),
        )
        for episode in episodes
    }


def _other_knees(*, patient_ids: Collection[int]) -> dict[int, list[tuple[str, bool, bool]]]:
    """Of each patient: knee, whether it is followed now, whether it was operated here."""
    found: dict[int, list[tuple[str, bool, bool]]] = defaultdict(list)
    for patient_id, knee, state, cut in _all_knees().filter(patient_id__in=patient_ids):
        found[patient_id].append((knee, state in care.OPEN_CARE_STATES, cut))
    return found


@cache
def _all_knees() -> QuerySet[care.Episode, Any]:
    """Every episode's patient, knee, care state and whether it was operated here; built once."""
    operated = care.Surgery.objects.filter(episode=OuterRef("pk"), state="performed")
    rows = care.Episode.objects.annotate(cut=Exists(operated))
    return rows.values_list("patient_id", "knee", "care_state", "cut")


def _facts(
    *, episode: care.Episode, others: Iterable[tuple[str, bool, bool]], hurt: bool
) -> EpisodeFacts:
    others = list(others)
    surgery = acl_operation(episode=episode)
    no_graft = episode.kind == "without_surgery" or surgery is None
    other = episode.other_limb
    if other in ("healthy", "not_stated"):
        cut = any(cut for _, _, cut in others)
        other = "earlier_surgery" if cut else "current_problem" if hurt else other
    return EpisodeFacts(
        knee=Limb(episode.knee),
        kind=episode.kind,
        index_date=index_date(episode=episode),
        graft="" if no_graft or surgery is None else surgery.graft,
        graft_from="" if no_graft or surgery is None else surgery.graft_from,
        other_limb=other,
        sex=episode.patient.sex,
        birth_date=episode.patient.birth_date,
        goal=episode.goal,
        care_state=episode.care_state,
        other_knee_followed=any(followed for _, followed, _ in others),
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Limited:
    """The surgeon's limits of an episode with their days, and the gates that were set aside."""

    restrictions: Sequence[Restriction]
    asides: Sequence[GateAside]


def limited_of(*, episode_ids: Collection[int]) -> dict[int, Limited]:
    """What limits each episode. One statement."""
    found = told_of(episode_ids=episode_ids)
    return {ident: limited(told=told) for ident, told in found.items()}


def limited(*, told: Told) -> Limited:
    """The same of one episode, from what was read of it."""
    return Limited(
        restrictions=[restriction_of(limit=limit) for limit in told.limits],
        asides=[
            GateAside(
                milestone=code,
                on=aside.on,
                by=aside.by,
                reason=aside.reason,
                until=aside.until,
            )
            for code, aside in told.gates
        ],
    )


def restriction_of(*, limit: Limit) -> Restriction:
    """A surgeon's limit as the core judges it."""
    return Restriction(
        kind=limit.kind, limit=limit.limit, since=limit.since, until=limit.until, ref=limit.pk
    )
