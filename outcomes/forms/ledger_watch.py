"""The stopwatch of a hold: what one limb's watch is called, where it marks and where it ends."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from outcomes.core.entries import END_REASON
from outcomes.core.values import Limb, Measure
from outcomes.forms.ledger_fields import detail_name

TICKS: Final = (15, 20)
"""Seconds that are marked while a watch runs and end nothing: a training dose of 15 to 20 s is
common practice, no source."""
CAP: Final = "cap"
"""The end reason of a hold that was stopped by the watch."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Watch:
    """The watch of one limb in one row.

    ``about`` is the side as it is said ("standing on left"). The watch ends at ``longest``
    seconds: ``capped``, this is the most that the test can give and is kept as such; else it is
    beyond what can be meant, and nothing is kept. ``reason`` names the field of why it ended,
    empty where the measure has none; ``cap_is_reason``: it has the cap among its choices.
    """

    id: str
    about: str
    longest: str
    capped: bool
    ticks: tuple[int, ...]
    reason: str
    cap_is_reason: bool


def watch_of(*, row: str, measure: Measure, limb: Limb, about: str) -> Watch | None:
    """The watch of a limb, or None where the measure is not seconds that something is held."""
    if not measure.timed:
        return None
    longest = measure.hard[1] if measure.cap is None else measure.cap
    reason = next((detail for detail in measure.details if detail.code == END_REASON), None)
    return Watch(
        id=f"{row}:{limb}",
        about=about or ("" if limb is Limb.NONE else str(limb)),
        longest=f"{longest:f}",
        capped=measure.cap is not None,
        ticks=tuple(second for second in TICKS if second < longest),
        reason=detail_name(row, limb, END_REASON) if reason else "",
        cap_is_reason=reason is not None and CAP in {choice.code for choice in reason.choices},
    )
