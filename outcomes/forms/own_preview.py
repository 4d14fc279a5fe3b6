"""How a measure looks as a row of a visit, before it is kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from outcomes.core.quantities import unit_sign
from outcomes.core.values import Limb, Measure
from outcomes.forms.ledger_cells import Cell, cell_of, condition_fields, unit_field
from outcomes.forms.ledger_fields import Field
from outcomes.forms.ledger_tests import BOTH, test_of


@dataclass(frozen=True, kw_only=True, slots=True)
class Preview:
    """A row with nothing typed in it."""

    id: str
    measure: Measure
    unit: str
    cells: tuple[Cell, ...]
    conditions: tuple[Field, ...]
    unit_field: Field | None


def preview_of(*, measure: Measure, on: date) -> Preview:
    """The row of a measure for somebody of whom nothing is known yet."""
    test = test_of(row=measure.code, measures={measure.code: measure}, texts={})
    cells = tuple(
        cell_of(test=test, limb=limb, texts={}, history=(), on=on, involved=False, wrong=False)
        for limb in (BOTH if measure.per_limb else (Limb.NONE,))
    )
    return Preview(
        id=measure.code,
        measure=measure,
        unit="" if measure.unit == "{score}" else unit_sign(unit=measure.unit),
        cells=cells,
        conditions=condition_fields(test=test, texts={}, last={}, wrong=False),
        unit_field=unit_field(test=test, texts={}, wrong=False),
    )
