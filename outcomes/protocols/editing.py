"""What holds for a protocol that a clinic publishes, beyond what the reader of any version asks.

A version that was published earlier stays readable; a new one is refused with these sentences.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Final

from outcomes.core.values import Gate, Milestone, Protocol

Json = Mapping[str, Any]
WEEKS_A_MONTH: Final = Fraction(36525, 8400)
"""365.25 days, 12 months, 7 days: only to compare a week with a month."""
NOT_A_NUMBER: Final = ("sources", "label", "hard")
"""Keys of a criterion or gate that say nothing of what is asked."""


@dataclass(frozen=True, kw_only=True, slots=True)
class OutOfOrder:
    """A milestone whose earliest date lies before that of one before it.

    ``who`` is the code of the people for whom it does (``graft:allograft``), empty for everybody.
    """

    earlier: Milestone
    later: Milestone
    who: str


def out_of_order(*, protocol: Protocol) -> tuple[OutOfOrder, ...]:
    """Every milestone that could be entered before the one it follows, by dates alone.

    For everybody first; for some people only where it is not so for everybody.
    """
    found = []
    for earlier, later in zip(protocol.milestones, protocol.milestones[1:], strict=False):
        codes = ["", *sorted(code for code, _ in (*earlier.gate.later, *later.gate.later))]
        for who in dict.fromkeys(codes):
            if _weeks(later.gate, who) < _weeks(earlier.gate, who):
                found.append(OutOfOrder(earlier=earlier, later=later, who=who))
                if not who:
                    break
    return tuple(found)


def _weeks(gate: Gate, who: str) -> Fraction:
    """The earliest week of a gate for some people; a month counts as so many weeks."""
    found = [Fraction(gate.weeks or 0), (gate.months or 0) * WEEKS_A_MONTH]
    found += [months * WEEKS_A_MONTH for code, months in gate.later if code == who]
    return max(found)


def without_source(*, before: Json, after: Json) -> tuple[tuple[str, str], ...]:
    """Milestone and criterion (none for the earliest date) that ask something else than before
    and still name the old sources: what a source says of one number, it says of no other.
    """
    old = {one["code"]: one for one in before["milestones"]}
    return tuple(
        (milestone["code"], code)
        for milestone in after["milestones"]
        if milestone["code"] in old
        for code, was, now in _pairs(old[milestone["code"]], milestone)
        if was["sources"] == now["sources"] and _asked(was) != _asked(now)
    )


def _pairs(before: Json, after: Json) -> Iterator[tuple[str, Json, Json]]:
    yield "", before["gate"], after["gate"]
    was = {one["code"]: one for one in before["criteria"]}
    for one in after["criteria"]:
        if one["code"] in was:
            yield one["code"], was[one["code"]], one


def _asked(row: Json) -> Json:
    return {key: value for key, value in row.items() if key not in NOT_A_NUMBER}
