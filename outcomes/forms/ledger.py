"""The ledger form: rows of tests, limb against limb, from a draft's texts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from typing import Any
from zoneinfo import ZoneInfo

from clinic import clock
from outcomes.core.entries import Entry
from outcomes.core.readings import far_apart
from outcomes.core.values import Limb, Reading
from outcomes.forms.ledger_add import AddGroup, addable_of
from outcomes.forms.ledger_asked import Record
from outcomes.forms.ledger_fields import (
    MEASURED,
    cell_name,
    condition_name,
    detail_name,
    html_id,
    time_of,
    value_name,
)
from outcomes.forms.ledger_rows import Drawing, Row
from outcomes.forms.ledger_tests import Test, swap_of, tests_of
from outcomes.forms.red_flags import RedFlagForm, red_flag_form
from outcomes.queries.clashes import Clash
from outcomes.queries.visit import ToInsert, ToSign, VisitSheet

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
        found = tests_of(
            measures=sheet.measures,
            texts=self.texts,
            asked=sheet.asked,
            off=sheet.off,
            last=sheet.last,
        )
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
    def leading(self) -> tuple[Test, ...]:
        """The tests that have a row; what else is seen in a task is drawn in the row that leads."""
        return tuple(test for test in self.tests if test.name.task is None)

    @cached_property
    def rows(self) -> tuple[Row, ...]:
        """Every row as it is drawn."""
        return tuple(self.drawing.row(test) for test in self.leading)

    def row(self, row: str) -> Row | None:
        """One row as it is drawn."""
        return next((self.drawing.row(test) for test in self.leading if test.row == row), None)

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
                self._to_insert(test, entry) for test in self.tests for entry in test.entries
            ),
            rules=self.sheet.in_force,
            asked=self.flags.form,
            answers=self.flags.answers,
            action=self.flags.action.value,
            contacted=self.flags.contacted.value,
            note=self.texts.get("note", ""),
            measured_at=self.measured_at,
        )

    def _testers(self, test: Test) -> dict[Limb, int]:
        """Who tested each limb: whoever typed its value, else who has the visit."""
        holder = self.sheet.visit.clinician_id or 0
        return {entry.limb: self._author(test, entry.limb) or holder for entry in test.entries}

    def _to_insert(self, test: Test, entry: Entry) -> ToInsert:
        """An entry with its author, and when its newest value waited on a tablet."""
        kept = (self._newest(test, entry.limb) or {}).get("device")
        return ToInsert(
            entry=entry,
            author=self._author(test, entry.limb),
            saved_on_device_at=datetime.fromisoformat(kept) if kept else None,
        )

    def _author(self, test: Test, limb: Limb) -> int | None:
        """Who typed the value that counts: the last author of the cell's newest value field."""
        newest = self._newest(test, limb)
        return None if newest is None else int(newest["by"])

    def _newest(self, test: Test, limb: Limb) -> Mapping[str, Any] | None:
        """The cell's newest value field as the draft keeps it."""
        draft = self.sheet.draft
        if draft is None:
            return None
        names = [value_name(test.row, limb, n) for n in range(1, test.measure.trials + 1)]
        names += [cell_name("x", test.row, limb), cell_name("s", test.row, limb)]
        names += [detail_name(test.row, limb, item.code) for item in test.measure.items]
        found = [draft.fields[name] for name in names if draft.fields.get(name, {}).get("text")]
        return max(found, key=lambda field: field["version"], default=None)

    @cached_property
    def wrongs(self) -> list[Wrong]:
        """Everything that keeps the visit from being signed, in the order of the page."""
        found = [wrong for test in self.tests for wrong in self._wrongs(test)]
        return [*found, *self._wrong_time()]

    def _wrong_time(self) -> Iterator[Wrong]:
        text = self.texts.get(MEASURED, "")
        if text and self.measured_at is None:
            message = "Type the time as 14:30, not later than now, or leave it empty."
            yield Wrong(name=MEASURED, about="Measured at", message=message)

    @cached_property
    def measured_at(self) -> datetime | None:
        """The moment that was typed, on the day of the visit and not ahead; else None."""
        typed, visit = time_of(self.texts.get(MEASURED, "")), self.sheet.visit
        if typed is None:
            return None
        moment = datetime.combine(visit.date, typed, tzinfo=ZoneInfo(visit.site.zone))
        return moment if moment <= clock.now() else None

    def _wrongs(self, test: Test) -> Iterator[Wrong]:
        label = test.label
        for problem in test.problems:
            name = condition_name(test.row, problem.name)
            if test.name.task and test.entries:
                name = value_name(test.row, test.entries[0].limb)
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

    @cached_property
    def drawing(self) -> Drawing:
        """What the rows are drawn from."""
        swaps = {test.row: said for test in self.tests if (said := self._swap(test))}
        return Drawing(
            sheet=self.sheet,
            texts=self.texts,
            shown=self.shown,
            tests=self.tests,
            typed=self.typed,
            record=self.record,
            swaps=swaps,
            clashes=self.clashes,
            elsewhere=self.elsewhere,
            tried=self.tried,
        )

    @cached_property
    def addable(self) -> tuple[AddGroup, ...]:
        """The measures that are not among the rows, by group."""
        there = {test.measure.code for test in self.leading}
        return addable_of(drawing=self.drawing, there=there)

    @property
    def summary(self) -> str:
        """One line for the foot of the page: how many tests are logged."""
        done = {test.name.lead for test in self.tests if test.touched}
        return f"{len(done)} of {len(self.leading)} tests logged"
