"""The measures that a visit does not ask for and that can be added to it, by group."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from outcomes.catalogue.order import LABELS, rank
from outcomes.core.sets import usual_from
from outcomes.core.values import Group, Measure
from outcomes.forms.ledger_cells import cell_id
from outcomes.forms.ledger_rows import Drawing
from outcomes.queries.visit import VisitSheet


@dataclass(frozen=True, kw_only=True, slots=True)
class Addable:
    """A measure that is not among the rows: ``note`` says when it is usual.

    ``find`` are all words that it is found by. ``held`` are the sentences of a limit that holds
    it, ``held_cells`` the ids of the cells that it holds; ``cautions`` as in its row.
    """

    row: str
    label: str
    note: str
    find: str
    held: tuple[str, ...]
    held_cells: str
    cautions: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class AddGroup:
    """The measures of one section of a visit that can be added."""

    label: str
    measures: tuple[Addable, ...]


def addable_of(*, drawing: Drawing, there: Collection[str]) -> tuple[AddGroup, ...]:
    """Every measure that is typed, offered and not ``there``, in the order of a visit."""
    rest = [one for one in drawing.sheet.offered if one.code not in there]
    rest.sort(key=lambda measure: (rank(measure.code), measure.code))
    groups: dict[Group, list[Addable]] = {group: [] for group in LABELS}
    for measure in rest:
        groups[measure.group].append(_addable(measure=measure, drawing=drawing))
    return tuple(
        AddGroup(label=LABELS[group], measures=tuple(found))
        for group, found in groups.items()
        if found
    )


def _addable(*, measure: Measure, drawing: Drawing) -> Addable:
    words = f"{measure.label} {measure.short_label} {measure.code.replace('_', ' ')}"
    holds = drawing.sheet.holds.items() if measure.per_limb else ()
    return Addable(
        row=measure.code,
        label=measure.short_label,
        note=_note(measure=measure, sheet=drawing.sheet),
        find=words.lower(),
        held=drawing.held(measure),
        held_cells=" ".join(
            cell_id(row=measure.code, limb=limb) for limb, why in holds if measure.code in why
        ),
        cautions=drawing.cautions(measure),
    )


def _note(*, measure: Measure, sheet: VisitSheet) -> str:
    """The first week ahead in which it is usual: in a set of the protocol, or at the earliest."""
    weeks = []
    for protocol, week in sheet.protocols:
        first = usual_from(protocol=protocol, code=measure.code, week=week)
        earliest = measure.earliest_week or 0
        if first is None and week is not None and week < earliest:
            first = earliest
        weeks += [] if first is None else [first]
    return f"usual from week {min(weeks)}" if weeks else ""
