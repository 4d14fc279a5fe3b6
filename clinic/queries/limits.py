"""The surgeon's limits of an episode as their page shows them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from clinic import words
from clinic.models.care import OF_CLINICIANS, Restriction
from clinic.queries.care import REPLACED_BY, spans


@dataclass(frozen=True, kw_only=True, slots=True)
class LimitLine:
    """An instruction in words; ``standing`` while no newer one has taken its place.

    ``open_ended``: the surgeon may end it; ``can_set_aside``: a clinician may. ``usual``: a usual
    limit that was confirmed; ``overruled``: it would hold, but the surgeon's own limit of its kind
    took its place; ``aside``: who set it aside, when and why, and who took that back, when and why;
    ``is_aside``: it is set aside today, and a clinician may take that back.
    """

    pk: int
    title: str
    days: str
    told_by: str
    recorded: str
    holds: bool
    standing: bool
    open_ended: bool
    can_set_aside: bool
    usual: bool
    overruled: str
    aside: str
    is_aside: bool


def instructions(*, episode_id: int, on: date, zone: str) -> Sequence[LimitLine]:
    """Everything the surgeon was recorded to have said, newest first. One statement.

    What a clinician set aside says so beside the limit; a gate stands with its milestone.
    """
    rows = (
        Restriction.objects.filter(episode_id=episode_id)
        .exclude(kind__in=OF_CLINICIANS)
        .select_related("recorded_by", *REPLACED_BY)
        .order_by("since", "id")
    )
    said = [row for row in rows if row.kind != "none"]
    found = spans(said)
    held = {limit.pk for limit in found if limit.holds(on=on)}
    ended = {usual.pk: own.until for own in found for usual in own.lapses()}
    newest_first = sorted(rows, key=lambda row: -row.pk)
    return [
        _line(row, on, zone, holds=row.pk in held, ended=ended.get(row.pk)) for row in newest_first
    ]


def _overruled(ended: date | None, on: date) -> str:
    if ended is None or on <= ended:
        return "the surgeon’s own limit holds instead"
    return (
        f"the surgeon’s own limit took its place and ended on {words.day(ended)}: neither holds now"
    )


def _line(row: Restriction, on: date, zone: str, *, holds: bool, ended: date | None) -> LimitLine:
    newer = getattr(row, "superseded_by", None)
    over = row.until is not None and row.until < on
    usual = row.origin == "template"
    told = f" on {words.day(row.told_on)}" if row.told_on else ""
    open_ended = newer is None and row.kind != "none" and not over
    return LimitLine(
        pk=row.pk,
        title=f"{row.get_kind_display()}: {row.limit}",
        days=f"from {words.day(row.since)} "
        + (f"to {words.day(row.until)}" if row.until else "until told otherwise"),
        told_by=f"{row.told_by}{told}",
        recorded=f"{words.moment(row.recorded_at, zone=zone)}, {row.recorded_by.full_name}",
        holds=holds,
        standing=newer is None,
        open_ended=open_ended,
        can_set_aside=open_ended and usual,
        usual=usual,
        overruled=_overruled(ended, on)
        if usual and open_ended and row.since <= on and not holds
        else "",
        aside=aside_line(newer) if newer and newer.origin == "clinician" else "",
        is_aside=_is_aside(newer) and not over,
    )


def _is_aside(newer: Restriction | None) -> bool:
    set_aside = newer is not None and newer.kind == "set_aside"
    return set_aside and getattr(newer, "superseded_by", None) is None


def aside_line(row: Restriction) -> str:
    """What a clinician did to a limit or a gate: set aside by whom, when and why; taken back so."""
    said = f"set aside on {_who_why(row)}"
    back = getattr(row, "superseded_by", None)
    return f"{said}; taken back on {_who_why(back)}" if back else said


def _who_why(row: Restriction) -> str:
    return f"{words.day(row.since)} by {row.recorded_by.full_name}: {row.limit}"


def gates_taken_back(*, episode_id: int, milestone: str) -> Sequence[str]:
    """When an earliest date was set aside and taken back, oldest first. One statement."""
    rows = Restriction.objects.filter(
        episode_id=episode_id,
        milestone=milestone,
        kind="set_aside",
        superseded_by__isnull=False,
    )
    related = rows.select_related("recorded_by", "superseded_by__recorded_by").order_by("id")
    return [aside_line(row) for row in related]
