"""The rows of the ledger as they are drawn: cells, conditions, what is said back."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain

from outcomes.core.quantities import unit_sign
from outcomes.core.values import Limb, Measure, Reading
from outcomes.core.wording import conditions_words
from outcomes.forms.ledger_asked import Record
from outcomes.forms.ledger_carried import carried_words
from outcomes.forms.ledger_cells import (
    Cell,
    cell_of,
    condition_fields,
    last_conditions,
    unit_field,
)
from outcomes.forms.ledger_echo import Echo, echo_of
from outcomes.forms.ledger_fields import Field, was_of
from outcomes.forms.ledger_tests import BOTH, Test
from outcomes.queries.clashes import Clash
from outcomes.queries.visit import VisitSheet
from outcomes.queries.visit_asks import due_words

TRACE = 1


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """One row as it is drawn. ``cells`` come in the order of the test: other side first.

    ``tools_open``: a condition is missing, or something became of the test.
    ``carried``: the value that still counts, with its date; the row is folded behind it.
    ``held``: why a surgeon's limit holds the test back, in sentences.
    ``due``: why it is asked for where it is not of the week's set.
    ``seen``: what else is seen in the task that this row leads, ``seen_open`` once it is typed.
    """

    id: str
    measure: Measure
    unit: str
    cells: tuple[Cell, ...]
    conditions: tuple[Field, ...]
    conditions_words: str
    tools_open: bool
    last_conditions: str
    unit_field: Field | None
    echo: Echo
    says: tuple[str, ...]
    swap: str
    sides: Field
    cautions: tuple[str, ...]
    again: str
    carried: str = ""
    held: tuple[str, ...] = ()
    due: str = ""
    seen: tuple[Row, ...] = ()
    seen_open: bool = False
    was: str = ""
    clashes: tuple[Clash, ...] = ()
    elsewhere: tuple[str, ...] = ()

    @property
    def drawn(self) -> bool:
        """Whether its grades are drawings, which can be seen from two sides."""
        return any(field.kind == "drawn" for cell in self.cells for field in cell.values)

    @property
    def fields(self) -> Iterator[Field]:
        """Every field of the row, with those of what else is seen in its task."""
        for cell in self.cells:
            yield from cell.fields
        yield from self.conditions
        if self.unit_field is not None:
            yield self.unit_field
        yield self.sides
        for row in self.seen:
            for cell in row.cells:
                yield from (*cell.values, cell.reason)


@dataclass(frozen=True, kw_only=True)
class Drawing:
    """What every row is drawn from: the visit, its texts, and what other pages typed meanwhile.

    ``swaps``: the rows in which left and right may have been swapped, with the warning.
    """

    sheet: VisitSheet
    texts: Mapping[str, str]
    shown: Mapping[str, str]
    tests: Sequence[Test]
    typed: Sequence[Reading]
    record: Record
    swaps: Mapping[str, str]
    clashes: Sequence[Clash] = ()
    elsewhere: Sequence[str] = ()
    tried: bool = False

    def row(self, test: Test) -> Row:
        """One row."""
        sheet, measure = self.sheet, test.measure
        last = last_conditions(measure=measure, history=sheet.history)
        row = Row(
            id=test.row,
            measure=measure,
            unit=self._unit(test),
            cells=self._cells(test),
            conditions=condition_fields(test=test, texts=self.texts, last=last, wrong=self.tried),
            conditions_words=conditions_words(measure=measure, key=test.key or ""),
            tools_open=bool(test.problems or any(one.status for one in test.typed.values())),
            last_conditions=conditions_words(measure=measure, key=_key_words(last)),
            unit_field=unit_field(test=test, texts=self.texts, wrong=self.tried),
            echo=echo_of(test=test, record=self.record, typed=self.typed),
            says=tuple(problem.message for problem in test.problems),
            swap=self.swaps.get(test.row, ""),
            sides=self._sides(test),
            cautions=self.cautions(measure),
            again=self._again(test),
            carried=self._carried(test),
            held=self.held(test.measure),
            due=self._due(test),
        )
        return self._with_drafts(self._with_seen(row))

    def _with_seen(self, row: Row) -> Row:
        """The row that leads a task with what else is seen in it."""
        seen = [one for one in self.tests if one.name.task and one.name.lead == row.id]
        if not seen:
            return row
        comfort = any(cell.comfort and cell.comfort.value for cell in row.cells)
        return replace(
            row,
            seen=tuple(self.row(one) for one in seen),
            seen_open=comfort or any(one.touched for one in seen),
        )

    def _cells(self, test: Test) -> tuple[Cell, ...]:
        involved = {knee.limb for knee in self.sheet.knees}
        return tuple(
            cell_of(
                test=test,
                limb=limb,
                texts=self.texts,
                history=self.sheet.history,
                on=self.sheet.visit.date,
                involved=limb in involved,
                held=test.measure.code in self.sheet.holds.get(limb, {}),
                wrong=self.tried,
            )
            for limb in self._order(test.measure)
        )

    def held(self, measure: Measure) -> tuple[str, ...]:
        """Why the test is held, over the followed knees; a whole-person test by either."""
        found = [why.get(measure.code, ()) for why in self.sheet.holds.values()]
        return tuple(dict.fromkeys(chain.from_iterable(found)))

    def _due(self, test: Test) -> str:
        """Why the first test of a measure is asked for, where that is not the week."""
        if test.row != test.measure.code:
            return ""
        found = [due for due in self.sheet.also if due.measure == test.row]
        return "".join(due_words(due=due, on=self.sheet.visit.date) for due in found)

    def _order(self, measure: Measure) -> tuple[Limb, ...]:
        """Other side first, then operated; with two followed knees left first."""
        if not measure.per_limb:
            return (Limb.NONE,)
        knees = [knee.limb for knee in self.sheet.knees]
        return (Limb.RIGHT, Limb.LEFT) if knees == [Limb.LEFT] else BOTH

    def _carried(self, test: Test) -> str:
        if test.touched:
            return ""
        return carried_words(
            measure=test.measure,
            history=self.sheet.history,
            birth_date=self.sheet.visit.patient.birth_date,
            on=self.sheet.visit.date,
        )

    def _with_drafts(self, row: Row) -> Row:
        """The row with what the page shows, posted back to tell changes, and what others typed."""
        fields = {field.name: field for field in row.fields}
        return replace(
            row,
            was=was_of({name: self.shown.get(name, field.value) for name, field in fields.items()}),
            clashes=tuple(clash for clash in self.clashes if clash.name in fields),
            elsewhere=tuple(
                f"{fields[name].label}: {self.sheet.texts.get(name, '') or 'emptied'}"
                for name in self.elsewhere
                if name in fields
            ),
        )

    def _unit(self, test: Test) -> str:
        if test.measure.unit == "{score}":
            return ""
        unit = self.texts.get(f"u:{test.row}") or test.measure.unit
        return "degrees" if unit == "deg" else unit_sign(unit=unit)

    def _sides(self, test: Test) -> Field:
        name = f"y:{test.row}"
        return Field(
            name=name,
            label="Left and right are right",
            kind="tick",
            value=self.texts.get(name, ""),
            wrong=self.tried and test.row in self.swaps and not self.texts.get(name),
        )

    def _again(self, test: Test) -> str:
        """The row id of a further test of a measure under other conditions, or none."""
        if not test.measure.conditions or not test.touched:
            return ""
        code, number = test.measure.code, test.name.number
        mine = [t.name.number for t in self.tests if t.name.code == code and t.name.task is None]
        return f"{code}-{number + 1}" if test.name.task is None and number == max(mine) else ""

    def cautions(self, measure: Measure) -> tuple[str, ...]:
        """What to mind with this patient's graft, operation and effusion."""
        codes = set()
        for knee in self.sheet.knees:
            codes.add(f"graft:{knee.facts.graft}")
            codes.update(knee.surgery.procedures if knee.surgery else [])
        if self._effused():
            codes.add("effusion")
        found = {
            text
            for code, text in measure.cautions.items()
            if any(one == code or one.startswith(f"{code}_") for one in codes)
        }
        return tuple(sorted(found))

    def _effused(self) -> bool:
        """Whether the newest effusion of a followed knee is more than a trace."""
        involved = {knee.limb for knee in self.sheet.knees}
        found = [
            reading
            for reading in [*self.sheet.history, *self.typed]
            if reading.measure == "effusion"
            and reading.limb in involved
            and reading.value is not None
        ]
        newest = {reading.limb: reading.value for reading in found}
        return any(value is not None and value > TRACE for value in newest.values())


def _key_words(last: Mapping[str, str]) -> str:
    return ";".join(f"{code}={text}" for code, text in sorted(last.items()))
