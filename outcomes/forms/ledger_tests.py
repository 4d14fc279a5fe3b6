"""The tests of a visit as they are typed: parsed, keyed, and told apart from blank rows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Final

from outcomes.core.entries import Entry, Problem, Taken, Typed, take, take_conditions
from outcomes.core.readings import swap_suspected
from outcomes.core.values import EpisodeFacts, Limb, Measure, Pair, Reading, ReadingStatus
from outcomes.forms.ledger_fields import cell_name, condition_name, detail_name, value_name
from outcomes.forms.row_names import RowName, named, rows_of

DEFAULTS: Final[Mapping[str, tuple[str, str]]] = {"c:effusion:moment": ("before", "after")}
"""A condition that is taken for granted: in the first row of a test, and in a further one."""

UNKNOWN_KEY: Final = "?"
"""Stands for a comparison key that is not complete: equal to no key of the record."""

DRAFT_REF: Final = 10**15
"""References of typed readings begin here, above every row of the record."""

BOTH: Final = (Limb.LEFT, Limb.RIGHT)


@dataclass(frozen=True, kw_only=True, slots=True)
class Test:
    """One row: a measure under its conditions, with what was typed and taken for each limb.

    ``key`` is None while a condition is missing. ``problems`` are those of the whole row,
    ``lacking`` what its conditions lack, told or not yet.
    ``testers`` are the ids of who tested each limb, where that is known.
    """

    row: str
    measure: Measure
    conditions: Mapping[str, str]
    key: str | None
    taken: Mapping[Limb, Taken]
    problems: tuple[Problem, ...] = ()
    lacking: tuple[Problem, ...] = ()
    testers: Mapping[Limb, int] = field(default_factory=dict)
    typed: Mapping[Limb, Typed] = field(default_factory=dict)

    @property
    def name(self) -> RowName:
        """The row's name taken apart."""
        return named(self.row)

    @property
    def label(self) -> str:
        """What it is called beside a field: with the task that it is seen in."""
        task = self.name.task
        return f"{self.measure.short_label}, {task.label}" if task else self.measure.short_label

    @property
    def entries(self) -> tuple[Entry, ...]:
        """What could be taken so far."""
        return tuple(taken.entry for taken in self.taken.values() if taken.entry is not None)

    @property
    def touched(self) -> bool:
        """Whether anything was typed for a limb."""
        return any(taken.entry or taken.problems for taken in self.taken.values())

    def readings(self, *, on: date) -> list[Reading]:
        """The entries as readings of the day, newer than every row of the record."""
        key = UNKNOWN_KEY if self.key is None else self.key
        return [
            Reading(
                measure=entry.measure,
                limb=entry.limb,
                value=entry.value,
                on=on,
                key=key,
                status=entry.status,
                details=entry.details,
                ref=DRAFT_REF + number,
                tester=self.testers.get(entry.limb, 0),
            )
            for number, entry in enumerate(self.entries)
        ]

    def pair(self, *, on: date) -> Pair | None:
        """Both limbs as they are typed, or None while one is missing."""
        found = {reading.limb: reading for reading in self.readings(on=on)}
        if len(found) < 2:
            return None
        left, right = found[Limb.LEFT], found[Limb.RIGHT]
        return Pair(measure=self.measure.code, on=on, key=left.key, left=left, right=right)


def tests_of(
    *,
    measures: Mapping[str, Measure],
    texts: Mapping[str, str],
    asked: Collection[str],
    off: Collection[str],
    last: Sequence[str],
) -> tuple[Test, ...]:
    """The rows of a visit in their order: the measures asked for, and those typed in or added.

    What is seen in one task follows the row that leads it, without the measures that are ``off``.
    Those of ``last`` stand behind all others.
    """
    rows = set(asked)
    rows |= {name.split(":")[1] for name in texts if ":" in name and not name.startswith("f:")}
    typed = {code for code, measure in measures.items() if measure.typed}
    known = rows_of(rows=rows, codes=typed, off=off, last=last)
    found = [test_of(row=row, measures=measures, texts=texts) for row in known]
    twice = Counter(name for test in found for name in _names(test))
    return tuple(_refuse_twice(test=test, twice=twice) for test in _with_conditions(found))


def _with_conditions(tests: Sequence[Test]) -> list[Test]:
    """A condition that is missing is told once, by the row that leads what was seen."""
    missing = {
        test.name.lead for test in tests if test.touched and test.name.task is not None
    }  # fmt: skip
    return [
        replace(test, problems=() if test.name.task else test.lacking)
        if test.name.task or test.row in missing
        else test
        for test in tests
    ]


def _names(test: Test) -> list[tuple[str, Limb, str]]:
    """What a reading is known by within a visit, for each entry."""
    return [(entry.measure, entry.limb, entry.key) for entry in test.entries]


def test_of(*, row: str, measures: Mapping[str, Measure], texts: Mapping[str, str]) -> Test:
    """One row from the texts of its fields."""
    measure = measures[named(row).code]
    conditions = {
        condition.code: text
        for condition in measure.conditions
        if (text := condition_text(row=row, code=condition.code, texts=texts))
    }
    key, problems = take_conditions(measure=measure, typed=conditions)
    typed = {
        limb: typed_of_cell(row=row, limb=limb, measure=measure, texts=texts)
        for limb in (BOTH if measure.per_limb else (Limb.NONE,))
    }
    taken = {
        limb: take(measure=measure, limb=limb, typed=cell, key=key) for limb, cell in typed.items()
    }
    needed = any(
        found.problems or (found.entry and found.entry.status is ReadingStatus.MEASURED)
        for found in taken.values()
    ) or any(found.entry and found.entry.value is not None for found in taken.values())
    return Test(
        row=row,
        measure=measure,
        conditions=conditions,
        key=None if problems else key,
        taken=taken,
        problems=problems if needed else (),
        lacking=problems,
        typed=typed,
    )


def condition_text(*, row: str, code: str, texts: Mapping[str, str]) -> str:
    """A condition as typed, or the one that is taken for granted.

    What is seen in a task has the conditions of the row that leads it.
    """
    name = named(row)
    if name.task is not None:
        own = {"task": name.task.code, "during": name.task.lead}
        return own.get(code) or condition_text(row=name.lead, code=code, texts=texts)
    typed = texts.get(condition_name(row, code))
    if typed is not None:
        return typed
    first, further = DEFAULTS.get(condition_name(name.code, code), ("", ""))
    return further if name.number > 1 else first


def typed_of_cell(*, row: str, limb: Limb, measure: Measure, texts: Mapping[str, str]) -> Typed:
    """The texts of one limb's cell."""
    return Typed(
        texts=tuple(
            texts.get(value_name(row, limb, number), "") for number in range(1, measure.trials + 1)
        ),
        unit=texts.get(f"u:{row}", ""),
        choice=texts.get(cell_name("x", row, limb), ""),
        lever=texts.get(cell_name("a", row, limb), ""),
        status=texts.get(cell_name("s", row, limb), ""),
        details={
            detail.code: text
            for detail in measure.chosen
            if (text := texts.get(detail_name(row, limb, detail.code), ""))
        },
        reason=texts.get(cell_name("w", row, limb), ""),
    )


def _refuse_twice(*, test: Test, twice: Counter[tuple[str, Limb, str]]) -> Test:
    """A second test of a measure needs other conditions: one test, one reading."""
    if all(twice[name] < 2 for name in _names(test)):
        return test
    where: Problem = Problem(
        part="condition",
        name=test.measure.conditions[0].code if test.measure.conditions else "",
        message="The same test stands in two rows: change its conditions, or clear one of them.",
    )
    return replace(test, problems=(*test.problems, where))


def swap_of(
    *, test: Test, on: date, facts: Sequence[EpisodeFacts], history: Sequence[Reading]
) -> str:
    """The soft warning that left and right may have been swapped; empty without suspicion.

    With two knees followed there is no side to expect more from, so nothing is suspected.
    """
    pair = test.pair(on=on)
    if pair is None or len(facts) != 1:
        return ""
    earlier = {
        limb: next(
            (
                reading
                for reading in reversed(history)
                if reading.measure == test.measure.code
                and reading.limb is limb
                and reading.key == pair.key
            ),
            None,
        )
        for limb in BOTH
    }
    left, right = earlier[Limb.LEFT], earlier[Limb.RIGHT]
    before = None
    if left is not None and right is not None and left.on == right.on:
        before = Pair(measure=pair.measure, on=left.on, key=left.key, left=left, right=right)
    return (
        swap_suspected(measure=test.measure, pair=pair, facts=facts[0], previous_pair=before) or ""
    )
