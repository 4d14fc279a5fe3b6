"""The measures that a visit does not ask for and that can be added to it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from outcomes.catalogue.order import rank
from outcomes.core.sets import usual_from
from outcomes.core.values import Measure
from outcomes.queries.visit import VisitSheet


@dataclass(frozen=True, kw_only=True, slots=True)
class Addable:
    """A measure that is not among the rows: ``note`` says when it is usual."""

    row: str
    label: str
    note: str


def addable_of(*, sheet: VisitSheet, there: Collection[str]) -> tuple[Addable, ...]:
    """Every measure that is offered and not ``there``, in the order of a visit."""
    offered = sheet.in_force.offers
    rest = [measure for measure in sheet.measures.values() if measure.typed]
    rest = [one for one in rest if one.code not in there and offered(code=one.code)]
    rest.sort(key=lambda measure: (rank(measure.code), measure.code))
    return tuple(
        Addable(row=one.code, label=one.short_label, note=_note(measure=one, sheet=sheet))
        for one in rest
    )


def _note(*, measure: Measure, sheet: VisitSheet) -> str:
    """The first week ahead in which one of the protocols asks for it, or none."""
    found = [
        usual_from(protocol=protocol, code=measure.code, week=week)
        for protocol, week in sheet.protocols
    ]
    weeks = [week for week in found if week is not None]
    return f"usual from week {min(weeks)}" if weeks else ""
