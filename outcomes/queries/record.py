"""From rows to what the core judges: readings, facts, limits and visits of many at once.

Every function costs a constant number of statements, however many patients or visits there are.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from datetime import date

from django.db.models import Exists, OuterRef, prefetch_related_objects

from clinic.models import care
from outcomes.core.values import EpisodeFacts, Limb, Reading, ReadingStatus, Restriction
from outcomes.models.record import Reading as ReadingRow

READING = (
    "patient_id", "measure", "limb", "value", "date", "comparison_key", "status", "details", "id",
)  # fmt: skip


def readings_of(*, patient_ids: Collection[int]) -> dict[int, list[Reading]]:
    """The effective readings of each patient, oldest first. One statement.

    Effective is what was entered or corrected and neither superseded nor withdrawn.
    """
    rows = (
        ReadingRow.objects.filter(patient_id__in=patient_ids, superseded_by__isnull=True)
        .exclude(kind="withdrawn")
        .order_by("date", "id")
    )
    found: dict[int, list[Reading]] = {ident: [] for ident in patient_ids}
    for patient_id, measure, limb, value, on, key, status, details, ref in rows.values_list(
        *READING
    ):
        found[patient_id].append(
            Reading(
                measure=measure,
                limb=Limb(limb),
                value=value,
                on=on,
                key=key,
                status=ReadingStatus(status),
                details=details,
                ref=ref,
            )
        )
    return found


def index_surgery(*, episode: care.Episode) -> care.Surgery | None:
    """The performed ACL operation that the weeks count from, else the planned one, else None.

    A reoperation is never it. Reads ``episode.surgeries.all()``, which may be prefetched.
    """
    mine = [s for s in episode.surgeries.all() if s.operation in care.INDEX_OPERATIONS]
    by_state = {s.state: s for s in sorted(mine, key=lambda s: s.pk)}
    return by_state.get("performed") or by_state.get("planned")


def index_date(*, episode: care.Episode) -> date | None:
    """Day 0: the performed ACL operation, or the injury where there is no operation.

    None before the operation, while its date is not known, and for the waiting list.
    """
    if episode.kind == "without_surgery":
        return episode.injury_date
    surgery = index_surgery(episode=episode)
    if episode.kind == "waiting" or surgery is None or surgery.state != "performed":
        return None
    return surgery.date


def episode_facts(*, episodes: Sequence[care.Episode]) -> dict[int, EpisodeFacts]:
    """What the core must know of each episode. At most three statements.

    A graft that is not known stays ``unknown``, and then the rule of the most cautious graft
    applies. A knee on the other side that has been followed here and operated is no healthy
    reference, whatever was ticked at registration.
    """
    prefetch_related_objects(episodes, "patient", "surgeries")
    other_knees = _other_knees(patient_ids={e.patient_id for e in episodes})
    return {
        episode.pk: _facts(
            episode=episode,
            others=[o for o in other_knees[episode.patient_id] if o[0] != episode.knee],
        )
        for episode in episodes
    }


def _other_knees(*, patient_ids: Collection[int]) -> dict[int, list[tuple[str, bool, bool]]]:
    """Of each patient: knee, whether it is followed now, whether it was operated here."""
    operated = care.Surgery.objects.filter(episode=OuterRef("pk"), state="performed")
    rows = care.Episode.objects.filter(patient_id__in=patient_ids).annotate(cut=Exists(operated))
    found: dict[int, list[tuple[str, bool, bool]]] = defaultdict(list)
    for patient_id, knee, state, cut in rows.values_list("patient_id", "knee", "care_state", "cut"):
        found[patient_id].append((knee, state in care.OPEN_CARE_STATES, cut))
    return found


def _facts(*, episode: care.Episode, others: Iterable[tuple[str, bool, bool]]) -> EpisodeFacts:
    others = list(others)
    surgery = index_surgery(episode=episode)
    no_graft = episode.kind == "without_surgery" or surgery is None
    earlier = any(cut for _, _, cut in others) and episode.other_limb in ("healthy", "not_stated")
    return EpisodeFacts(
        knee=Limb(episode.knee),
        kind=episode.kind,
        index_date=index_date(episode=episode),
        graft="" if no_graft or surgery is None else surgery.graft,
        graft_from="" if no_graft or surgery is None else surgery.graft_from,
        other_limb="earlier_surgery" if earlier else episode.other_limb,
        sex=episode.patient.sex,
        birth_date=episode.patient.birth_date,
        goal=episode.goal,
        care_state=episode.care_state,
        other_knee_followed=any(followed for _, followed, _ in others),
    )


def restrictions_of(*, episode_ids: Collection[int]) -> dict[int, list[Restriction]]:
    """The surgeon's limits of each episode as they stand, without those that were superseded."""
    rows = care.Restriction.objects.filter(
        episode_id__in=episode_ids, superseded_by__isnull=True
    ).order_by("since", "id")
    found: dict[int, list[Restriction]] = {ident: [] for ident in episode_ids}
    for episode_id, kind, limit, since, until, ref in rows.values_list(
        "episode_id", "kind", "limit", "since", "until", "id"
    ):
        found[episode_id].append(
            Restriction(kind=kind, limit=limit, since=since, until=until, ref=ref)
        )
    return found
