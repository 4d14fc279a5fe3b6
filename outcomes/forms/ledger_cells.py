"""The two facing cells of a row and its conditions, as they are drawn."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Final

from clinic import words
from outcomes.catalogue.tasks import COMFORT, LED
from outcomes.core.entries import LEVER_CM
from outcomes.core.grades import is_pelvic_drop
from outcomes.core.quantities import UNITS, unit_sign
from outcomes.core.readings import conditions_of
from outcomes.core.values import Condition, EntryKind, Limb, Measure, Reading
from outcomes.core.wording import conditions_words, value_words
from outcomes.forms.ledger_drawn import drawn_detail, drawn_grade
from outcomes.forms.ledger_fields import (
    Field,
    Option,
    cell_name,
    condition_name,
    detail_name,
    value_name,
)
from outcomes.forms.ledger_tests import Test, condition_text
from outcomes.forms.ledger_watch import Watch, watch_of

EXTENSION: Final = (
    Option(code="lacks", label="lacks"),
    Option(code="straight", label="straight"),
    Option(code="beyond", label="beyond straight"),
)
STATUSES: Final = (
    Option(code="", label="measured"),
    Option(code="stopped_by_pain", label="stopped by pain"),
    Option(code="unable", label="unable"),
    Option(code="declined", label="declined"),
    Option(code="surgeons_limit", label="surgeon's limit"),
)
MOST_CHIPS: Final = 3
Marked = Collection[tuple[str, int]]
"""The part and number of each problem that is marked on its field."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Cell:
    """One limb's cell. ``says`` are its problems; ``asks``: one of them asks for a reason.

    ``closed``: the other side, which is not asked about for this measure, but can be opened.
    ``held``: a surgeon's limit, or one that is not confirmed, holds the test; it can be opened.
    ``comfort`` is the detail that is asked with what else is seen in a task.
    ``watch`` times a hold.
    """

    row: str
    limb: Limb
    head: str
    values: tuple[Field, ...]
    details: tuple[Field, ...]
    status: Field
    reason: Field
    last: str
    says: tuple[str, ...]
    asks: bool
    closed: bool
    touched: bool
    comfort: Field | None = None
    held: bool = False
    watch: Watch | None = None

    @property
    def folded(self) -> bool:
        """Whether it is shut until it is opened: nothing is typed, and it is not asked or held."""
        return (self.closed or self.held) and not self.touched

    @property
    def id(self) -> str:
        """Where the problems of this cell are shown."""
        return cell_id(row=self.row, limb=self.limb)

    @property
    def fields(self) -> tuple[Field, ...]:
        """Every field of the cell."""
        comfort = (self.comfort,) if self.comfort else ()
        return (*self.values, *self.details, *comfort, self.status, self.reason)


def cell_id(*, row: str, limb: Limb) -> str:
    """Where the problems of a cell are shown."""
    return f"say-{row}-{limb}"


def cell_of(
    *,
    test: Test,
    limb: Limb,
    texts: Mapping[str, str],
    history: Sequence[Reading],
    on: date,
    involved: bool,
    wrong: bool,
    held: bool = False,
) -> Cell:
    """One limb's cell. ``wrong`` marks its fields, after signing was tried."""
    measure = test.measure
    problems = test.taken[limb].problems
    asked = measure.other_limb_asked or involved or limb is Limb.NONE
    marked = {(problem.part, problem.number or 1) for problem in problems if wrong}
    details = _details(test=test, limb=limb, texts=texts, marked=marked)
    comfort = detail_name(test.row, limb, COMFORT) if measure.code in LED else ""
    head = f"standing on {limb}" if measure.standing else ""
    return Cell(
        row=test.row,
        limb=limb,
        head=head,
        values=tuple(_values(test=test, limb=limb, texts=texts, marked=marked)),
        details=tuple(field for field in details if field.name != comfort),
        watch=watch_of(row=test.row, measure=measure, limb=limb, about=head),
        comfort=_comfort(details=details, name=comfort, code=measure.code),
        status=_status(row=test.row, limb=limb, texts=texts, marked=marked),
        reason=_reason(row=test.row, limb=limb, texts=texts, marked=marked),
        last=_last(test=test, limb=limb, history=history, on=on),
        says=tuple(problem.message for problem in problems),
        asks=any(problem.part == "reason" for problem in problems),
        closed=not asked,
        held=held,
        touched=bool(test.taken[limb].entry or problems),
    )


def as_chips(field: Field, *, task: str) -> Field:
    """A list to choose from as a row of choices, named by its task; none is not recorded."""
    options = tuple(option for option in field.options if option.code)
    return replace(field, kind="chips", options=options, label=f"{task}, {field.label}")


def _comfort(*, details: tuple[Field, ...], name: str, code: str) -> Field | None:
    found = next((field for field in details if field.name == name), None)
    return as_chips(found, task=LED[code].label) if found else None


def _status(*, row: str, limb: Limb, texts: Mapping[str, str], marked: Marked) -> Field:
    return Field(
        name=(name := cell_name("s", row, limb)),
        label=f"What became of the test{_side(limb)}",
        kind="select",
        value=texts.get(name, ""),
        options=STATUSES,
        wrong=("status", 1) in marked,
    )


def _reason(*, row: str, limb: Limb, texts: Mapping[str, str], marked: Marked) -> Field:
    return Field(
        name=(name := cell_name("w", row, limb)),
        label=f"Reason{_side(limb)}",
        kind="text",
        value=texts.get(name, ""),
        wrong=("reason", 1) in marked,
    )


def _side(limb: Limb) -> str:
    return "" if limb is Limb.NONE else f", {limb}"


def _details(
    *, test: Test, limb: Limb, texts: Mapping[str, str], marked: Marked
) -> tuple[Field, ...]:
    fields = tuple(
        Field(
            name=(name := detail_name(test.row, limb, detail.code)),
            label=f"{detail.label}{_side(limb)}",
            kind="select",
            value=texts.get(name, ""),
            options=(
                Option(code="", label=f"{detail.label}: not recorded"),
                *(Option(code=choice.code, label=choice.label) for choice in detail.choices),
            ),
            wrong=("detail", 1) in marked,
        )
        for detail in test.measure.details
    )
    if not is_pelvic_drop(measure=test.measure):
        return fields
    return tuple(
        drawn_detail(field=field, asks=detail.label, limb=limb)
        for field, detail in zip(fields, test.measure.details, strict=True)
    )


def _values(*, test: Test, limb: Limb, texts: Mapping[str, str], marked: Marked) -> Iterator[Field]:
    """What is typed or chosen for one limb: grade, items, trials, extension entry, lever arm."""
    measure, row = test.measure, test.row
    label = f"{test.label}{_side(limb)}"
    if measure.entry is EntryKind.ITEMS:
        yield from _items(test=test, limb=limb, texts=texts, wrong=("detail", 1) in marked)
        return
    if measure.entry is EntryKind.GRADE:
        yield _grade(test=test, limb=limb, texts=texts, label=label, wrong=("value", 1) in marked)
        return
    if measure.entry is EntryKind.EXTENSION:
        name = cell_name("x", row, limb)
        yield Field(
            name=name,
            label=label,
            kind="chips",
            value=texts.get(name, ""),
            options=EXTENSION,
            wrong=("choice", 1) in marked,
        )
    for number in range(1, measure.trials + 1):
        name = value_name(row, limb, number)
        yield Field(
            name=name,
            label=label if measure.trials == 1 else f"{label}, trial {number}",
            kind="number",
            value=texts.get(name, ""),
            unit=_unit_words(measure=measure, unit=texts.get(f"u:{row}", "")),
            wrong=("value", number) in marked,
            whole=measure.unit.startswith("{") and not measure.decimals,
            most=f"{measure.hard[1]:f}",
            most_in=measure.unit,
            decimals=measure.decimals,
        )
    if measure.entry is EntryKind.TORQUE:
        yield _lever(row=row, limb=limb, texts=texts, wrong=("lever", 1) in marked)


def _items(*, test: Test, limb: Limb, texts: Mapping[str, str], wrong: bool) -> Iterator[Field]:
    """The items of a score, each a choice; marked where one is missing."""
    for item in test.measure.items:
        name = detail_name(test.row, limb, item.code)
        yield Field(
            name=name,
            label=f"{item.label}{_side(limb)}",
            kind="chips",
            value=texts.get(name, ""),
            options=tuple(Option(code=c.code, label=c.label) for c in item.choices),
            wrong=wrong and not texts.get(name),
            named=True,
        )


def _lever(*, row: str, limb: Limb, texts: Mapping[str, str], wrong: bool) -> Field:
    low, high = LEVER_CM
    return Field(
        name=(name := cell_name("a", row, limb)),
        label=f"Lever arm, {limb}, {low} to {high} cm",
        kind="number",
        value=texts.get(name, ""),
        unit="cm lever arm",
        look="lever",
        wrong=wrong,
    )


def _grade(*, test: Test, limb: Limb, texts: Mapping[str, str], label: str, wrong: bool) -> Field:
    """The grade words as a row of choices; of a pelvic drop with a drawing of each."""
    drawn = is_pelvic_drop(measure=test.measure)
    key = value_name(test.row, limb)
    return Field(
        name=key,
        label=label,
        kind="drawn" if drawn else "chips",
        value=texts.get(key, ""),
        options=tuple(
            Option(
                code=word, label=word, drawing=drawn_grade(word=word, limb=limb) if drawn else None
            )
            for word in test.measure.grades
        ),
        wrong=wrong,
    )


def _unit_words(*, measure: Measure, unit: str) -> str:
    if measure.unit == "{score}":
        return f"of {measure.hard[1]}"
    return unit_sign(unit=unit or measure.unit)


def _last(*, test: Test, limb: Limb, history: Sequence[Reading], on: date) -> str:
    """Last value and date, under the same conditions where there is one; else it says so."""
    mine = [r for r in history if r.measure == test.measure.code and r.limb is limb]
    same = [r for r in mine if r.key == test.key]
    if not mine:
        return ""
    newest = same[-1] if same else mine[-1]
    said = value_words(measure=test.measure, value=newest.value, status=newest.status)
    day = words.short_day(newest.on, today=on)
    if same or test.key is None or not newest.key:
        return f"{day}: {said}"
    return f"{day}: {said} ({conditions_words(measure=test.measure, key=newest.key)})"


def last_conditions(*, measure: Measure, history: Sequence[Reading]) -> dict[str, str]:
    """The conditions of the newest test of a measure."""
    newest = next((r for r in reversed(history) if r.measure == measure.code and r.key), None)
    return conditions_of(key=newest.key) if newest else {}


def condition_fields(
    *, test: Test, texts: Mapping[str, str], last: Mapping[str, str], wrong: bool
) -> tuple[Field, ...]:
    """The conditions of a row, the same for both limbs."""
    bad = {problem.name for problem in test.problems if wrong and problem.part == "condition"}
    return tuple(
        _condition(test, condition, texts, last.get(condition.code, ""), condition.code in bad)
        for condition in test.measure.conditions
    )


def _condition(
    test: Test, condition: Condition, texts: Mapping[str, str], last: str, wrong: bool
) -> Field:
    options = tuple(Option(code=c.code, label=c.label) for c in condition.choices)
    few = len(options) <= MOST_CHIPS
    kind = ("chips" if few else "select") if options else "number"
    return Field(
        name=condition_name(test.row, condition.code),
        label=f"{condition.label}{'' if condition.required else ' (if there is one)'}",
        kind=kind,
        value=condition_text(row=test.row, code=condition.code, texts=texts),
        unit=unit_sign(unit=condition.unit),
        options=options if few else (Option(code="", label="choose"), *options),
        last=last,
        optional=not condition.required,
        wrong=wrong,
    )


def unit_field(*, test: Test, texts: Mapping[str, str], wrong: bool) -> Field | None:
    """The unit of a row where there is a choice; forces are marked, they need a lever arm."""
    if len(test.measure.entry_units) < 2:
        return None
    name = f"u:{test.row}"
    return Field(
        name=name,
        label="typed in",
        kind="select",
        value=texts.get(name, "") or test.measure.unit,
        options=tuple(
            Option(
                code=unit,
                label=f"{unit_sign(unit=unit)}{_kind(unit)}",
                force=UNITS[unit][0] == "force",
            )
            for unit in test.measure.entry_units
        ),
        wrong=wrong
        and any(p.part == "unit" for taken in test.taken.values() for p in taken.problems),
    )


def _kind(unit: str) -> str:
    return " (force)" if UNITS[unit][0] == "force" else ""
