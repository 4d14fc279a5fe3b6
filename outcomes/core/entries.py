"""What was typed for one limb in one test, taken exactly, or what to type instead."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Final, Literal, cast

from outcomes.core.quantities import TypedError, canonical, parse_number, unit_sign
from outcomes.core.readings import (
    ExtensionChoice,
    check_value,
    comparison_key,
    conditions_of,
    extension_value,
    summarise,
)
from outcomes.core.typed_numbers import LONGEST, is_force, items_sum, number_of
from outcomes.core.values import EntryKind, Limb, Measure, ReadingStatus, Summary

LEVER_CM: Final = (Decimal(10), Decimal(60))
"""Lever arms that can be meant, in cm, joint line to pad (our own limits)."""
WITH_VALUE: Final = (ReadingStatus.MEASURED, ReadingStatus.STOPPED_BY_PAIN)
SIGNS: Final = ("+", "-", "−")
EXTENSION_CHOICES: Final = ("lacks", "straight", "beyond")
LEVER: Final = "lever_arm_cm"
END_REASON: Final = "end_reason"
"""The detail that says why a test ended."""

Part = Literal["value", "unit", "choice", "lever", "status", "reason", "detail", "condition"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Typed:
    """The fields of one limb's cell as text.

    ``texts`` are the trials (one for most tests; a grade's word; degrees of extension),
    ``choice`` the three-way extension entry, ``lever`` the lever arm in cm where a force is typed,
    ``status`` a code of ``ReadingStatus`` or empty, ``reason`` why an unusual value stands.
    """

    texts: tuple[str, ...] = ()
    unit: str = ""
    choice: str = ""
    lever: str = ""
    status: str = ""
    details: Mapping[str, str] = field(default_factory=dict)
    reason: str = ""

    @property
    def blank(self) -> bool:
        """Whether nothing was typed: then the limb was not tested, and nothing is asked."""
        return not any(
            text.strip()
            for text in (*self.texts, self.choice, self.lever, self.status, *self.details.values())
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class Entry:
    """One limb's result in one test, exact, with the text it came from: ready to be signed."""

    measure: str
    limb: Limb
    status: ReadingStatus
    value: Decimal | None
    key: str
    typed_text: str = ""
    typed_unit: str = ""
    trials: tuple[str, ...] = ()
    details: Mapping[str, str] = field(default_factory=dict)
    reason: str = ""

    @property
    def conditions(self) -> dict[str, str]:
        """The conditions that the comparison key was made from."""
        return conditions_of(key=self.key)


@dataclass(frozen=True, kw_only=True, slots=True)
class Problem:
    """What keeps a cell from being signed: where, and a sentence that says what to type instead.

    ``number`` tells which trial, ``name`` which detail or condition. ``soft``: unusual, and taken
    once a reason is given.
    """

    part: Part
    message: str
    number: int = 0
    name: str = ""
    soft: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Taken:
    """An entry, or none for a blank cell, and the problems. A soft problem leaves the entry."""

    entry: Entry | None
    problems: tuple[Problem, ...] = ()


def take_conditions(
    *, measure: Measure, typed: Mapping[str, str]
) -> tuple[str, tuple[Problem, ...]]:
    """The comparison key of the conditions typed for a test, and what is missing or wrong.

    With a problem the key is empty: it is never half a key.
    """
    read: dict[str, str] = {}
    problems = []
    for condition in measure.conditions:
        text = typed.get(condition.code, "").strip()
        try:
            if text and not condition.choices:
                text = str(parse_number(text=text, signed=False))
            alone = replace(measure, conditions=(condition,))
            comparison_key(measure=alone, conditions={condition.code: text})
            read[condition.code] = text
        except TypedError as error:
            problems.append(Problem(part="condition", name=condition.code, message=error.message))
    return ("" if problems else comparison_key(measure=measure, conditions=read)), tuple(problems)


def take(*, measure: Measure, limb: Limb, typed: Typed, key: str = "") -> Taken:
    """One limb's cell as an entry. Every problem is told at once; none is guessed around.

    A blank cell gives no entry and no problem. ``key`` is the comparison key of the test's
    conditions. An end reason of pain makes the status ``stopped_by_pain``; the value stays.
    """
    if typed.blank:
        return Taken(entry=None)
    problems = [
        *_check_details(measure=measure, typed=typed),
        *_check_status(measure=measure, typed=typed),
    ]
    trials, found = _trials(measure=measure, typed=typed)
    problems += found
    if problems:
        return Taken(entry=None, problems=tuple(problems))
    status = _status(typed=typed)
    if not trials:
        return _without_value(measure=measure, limb=limb, typed=typed, key=key, status=status)
    value = summarise(measure=measure, trials=[number for number, _ in trials])
    entry = Entry(
        measure=measure.code,
        limb=limb,
        status=status,
        value=value,
        key=key,
        typed_text=_typed_text(measure=measure, typed=typed, trials=trials, value=value),
        typed_unit=_unit(measure=measure, typed=typed),
        trials=tuple(text for _, text in trials) if measure.trials > 1 else (),
        details=_details(measure=measure, typed=typed),
        reason=typed.reason.strip(),
    )
    return Taken(entry=entry, problems=_unusual(measure=measure, entry=entry))


def typed_of(*, measure: Measure, entry: Entry) -> Typed:
    """The fields that give this entry again: what a correction starts from."""
    choice, _, degrees = entry.typed_text.partition(" ")
    extension = measure.entry is EntryKind.EXTENSION
    texts = (degrees,) if extension else entry.trials or (entry.typed_text,)
    return Typed(
        texts=() if measure.entry is EntryKind.ITEMS else texts,
        unit=entry.typed_unit,
        choice=choice if extension else "",
        lever=entry.details.get(LEVER, ""),
        status="" if entry.status is ReadingStatus.MEASURED else entry.status.value,
        details={
            part.code: entry.details[part.code]
            for part in measure.chosen
            if part.code in entry.details
        },
        reason=entry.reason,
    )


def _check_details(*, measure: Measure, typed: Typed) -> list[Problem]:
    problems = []
    for part in measure.chosen:
        code = typed.details.get(part.code, "")
        if code and code not in {choice.code for choice in part.choices}:
            words = ", ".join(choice.label for choice in part.choices)
            message = f"Choose {part.label}: {words}."
            problems.append(Problem(part="detail", name=part.code, message=message))
    if len(typed.reason.strip()) > 200:
        problems.append(Problem(part="reason", message="Say it in at most 200 characters."))
    return problems


def _check_status(*, measure: Measure, typed: Typed) -> list[Problem]:
    if typed.status and typed.status not in set(ReadingStatus):
        return [Problem(part="status", message="Choose what became of the test from the list.")]
    silent = typed.status and ReadingStatus(typed.status) not in WITH_VALUE
    valued = any(text.strip() for text in (*typed.texts, typed.choice))
    if silent and (valued or _chosen(measure=measure, typed=typed)):
        message = "Clear the value, or choose measured or stopped by pain beside it."
        return [Problem(part="status", message=message)]
    return []


def _status(*, typed: Typed) -> ReadingStatus:
    if typed.details.get(END_REASON) == "pain":
        return ReadingStatus.STOPPED_BY_PAIN
    return ReadingStatus(typed.status or "measured")


def _without_value(
    *, measure: Measure, limb: Limb, typed: Typed, key: str, status: ReadingStatus
) -> Taken:
    if status is ReadingStatus.MEASURED:
        message = "Type the value too, or clear the rest of this field."
        first = next((item.code for item in measure.items), "")
        part: Part = "detail" if first else "value"
        problem = Problem(part=part, number=1, name=first, message=message)
        return Taken(entry=None, problems=(problem,))
    return Taken(
        entry=Entry(
            measure=measure.code,
            limb=limb,
            status=status,
            value=None,
            key=key,
            details=_details(measure=measure, typed=typed),
            reason=typed.reason.strip(),
        )
    )


def _unit(*, measure: Measure, typed: Typed) -> str:
    return "" if measure.unit == "{score}" else typed.unit or measure.unit


def _details(*, measure: Measure, typed: Typed) -> dict[str, str]:
    found = {part.code: typed.details.get(part.code, "") for part in measure.chosen}
    lever = typed.lever.strip() if _is_force(measure=measure, typed=typed) else ""
    return {code: text for code, text in {**found, LEVER: lever}.items() if text}


def _is_force(*, measure: Measure, typed: Typed) -> bool:
    return is_force(measure=measure, unit=_unit(measure=measure, typed=typed))


def _trials(*, measure: Measure, typed: Typed) -> tuple[list[tuple[Decimal, str]], list[Problem]]:
    """The trials as canonical values with their texts, and what is wrong, trial by trial."""
    unit = _unit(measure=measure, typed=typed)
    if unit and unit != measure.unit and unit not in measure.entry_units:
        signs = ", ".join(unit_sign(unit=u) for u in measure.entry_units or (measure.unit,))
        return [], [Problem(part="unit", message=f"Choose the unit: {signs}.")]
    if measure.entry is EntryKind.EXTENSION:
        return _extension(measure=measure, typed=typed)
    if measure.entry is EntryKind.ITEMS:
        return _items(measure=measure, typed=typed)
    lever, problems = _lever(measure=measure, typed=typed)
    trials = []
    for number, text in enumerate(typed.texts, start=1):
        if not text.strip():
            continue
        try:
            value = number_of(measure=measure, text=text, unit=unit, lever=lever)
            refused, _ = check_value(measure=measure, value=value)
            if refused:
                raise TypedError(code="out_of_limits", message=refused)
            trials.append((value, text.strip()))
        except TypedError as error:
            problems.append(Problem(part="value", number=number, message=error.message))
    return trials, problems


def _lever(*, measure: Measure, typed: Typed) -> tuple[Decimal | None, list[Problem]]:
    """The lever arm in cm where a force is typed; else None."""
    if not _is_force(measure=measure, typed=typed) or not any(t.strip() for t in typed.texts):
        return None, []
    low, high = LEVER_CM
    ask = f"Type the lever arm in cm, joint line to pad, from {low} to {high}: for example 34."
    try:
        lever = parse_number(text=typed.lever, decimals=1, signed=False)
    except TypedError:
        lever = Decimal(0)
    if not low <= lever <= high:
        return None, [Problem(part="lever", message=ask)]
    return lever, []


def _extension(
    *, measure: Measure, typed: Typed
) -> tuple[list[tuple[Decimal, str]], list[Problem]]:
    """The three-way entry. Degrees of a choice that needs none, or a typed sign, are refused."""
    text = next((text.strip() for text in typed.texts if text.strip()), "")
    if not text and not typed.choice:
        return [], []
    if typed.choice not in EXTENSION_CHOICES:
        message = "Choose lacks, straight or beyond straight."
        return [], [Problem(part="choice", message=message)]
    try:
        number = parse_number(text=text, decimals=measure.decimals) if text else None
        degrees = Decimal(-1) if text[:1] in SIGNS else number
        value = extension_value(choice=cast(ExtensionChoice, typed.choice), degrees=degrees)
        refused, _ = check_value(measure=measure, value=value)
        if refused:
            low, high = measure.hard
            most = high if typed.choice == "lacks" else -low
            raise TypedError(code="out_of_limits", message=f"Type at most {most}°.")
    except TypedError as error:
        return [], [Problem(part="value", number=1, message=error.message)]
    return [(value, f"{typed.choice} {text}".strip())], []


def _items(*, measure: Measure, typed: Typed) -> tuple[list[tuple[Decimal, str]], list[Problem]]:
    """The sum of all items; a score with a missing item is none, and each missing one is told."""
    if not _chosen(measure=measure, typed=typed):
        return [], []
    value, missing = items_sum(measure=measure, chosen=typed.details)
    if value is not None:
        return [(canonical(value=value), str(value))], []
    labels = {item.code: item.label for item in measure.items}
    return [], [
        Problem(part="detail", name=code, message=f"Choose too: {labels[code]}.")
        for code in missing
        if not typed.details.get(code, "")
    ]


def _chosen(*, measure: Measure, typed: Typed) -> bool:
    """Whether any item was answered."""
    return any(typed.details.get(item.code, "") for item in measure.items)


def _typed_text(
    *, measure: Measure, typed: Typed, trials: list[tuple[Decimal, str]], value: Decimal
) -> str:
    """The text that the value came from: of the trial that counts, or of all where all count."""
    if measure.summary in (Summary.SINGLE, Summary.BEST):
        return next(text for number, text in trials if number == value)
    return "; ".join(text for _, text in trials)[:LONGEST]


def _unusual(*, measure: Measure, entry: Entry) -> tuple[Problem, ...]:
    if entry.value is None or entry.reason:
        return ()
    _, soft = check_value(measure=measure, value=entry.value)
    return (Problem(part="reason", message=soft, soft=True),) if soft else ()
