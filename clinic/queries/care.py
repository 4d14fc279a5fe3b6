"""What an episode counts from, and which of the surgeon's limits hold: one answer for every page.

Functions that take episodes read ``surgeries.all()``, so that a prefetch keeps lists constant.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from clinic import words
from clinic.models import care


def acl_operation(*, episode: care.Episode) -> care.Surgery | None:
    """The performed ACL operation, else the planned one, else None. A reoperation is never it."""
    mine = [s for s in episode.surgeries.all() if s.operation in care.INDEX_OPERATIONS]
    by_state = {s.state: s for s in sorted(mine, key=lambda s: s.pk)}
    return by_state.get("performed") or by_state.get("planned")


def index_surgery(*, episode: care.Episode) -> care.Surgery | None:
    """The performed ACL operation that the weeks count from, or None."""
    found = acl_operation(episode=episode)
    return found if found and found.state == "performed" else None


def index_date(*, episode: care.Episode) -> date | None:
    """Day 0: the performed ACL operation, or the injury where there is no operation.

    None before the operation, on the waiting list, and while the date is not known.
    """
    if episode.kind == "without_surgery":
        return episode.injury_date
    surgery = index_surgery(episode=episode)
    return None if episode.kind == "waiting" or surgery is None else surgery.date


def week_words(*, episode: care.Episode, on: date) -> str:
    """Where an episode stands on a day: "week 15", "before surgery", or which date is missing."""
    day0 = index_date(episode=episode)
    if day0 is None and episode.kind == "without_surgery":
        return "date of the injury not known yet"
    if day0 is None and index_surgery(episode=episode) is not None:
        return "date of the operation not known yet"
    said = words.since_index(index_date=day0, on=on)
    if episode.kind != "without_surgery" or day0 is None:
        return said
    return "before the injury" if on < day0 else f"{said} after the injury"


def earliest_injury(*, patient_id: int) -> date | None:
    """The earliest injury on the patient's record, over all episodes."""
    return (
        care.Episode.objects.filter(patient_id=patient_id, injury_date__isnull=False)
        .order_by("injury_date")
        .values_list("injury_date", flat=True)
        .first()
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Aside:
    """What a clinician set aside, from which day on, and why; ``until`` where it was taken back."""

    on: date
    by: str
    reason: str
    until: date | None = None

    def counts(self, *, on: date) -> bool:
        """Whether it is set aside on that day."""
        return self.on <= on and (self.until is None or on <= self.until)


@dataclass(frozen=True, kw_only=True, slots=True)
class Limit:
    """A surgeon's limit with the days on which it really held, both end days included.

    ``until`` is the earliest of its own last day ``meant_until``, the day before a newer
    instruction began, and the day before it was set ``aside``. ``instead_of``: the usual limits
    whose place the surgeon's own one took, for good: none of them comes back when it ends.
    """

    pk: int
    episode_id: int
    kind: str
    words: str
    limit: str
    since: date
    until: date | None
    told_by: str
    origin: str
    procedure: str = ""
    meant_until: date | None = None
    aside: Aside | None = None
    instead_of: tuple[Limit, ...] = ()

    def lapses(self) -> tuple[Limit, ...]:
        """The usual limits that would have held on when this one ends.

        Not those that the surgeon ended in the same words.
        """
        end = self.until
        return tuple(
            usual
            for usual in self.instead_of
            if end is not None
            and usual.limit != self.limit
            and (usual.meant_until is None or end < usual.meant_until)
        )

    def holds(self, *, on: date) -> bool:
        """Whether the limit holds on that day."""
        return self.since <= on and (self.until is None or on <= self.until)

    def would_hold(self, *, on: date) -> bool:
        """Whether it is set aside on that day, but was meant to hold then or later."""
        return (
            self.aside is not None
            and self.aside.counts(on=on)
            and (self.meant_until is None or on <= self.meant_until)
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class Told:
    """The limits of an episode, and the milestones whose earliest date was set aside."""

    limits: list[Limit]
    gates: list[tuple[str, Aside]]


REPLACED_BY = ("superseded_by__recorded_by", "superseded_by__superseded_by__recorded_by")
"""The rows that replaced one: the newer instruction, and what came after it."""


def told_of(*, episode_ids: Collection[int]) -> dict[int, Told]:
    """Limits and gates set aside of each episode, oldest first. One statement.

    "Asked: no limit" is an answer and no limit, so it is left out. A usual limit that was set aside
    and taken back is two of them: as far as it held before, and from that day on.
    """
    rows = (
        care.Restriction.objects.filter(episode_id__in=episode_ids)
        .exclude(kind__in=["none", "taken_back"])
        .select_related("recorded_by", *REPLACED_BY)
        .order_by("since", "id")
    )
    gates: dict[int, list[tuple[str, Aside]]] = {ident: [] for ident in episode_ids}
    said: dict[int, list[care.Restriction]] = {ident: [] for ident in episode_ids}
    for row in rows:
        if row.milestone:
            gates[row.episode_id].append((row.milestone, _aside(row)))
        elif row.kind != "set_aside":
            said[row.episode_id].append(row)
    return {ident: Told(limits=spans(said[ident]), gates=gates[ident]) for ident in said}


def limits(*, episode_ids: Collection[int]) -> dict[int, list[Limit]]:
    """The limits of each episode, oldest first, as far as newer instructions leave them any day.

    One that was set aside stays in the list, to be shown. One statement.
    """
    return {ident: told.limits for ident, told in told_of(episode_ids=episode_ids).items()}


def spans(rows: Iterable[care.Restriction]) -> list[Limit]:
    """The days on which each instruction really held; one that never held a day is left out.

    A usual limit holds no longer than to the day before the surgeon's own limit of its kind begins.
    """
    told = [_limit(row) for row in rows]
    found = [limit for limit in told if _counts(limit)]
    own = [limit for limit in found if limit.origin == "surgeon"]
    beaten = {limit.pk: _last_instead(limit, own) for limit in told}
    return [
        replace(limit, instead_of=tuple(one for one in told if beaten[one.pk] is limit))
        for limit in (_surgeon_first(limit, own) for limit in found)
        if _counts(limit)
    ]


def _last_instead(usual: Limit, own: Iterable[Limit]) -> Limit | None:
    """The surgeon's own limit that ends last of those that took a usual one's place."""
    if usual.origin == "surgeon" or usual.aside is not None:
        return None
    meant = replace(usual, until=usual.meant_until)
    return max(
        (one for one in own if _beats(one, meant)),
        key=lambda one: one.until or date.max,
        default=None,
    )


def _counts(limit: Limit) -> bool:
    ever = limit.until is None or limit.since <= limit.until
    return ever or limit.aside is not None


def _surgeon_first(limit: Limit, own: Iterable[Limit]) -> Limit:
    if limit.origin == "surgeon":
        return limit
    begins = [one.since for one in own if _beats(one, limit)]
    if not begins:
        return limit
    return replace(limit, until=min(begins) - timedelta(days=1))


def _beats(own: Limit, usual: Limit) -> bool:
    """Whether the surgeon's own limit speaks of the same thing on some of the same days."""
    same = (own.episode_id, own.kind) == (usual.episode_id, usual.kind)
    return (
        same
        and own.procedure in ("", usual.procedure)
        and own.since <= (usual.until or date.max)
        and usual.since <= (own.until or date.max)
    )


def limits_in_force(*, episode_id: int, on: date) -> list[Limit]:
    """The surgeon's limits that hold on a day."""
    return [limit for limit in limits(episode_ids=[episode_id])[episode_id] if limit.holds(on=on)]


def _limit(row: care.Restriction) -> Limit:
    newer = getattr(row, "superseded_by", None)
    ends = [row.until, newer.since - timedelta(days=1) if newer else None]
    return Limit(
        pk=row.pk,
        episode_id=row.episode_id,
        kind=row.kind,
        words=row.get_kind_display(),
        limit=row.limit,
        since=row.since,
        until=min((day for day in ends if day), default=None),
        told_by=row.told_by,
        origin=row.origin,
        procedure=row.procedure,
        meant_until=row.until,
        aside=_aside(newer) if newer and newer.origin == "clinician" else None,
    )


def _aside(row: care.Restriction) -> Aside:
    back = getattr(row, "superseded_by", None)
    return Aside(
        on=row.since,
        by=row.recorded_by.full_name,
        reason=row.limit,
        until=back.since - timedelta(days=1) if back else None,
    )


def open_episodes(*, patient_id: int) -> Sequence[care.Episode]:
    """The patient's episodes that are followed, with their operations. Two statements."""
    return list(
        care.Episode.objects.filter(patient_id=patient_id, care_state__in=care.OPEN_CARE_STATES)
        .select_related("patient", "site")
        .prefetch_related("surgeries")
        .order_by("id")
    )


def surgery_of(*, episode_id: int, number: int) -> care.Surgery | None:
    """An operation of an episode by its number, or None when it is another episode's."""
    return care.Surgery.objects.filter(episode_id=episode_id, pk=number).first()
