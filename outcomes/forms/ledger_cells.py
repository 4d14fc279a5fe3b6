"""The two facing cells of a row and its conditions, as they are drawn."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final, cast

from clinic import words
from outcomes.charts import pelvis
from outcomes.core.entries import LEVER_CM, Problem
from outcomes.core.quantities import UNITS, unit_sign
from outcomes.core.readings import conditions_of
from outcomes.core.values import Condition, EntryKind, Limb, Measure, Reading
from outcomes.core.wording import conditions_words, drop_words, value_words
from outcomes.forms.ledger_fields import (
    Field,
    Option,
    cell_name,
    condition_name,
    detail_name,
    value_name,
)
from outcomes.forms.ledger_tests import Test, condition_text

PELVIS: Final = ("level", "slight", "moderate", "marked")
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


@dataclass(frozen=True, kw_only=True, slots=True)
class Cell:
    """One limb's cell. ``says`` are its problems; ``asks``: one of them asks for a reason.

    ``closed``: the other side, which is not asked about for this measure, but can be opened.
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

    @property
    def id(self) -> str:
        """Where the problems of this cell are shown."""
        return f"say-{self.row}-{self.limb}"

    @property
    def fields(self) -> tuple[Field, ...]:
        """Every field of the cell."""
        return (*self.values, *self.details, self.status, self.reason)


def cell_of(
    *,
    test: Test,
    limb: Limb,
    texts: Mapping[str, str],
    history: Sequence[Reading],
    on: date,
    involved: bool,
    wrong: bool,
) -> Cell:
    """One limb's cell. ``wrong`` marks its fields, after signing was tried."""
    measure, row = test.measure, test.row
    problems = test.taken[limb].problems
    side = "" if limb is Limb.NONE else f", {limb}"
    name = f"{measure.short_label}{side}"
    marked = {problem.part for problem in problems if wrong}
    return Cell(
        row=row,
        limb=limb,
        head=f"standing on {limb}" if measure.standing else "",
        values=_values(
            test=test, limb=limb, texts=texts, name=name, problems=problems, wrong=wrong
        ),
        details=tuple(
            Field(
                name=(key := detail_name(row, limb, detail.code)),
                label=f"{detail.label}{side}",
                kind="select",
                value=texts.get(key, ""),
                options=(
                    Option(code="", label=f"{detail.label}: not recorded"),
                    *(Option(code=c.code, label=c.label) for c in detail.choices),
                ),
                wrong="detail" in marked,
            )
            for detail in measure.details
        ),
        status=Field(
            name=(status := cell_name("s", row, limb)),
            label=f"What became of the test{side}",
            kind="select",
            value=texts.get(status, ""),
            options=STATUSES,
            wrong="status" in marked,
        ),
        reason=Field(
            name=(reason := cell_name("w", row, limb)),
            label=f"Reason{side}",
            kind="text",
            value=texts.get(reason, ""),
            wrong="reason" in marked,
        ),
        last=_last(test=test, limb=limb, history=history, on=on),
        says=tuple(problem.message for problem in problems),
        asks=any(problem.part == "reason" for problem in problems),
        closed=not (measure.other_limb_asked or involved or limb is Limb.NONE),
        touched=bool(test.taken[limb].entry or problems),
    )


def _values(
    *,
    test: Test,
    limb: Limb,
    texts: Mapping[str, str],
    name: str,
    problems: Sequence[Problem],
    wrong: bool,
) -> tuple[Field, ...]:
    measure, row = test.measure, test.row
    bad = {(problem.part, problem.number or 1) for problem in problems if wrong}
    if measure.entry is EntryKind.GRADE:
        return (_grade(test=test, limb=limb, texts=texts, name=name, wrong=("value", 1) in bad),)
    fields = [
        Field(
            name=(key := value_name(row, limb, number)),
            label=name if measure.trials == 1 else f"{name}, trial {number}",
            kind="number",
            value=texts.get(key, ""),
            unit=_unit_words(measure=measure, unit=texts.get(f"u:{row}", "")),
            wrong=("value", number) in bad,
        )
        for number in range(1, measure.trials + 1)
    ]
    if measure.entry is EntryKind.EXTENSION:
        fields.insert(0, _chips("x", test, limb, texts, name, EXTENSION, ("choice", 1) in bad))
    if measure.entry is EntryKind.TORQUE:
        low, high = LEVER_CM
        fields.append(
            Field(
                name=(key := cell_name("a", row, limb)),
                label=f"Lever arm, {limb}, {low} to {high} cm",
                kind="number",
                value=texts.get(key, ""),
                unit="cm lever arm",
                look="lever",
                wrong=("lever", 1) in bad,
            )
        )
    return tuple(fields)


def _chips(
    kind: str,
    test: Test,
    limb: Limb,
    texts: Mapping[str, str],
    name: str,
    options: tuple[Option, ...],
    wrong: bool,
) -> Field:
    key = cell_name(kind, test.row, limb)
    value = texts.get(key, "")
    return Field(name=key, label=name, kind="chips", value=value, options=options, wrong=wrong)


def _grade(*, test: Test, limb: Limb, texts: Mapping[str, str], name: str, wrong: bool) -> Field:
    """The grade words as a row of choices; of a pelvic drop with a drawing of each."""
    drawn = test.measure.standing and test.measure.grades == PELVIS
    key = value_name(test.row, limb)
    return Field(
        name=key,
        label=name,
        kind="drawn" if drawn else "chips",
        value=texts.get(key, ""),
        options=tuple(
            Option(code=word, label=word, drawing=_pelvis(word, limb) if drawn else None)
            for word in test.measure.grades
        ),
        wrong=wrong,
    )


def _pelvis(word: str, limb: Limb) -> pelvis.Pelvis:
    return pelvis.Pelvis(
        grade=cast(pelvis.Grade, word),
        standing=cast(pelvis.Side, limb.value),
        title=drop_words(standing=limb, grade=word),
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
