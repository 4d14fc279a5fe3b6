"""The surgeon's limits of an episode as their page shows them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from clinic import words
from clinic.models.care import Restriction
from clinic.queries.care import limits_in_force


@dataclass(frozen=True, kw_only=True, slots=True)
class LimitLine:
    """An instruction in words; ``standing`` while no newer one has taken its place.

    ``usual``: a usual limit that was confirmed; ``overruled``: it would hold, but the surgeon's own
    limit of its kind holds instead.
    """

    pk: int
    title: str
    days: str
    told_by: str
    recorded: str
    holds: bool
    standing: bool
    open_ended: bool
    usual: bool
    overruled: bool


def instructions(*, episode_id: int, on: date, zone: str) -> Sequence[LimitLine]:
    """Everything the surgeon was recorded to have said, newest first. Two statements."""
    held = {limit.pk for limit in limits_in_force(episode_id=episode_id, on=on)}
    rows = Restriction.objects.filter(episode_id=episode_id).select_related(
        "recorded_by", "superseded_by"
    )
    return [_line(row, on, zone, holds=row.pk in held) for row in rows.order_by("-pk")]


def _line(row: Restriction, on: date, zone: str, *, holds: bool) -> LimitLine:
    newer = getattr(row, "superseded_by", None)
    ended = row.until is not None and row.until < on
    usual = row.origin == "template"
    told = f" on {words.day(row.told_on)}" if row.told_on else ""
    return LimitLine(
        pk=row.pk,
        title=f"{row.get_kind_display()}: {row.limit}",
        days=f"from {words.day(row.since)} "
        + (f"to {words.day(row.until)}" if row.until else "until told otherwise"),
        told_by=f"{row.told_by}{told}",
        recorded=f"{words.moment(row.recorded_at, zone=zone)}, {row.recorded_by.full_name}",
        holds=holds,
        standing=newer is None,
        open_ended=newer is None and row.kind != "none" and not ended,
        usual=usual,
        overruled=usual and newer is None and row.since <= on and not ended and not holds,
    )
