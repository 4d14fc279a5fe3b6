"""A protocol in words: milestones with their earliest dates, and what each criterion asks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from clinic import words
from clinic.models.care import GOALS
from outcomes.core.quantities import plain
from outcomes.core.values import (
    Band,
    Criterion,
    Form,
    Gate,
    Measure,
    MeasureSet,
    Milestone,
    Protocol,
    Subject,
)
from outcomes.core.wording import conditions_words
from outcomes.protocols.editing import out_of_order
from outcomes.queries.milestone_words import LATER
from outcomes.queries.opened import source_lines
from outcomes.queries.result_words import OPERATOR, age_words, asked_words

SEX: Final = {"female": "women", "male": "men"}
GOAL: Final = dict(GOALS)
SIDE: Final = {"same": "this knee", "other": "the other knee"}


@dataclass(frozen=True, kw_only=True, slots=True)
class CriterionLine:
    """One criterion to read: what it asks of what, how long a value counts, and where from."""

    code: str
    label: str
    asks: str
    hard: bool
    counts_for: str
    only: str
    sources: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class SetLine:
    """What a visit asks for in a stretch of weeks, to read."""

    label: str
    weeks: str
    asked: str
    sources: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class MilestoneLines:
    """One milestone to read. ``last_for`` are the goals at which the milestones stop with it."""

    code: str
    label: str
    earliest: str
    sources: tuple[str, ...]
    last_for: str
    criteria: tuple[CriterionLine, ...]


def protocol_lines(
    *, protocol: Protocol, measures: Mapping[str, Measure]
) -> tuple[MilestoneLines, ...]:
    """Every milestone of a protocol in its order."""
    return tuple(
        _lines(milestone, protocol=protocol, measures=measures) for milestone in protocol.milestones
    )


def _lines(
    milestone: Milestone, *, protocol: Protocol, measures: Mapping[str, Measure]
) -> MilestoneLines:
    goals = [GOAL[goal] for goal, last in protocol.last_by_goal.items() if last == milestone.code]
    names = {one.code: one.label for one in milestone.criteria}
    return MilestoneLines(
        code=milestone.code,
        label=milestone.label,
        earliest=gate_words(gate=milestone.gate, before_surgery=milestone.before_surgery),
        sources=source_lines(sources=milestone.gate.sources),
        last_for=words.listed(goals),
        criteria=tuple(_line(one, measures=measures, names=names) for one in milestone.criteria),
    )


def _line(
    criterion: Criterion, *, measures: Mapping[str, Measure], names: Mapping[str, str]
) -> CriterionLine:
    only = [f"from week {criterion.earliest_week}"] if criterion.earliest_week else []
    only += ["adults only"] if criterion.adults_only else []
    if criterion.repeat:
        apart = words.several(criterion.repeat.apart_days, "day")
        only.append(f"met twice, {apart} apart, within {criterion.repeat.within_days} days")
    if criterion.key:
        only.append(conditions_words(measure=measures[criterion.measure], key=criterion.key))
    days = criterion.maximum_age_days
    return CriterionLine(
        code=criterion.code,
        label=criterion.label,
        asks=asks(criterion=criterion, measures=measures, names=names),
        hard=criterion.hard,
        counts_for=age_words(days=days) if days else "",
        only=words.listed(only),
        sources=source_lines(sources=criterion.sources),
    )


def set_lines(*, protocol: Protocol, measures: Mapping[str, Measure]) -> tuple[SetLine, ...]:
    """What the visits of a protocol ask for, stretch by stretch."""
    return tuple(
        SetLine(
            label=one.label,
            weeks=_stretch(one),
            asked="; ".join(measures[code].label for code in one.measures),
            sources=source_lines(sources=one.sources),
        )
        for one in protocol.sets
    )


def _stretch(one: MeasureSet) -> str:
    if one.first is None:
        return "before surgery"
    if one.last is None:
        return f"from week {one.first} on"
    return f"week {one.first}" if one.first == one.last else f"weeks {one.first} to {one.last}"


def plan_differs(
    *, before: Protocol, after: Protocol, measures: Mapping[str, Measure]
) -> tuple[str, ...]:
    """Where the milestones stop and what visits ask for, where it differs: a sentence each."""
    labels = [{one.code: one.label for one in each.milestones} for each in (before, after)]
    found = []
    for goal, last in after.last_by_goal.items():
        was = before.last_by_goal.get(goal, "")
        if was != last:
            old, new = labels[0].get(was, was), labels[1][last]
            found.append(f"Goal {GOAL[goal]}: the milestones stop with {new}, was {old}.")
    was_asked = {one.weeks: one for one in set_lines(protocol=before, measures=measures)}
    for one in set_lines(protocol=after, measures=measures):
        old_set = was_asked.get(one.weeks)
        if old_set is None or (one.label, one.asked) != (old_set.label, old_set.asked):
            found.append(f"Visits {one.weeks} ({one.label}) ask for: {one.asked}.")
    return tuple(found)


def gate_words(*, gate: Gate, before_surgery: bool) -> str:
    """The earliest date of a milestone: "not before week 12; graft not known: month 12"."""
    if not gate.dated:
        return "none is part of it"
    unit, number = ("week", gate.weeks) if gate.weeks is not None else ("month", gate.months)
    said = f"not before {unit} {number}"
    if before_surgery and number == 0:
        said = "from the operation on, on what was recorded before it"
    later = [f"{LATER.get(code, _plain(code))}: month {months}" for code, months in gate.later]
    waived = [f"{_plain(kind)}: no earliest date" for kind in gate.waived_for]
    return "; ".join([said, *later, *waived])


def order_words(*, protocol: Protocol) -> tuple[str, ...]:
    """A sentence for each milestone that, by dates alone, comes before the one it follows."""
    return tuple(
        f"{one.later.label} could be entered before {one.earlier.label}, which stands before it"
        f"{f' ({LATER.get(one.who, _plain(one.who))})' if one.who else ''}: "
        f"{_date(one.later.gate, one.who)} and {_date(one.earlier.gate, one.who)}. Give it a later "
        "earliest date, or change their order."
        for one in out_of_order(protocol=protocol)
    )


def _date(gate: Gate, who: str) -> str:
    months = dict(gate.later).get(who, gate.months)
    return f"week {gate.weeks}" if months is None else f"month {months}"


def _plain(code: str) -> str:
    return code.rpartition(":")[2].replace("_", " ")


def asks(*, criterion: Criterion, measures: Mapping[str, Measure], names: Mapping[str, str]) -> str:
    """What a criterion asks: "at least 70 %", "2 of: …"; each number where it is by person.

    A percentile is asked as it was published, with the scores that the clinic entered for it.
    """
    if criterion.subject is Subject.GROUP:
        return _group(criterion, names)
    if criterion.subject is Subject.EVENT:
        return _events(criterion)
    each = {SEX[sex]: value for sex, value in criterion.value_by_sex.items()}
    each |= {_who(band): band.value for band in criterion.bands}
    plain_one = _asked(criterion, measures, criterion.value)
    if criterion.form is Form.PERCENTILE:
        entered = (f"{who} {plain(value=each[who])} points" for who in each)
        return "; ".join([plain_one, *entered]) if each else f"{plain_one}, not entered yet"
    if not each:
        return plain_one
    return "; ".join(f"{who} {_asked(criterion, measures, each[who])}" for who in each)


def _asked(criterion: Criterion, measures: Mapping[str, Measure], threshold: Decimal) -> str:
    if criterion.subject is Subject.MEASURE:
        return asked_words(
            criterion=criterion, measure=measures[criterion.measure], threshold=threshold
        )
    unit = "th percentile" if criterion.form is Form.PERCENTILE else " points"
    return f"{OPERATOR[criterion.operator]} {plain(value=threshold)}{unit}"


def _group(criterion: Criterion, names: Mapping[str, str]) -> str:
    count, whole = int(criterion.value), len(criterion.of)
    many = "all" if count == whole else f"{count} of {whole}"
    return f"{many}: {'; '.join(names[code] for code in criterion.of)}"


def _events(criterion: Criterion) -> str:
    said = f"{OPERATOR[criterion.operator]} {words.several(int(criterion.value), 'event')}"
    if criterion.side in SIDE:
        said += f" of {SIDE[criterion.side]}"
    if criterion.within_days:
        return f"{said} in {words.several(criterion.within_days, 'day')}"
    return f"{said} since {words.day(criterion.since, missing='the index date')}"


def _who(band: Band) -> str:
    parts = [SEX.get(band.sex, ""), _plain(band.graft)]
    parts += [f"from {band.from_age} years"] if band.from_age is not None else []
    parts += [f"under {band.below_age} years"] if band.below_age is not None else []
    return ", ".join(part for part in parts if part) or "everybody"


def what_differs(
    *, before: Sequence[MilestoneLines], after: Sequence[MilestoneLines]
) -> tuple[str, ...]:
    """What one version asks otherwise than another, a sentence each; names and order too."""
    was = {one.code: one for one in before}
    found = [f"{one.label} is not in it." for one in before if one.code not in _codes(after)]
    if [one.code for one in after] != [code for code in was if code in _codes(after)]:
        found.append(f"Order: {words.listed([one.label for one in after])}.")
    for one in after:
        if one.code in was:
            found += _milestone_differs(was[one.code], one)
        else:
            found.append(f"{one.label} is new.")
    return tuple(found)


def _codes(rows: Iterable[MilestoneLines | CriterionLine]) -> frozenset[str]:
    return frozenset(row.code for row in rows)


def _milestone_differs(before: MilestoneLines, after: MilestoneLines) -> list[str]:
    found = []
    if before.label != after.label:
        found.append(f"{before.label} is named “{after.label}”.")
    if before.earliest != after.earliest:
        found.append(f"{after.label}: {before.earliest} became {after.earliest}.")
    was, there = {one.code: one for one in before.criteria}, _codes(after.criteria)
    found += [
        f"{after.label}: “{one.label}” is not asked." for one in before.criteria
        if one.code not in there
    ]  # fmt: skip
    kept = [one.code for one in after.criteria if one.code in was]
    if kept != [code for code in was if code in there]:
        found.append(f"{after.label}: the criteria stand in another order.")
    for one in after.criteria:
        if one.code in was:
            found += [f"{after.label}: {said}" for said in _criterion_differs(was[one.code], one)]
        else:
            found.append(f"{after.label}: “{one.label}” is new, {_counts(one)}.")
    return found


def _criterion_differs(before: CriterionLine, after: CriterionLine) -> list[str]:
    pairs = (
        ("asks", before.asks, after.asks),
        ("a value counts for", before.counts_for, after.counts_for),
        ("only", before.only or "always", after.only or "always"),
        ("now", _counts(before), _counts(after)),
    )
    found = [f"“{after.label}”: {what} {new}, was {old}." for what, old, new in pairs if old != new]
    if before.label != after.label and not found:
        found.append(f"“{before.label}” is named “{after.label}”.")
    return found


def _counts(line: CriterionLine) -> str:
    return "counted" if line.hard else "advisory"
