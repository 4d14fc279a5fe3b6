"""The ledger form: rows of tests, limb against limb, from a draft's texts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from outcomes.core.quantities import unit_sign
from outcomes.core.readings import far_apart
from outcomes.core.values import Limb, Measure, Reading
from outcomes.core.wording import conditions_words
from outcomes.forms.ledger_add import Addable, addable_of
from outcomes.forms.ledger_cells import (
    Cell,
    cell_of,
    condition_fields,
    last_conditions,
    unit_field,
)
from outcomes.forms.ledger_echo import Echo, Record, echo_of
from outcomes.forms.ledger_fields import (
    Field,
    cell_name,
    condition_name,
    detail_name,
    html_id,
    value_name,
    was_of,
)
from outcomes.forms.ledger_tests import BOTH, Test, swap_of, tests_of
from outcomes.forms.red_flags import RedFlagForm, red_flag_form
from outcomes.queries.visit import Clash, ToSign, VisitSheet

TRACE = 1
PART = {"choice": "x", "lever": "a", "status": "s", "reason": "w"}


@dataclass(frozen=True, kw_only=True, slots=True)
class Wrong:
    """A problem of the form: the field it belongs to, the test it is about, what to do."""

    name: str
    about: str
    message: str

    @property
    def id(self) -> str:
        """The element to go to."""
        return html_id(self.name)


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """One row as it is drawn. ``cells`` come in the order of the test: other side first."""

    id: str
    measure: Measure
    unit: str
    cells: tuple[Cell, ...]
    conditions: tuple[Field, ...]
    conditions_words: str
    conditions_open: bool
    last_conditions: str
    unit_field: Field | None
    echo: Echo
    says: tuple[str, ...]
    swap: str
    sides: Field
    cautions: tuple[str, ...]
    again: str
    was: str = ""
    clashes: tuple[Clash, ...] = ()
    elsewhere: tuple[str, ...] = ()

    @property
    def fields(self) -> Iterator[Field]:
        """Every field of the row."""
        for cell in self.cells:
            yield from cell.fields
        yield from self.conditions
        if self.unit_field is not None:
            yield self.unit_field
        yield self.sides


class LedgerForm:
    """A visit's form from its draft. ``tried``: signing was tried, problems are marked.

    ``shown`` are the texts that the page shows where they differ from the draft's; ``clashes``
    are fields that somebody else changed too (the form shows what was typed here), ``elsewhere``
    those that were changed on another page only.
    """

    def __init__(
        self,
        *,
        sheet: VisitSheet,
        shown: Mapping[str, str] | None = None,
        clashes: Sequence[Clash] = (),
        elsewhere: Sequence[str] = (),
        tried: bool = False,
    ) -> None:
        self.sheet, self.tried = sheet, tried
        self.clashes, self.elsewhere = tuple(clashes), tuple(elsewhere)
        self.texts = {**sheet.texts, **{clash.name: clash.mine for clash in clashes}}
        self.shown = {**sheet.texts, **(shown or {})}

    @cached_property
    def tests(self) -> tuple[Test, ...]:
        """The rows, parsed."""
        sheet = self.sheet
        found = tests_of(measures=sheet.measures, texts=self.texts, asked=sheet.asked)
        return tuple(replace(test, testers=self._testers(test)) for test in found)

    @cached_property
    def typed(self) -> list[Reading]:
        """Everything that was typed and could be taken, as readings of the day."""
        on = self.sheet.visit.date
        return [reading for test in self.tests for reading in test.readings(on=on)]

    @cached_property
    def flags(self) -> RedFlagForm:
        """The red-flag questions."""
        return red_flag_form(sheet=self.sheet, texts=self.texts, weeks=self.sheet.weeks)

    @cached_property
    def rows(self) -> tuple[Row, ...]:
        """Every row as it is drawn."""
        return tuple(self._row(test) for test in self.tests)

    def row(self, row: str) -> Row | None:
        """One row as it is drawn."""
        return next((self._row(test) for test in self.tests if test.row == row), None)

    @property
    def last_conditions(self) -> dict[str, str]:
        """Every condition of every row as it was last time, where there was a last time."""
        return {
            field.name: field.last for row in self.rows for field in row.conditions if field.last
        }

    @property
    def to_sign(self) -> ToSign:
        """What signing would insert, each entry with the person who typed it."""
        return ToSign(
            entries=tuple(
                (entry, self._author(test, entry.limb))
                for test in self.tests
                for entry in test.entries
            ),
            versions=self.sheet.in_force.measure_ids,
            asked=self.flags.form,
            answers=self.flags.answers,
            action=self.flags.action.value,
            contacted=self.flags.contacted.value,
            note=self.texts.get("note", ""),
        )

    def _testers(self, test: Test) -> dict[Limb, int]:
        """Who tested each limb: whoever typed its value, else who has the visit."""
        holder = self.sheet.visit.clinician_id or 0
        return {entry.limb: self._author(test, entry.limb) or holder for entry in test.entries}

    def _author(self, test: Test, limb: Limb) -> int | None:
        """Who typed the value that counts: the last author of the cell's newest value field."""
        draft = self.sheet.draft
        if draft is None:
            return None
        names = [value_name(test.row, limb, n) for n in range(1, test.measure.trials + 1)]
        names += [cell_name("x", test.row, limb), cell_name("s", test.row, limb)]
        names += [detail_name(test.row, limb, item.code) for item in test.measure.items]
        found = [draft.fields[name] for name in names if draft.fields.get(name, {}).get("text")]
        newest = max(found, key=lambda field: field["version"], default=None)
        return None if newest is None else int(newest["by"])

    @cached_property
    def wrongs(self) -> list[Wrong]:
        """Everything that keeps the visit from being signed, in the order of the page."""
        return [wrong for test in self.tests for wrong in self._wrongs(test)]

    def _wrongs(self, test: Test) -> Iterator[Wrong]:
        label = test.measure.short_label
        for problem in test.problems:
            name = condition_name(test.row, problem.name)
            yield Wrong(name=name, about=label, message=problem.message)
        for limb, taken in test.taken.items():
            about = label if limb is Limb.NONE else f"{label}, {limb}"
            for problem in taken.problems:
                name = f"u:{test.row}"
                if problem.part == "value":
                    name = value_name(test.row, limb, problem.number or 1)
                elif problem.part == "detail":
                    name = detail_name(test.row, limb, problem.name)
                elif problem.part in PART:
                    name = cell_name(PART[problem.part], test.row, limb)
                yield Wrong(name=name, about=about, message=problem.message)
        if self._swap(test) and not self.texts.get(f"y:{test.row}"):
            message = (
                "Left and right may have been swapped: correct them, or tick that both are right."
            )
            yield Wrong(name=f"y:{test.row}", about=label, message=message)

    def _swap(self, test: Test) -> str:
        pair = test.pair(on=self.sheet.visit.date)
        if pair is None or not far_apart(measure=test.measure, pair=pair):
            return ""
        return swap_of(
            test=test,
            on=self.sheet.visit.date,
            facts=[knee.facts for knee in self.sheet.knees],
            history=self.sheet.history,
        )

    @cached_property
    def record(self) -> Record:
        """What typed values are judged with."""
        return Record(
            measures=self.sheet.measures,
            protocols=self.sheet.in_force.protocols,
            knees=self.sheet.knees,
            history=self.sheet.history,
            on=self.sheet.visit.date,
        )

    def _order(self, measure: Measure) -> tuple[Limb, ...]:
        """Other side first, then operated; with two followed knees left first."""
        if not measure.per_limb:
            return (Limb.NONE,)
        knees = [knee.limb for knee in self.sheet.knees]
        return (Limb.RIGHT, Limb.LEFT) if knees == [Limb.LEFT] else BOTH

    def _row(self, test: Test) -> Row:
        sheet, measure = self.sheet, test.measure
        involved = {knee.limb for knee in sheet.knees}
        last = last_conditions(measure=measure, history=sheet.history)
        conditions = condition_fields(test=test, texts=self.texts, last=last, wrong=self.tried)
        row = Row(
            id=test.row,
            measure=measure,
            unit=self._unit(test),
            cells=tuple(
                cell_of(
                    test=test,
                    limb=limb,
                    texts=self.texts,
                    history=sheet.history,
                    on=sheet.visit.date,
                    involved=limb in involved,
                    wrong=self.tried,
                )
                for limb in self._order(measure)
            ),
            conditions=conditions,
            conditions_words=conditions_words(measure=measure, key=test.key or ""),
            conditions_open=bool(test.problems),
            last_conditions=conditions_words(measure=measure, key=_key_words(last)),
            unit_field=unit_field(test=test, texts=self.texts, wrong=self.tried),
            echo=echo_of(test=test, record=self.record, typed=self.typed),
            says=tuple(problem.message for problem in test.problems),
            swap=self._swap(test),
            sides=self._sides(test),
            cautions=self._cautions(measure),
            again=self._again(test),
        )
        return self._with_drafts(row)

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
            wrong=self.tried and any(wrong.name == name for wrong in self._wrongs(test)),
        )

    def _again(self, test: Test) -> str:
        """The row id of a further test of a measure under other conditions, or none."""
        if not test.measure.conditions or not test.touched:
            return ""
        mine = [t.number for t in self.tests if t.measure.code == test.measure.code]
        return f"{test.measure.code}-{max(mine) + 1}" if test.number == max(mine) else ""

    def _cautions(self, measure: Measure) -> tuple[str, ...]:
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

    @cached_property
    def addable(self) -> tuple[Addable, ...]:
        """The measures that are not among the rows."""
        return addable_of(sheet=self.sheet, there={test.measure.code for test in self.tests})

    @property
    def summary(self) -> str:
        """One line for the foot of the page: how many tests are logged."""
        return f"{sum(test.touched for test in self.tests)} of {len(self.tests)} tests logged"


def _key_words(last: Mapping[str, str]) -> str:
    return ";".join(f"{code}={text}" for code, text in sorted(last.items()))
