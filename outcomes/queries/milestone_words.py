"""A milestone in words: what holds it, its earliest date, counts with what is missing, results."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from clinic import words
from outcomes.core.dates import add_months, completed_months
from outcomes.core.gates import YOUNG, later_codes
from outcomes.core.holds import not_confirmed
from outcomes.core.values import (
    EpisodeFacts,
    Gate,
    GateAside,
    Measure,
    MilestoneResult,
    MilestoneState,
    Protocol,
    Reading,
    Result,
)
from outcomes.queries.criterion_words import criterion_words, named_words
from outcomes.queries.opened import Opened, open_criterion, source_lines
from outcomes.queries.result_words import RESULT, ResultWords

ONLY: Final = "and only with the criteria"
UNDATED: Final = "No earliest date is part of it"
"""Said of a published set that names none."""
LATER: Final[Mapping[str, str]] = {
    "graft:allograft": "allograft",
    "graft:unknown": "graft not known",
    "kind:revision": "revision",
    f"under_{YOUNG}": f"under {YOUNG} years at the operation",
}


@dataclass(frozen=True, kw_only=True, slots=True)
class ResultLine:
    """One criterion with what stands behind it."""

    says: ResultWords
    opened: Opened


@dataclass(frozen=True, kw_only=True, slots=True)
class MilestoneWords:
    """One milestone, ready to print. ``results`` count, ``beside`` are shown and do not.

    ``too_early``: its earliest date lies ahead and was not set aside; ``is_aside``: it was.
    """

    code: str
    label: str
    state: MilestoneState
    headline: str
    earliest: str
    counts: str
    results: tuple[ResultLine, ...]
    beside: tuple[ResultLine, ...]
    sources: tuple[str, ...]
    too_early: bool
    is_aside: bool


def milestone_words(
    *,
    found: MilestoneResult,
    facts: EpisodeFacts,
    measures: Mapping[str, Measure],
    protocol: Protocol,
    readings: Mapping[int, Reading],
    on: date,
) -> MilestoneWords:
    """A judged milestone in words; ``readings`` are those it was judged on, by their ``ref``."""
    lines = [
        ResultLine(
            says=criterion_words(
                found=one, measures=measures, facts=facts, readings=readings, on=on
            ),
            opened=open_criterion(
                found=one,
                facts=facts,
                readings=readings,
                measures=measures,
                protocol=f"{protocol.label} ({protocol.code})",
            ),
        )
        for one in found.criteria
    ]
    return MilestoneWords(
        code=found.milestone.code,
        label=found.milestone.label,
        state=found.state,
        headline=headline(found=found, facts=facts, on=on),
        earliest=earliest_words(found=found, facts=facts, on=on),
        counts=count_words(found=found),
        results=tuple(line for line in lines if line.says.hard),
        beside=tuple(line for line in lines if not line.says.hard),
        sources=source_lines(sources=found.milestone.gate.sources),
        too_early=_too_early(found=found, facts=facts, on=on),
        is_aside=found.aside is not None,
    )


def _too_early(*, found: MilestoneResult, facts: EpisodeFacts, on: date) -> bool:
    waived = found.aside is not None or facts.kind in found.milestone.gate.waived_for
    return not waived and found.earliest is not None and on < found.earliest


def headline(*, found: MilestoneResult, facts: EpisodeFacts, on: date) -> str:
    """Where the milestone stands, as one sentence that never permits."""
    match found.state:
        case MilestoneState.BLOCKED:
            return " ".join(_held_words(found=found, on=on))
        case MilestoneState.BEFORE_EARLIEST_DATE:
            return f"{earliest_words(found=found, facts=facts, on=on)}, {ONLY}."
        case MilestoneState.RECORDED_AS_MET:
            return "All criteria recorded as met."
        case MilestoneState.CRITERIA_MISSING:
            return "Criteria still missing."


def _held_words(*, found: MilestoneResult, on: date) -> Iterator[str]:
    if found.unconfirmed:
        yield f"{not_confirmed(procedure=words.listed(list(found.unconfirmed)))}."
    limits = [f"{limit.limit} ({until_words(limit.until, on=on)})" for limit in found.blocked_by]
    if limits:
        yield f"Held by the surgeon's limit: {words.listed(limits)}."


def until_words(day: date | None, *, on: date) -> str:
    """Until when a limit holds."""
    return f"until {words.short_day(day, today=on)}" if day else "no end given"


def earliest_words(*, found: MilestoneResult, facts: EpisodeFacts, on: date) -> str:
    """The earliest date, and why it is later than usual: "Not before week 12 (4 Nov)".

    One that a clinician has set aside says so, with day, name and reason.
    """
    said = _earliest(found=found, facts=facts, on=on)
    return f"{said}; {aside_words(aside=found.aside)}" if found.aside else said


def aside_words(*, aside: GateAside) -> str:
    """What was set aside, when, by whom and why."""
    return f"set aside on {words.day(aside.on)} by {aside.by}: {aside.reason}"


def _earliest(*, found: MilestoneResult, facts: EpisodeFacts, on: date) -> str:
    gate = found.milestone.gate
    if not gate.dated:
        return UNDATED
    if facts.kind in gate.waived_for:
        return "No earliest week without surgery"
    if found.earliest is None or facts.index_date is None:
        number = f"week {gate.weeks}" if gate.weeks is not None else f"month {gate.months}"
        return f"Not before {number} after the operation"
    number = _number(gate=gate, start=facts.index_date, earliest=found.earliest)
    why = words.listed(_why_later(gate=gate, facts=facts, earliest=found.earliest))
    day = words.short_day(found.earliest, today=on)
    return f"Not before {number} ({day}{f'; {why}' if why else ''})"


def _number(*, gate: Gate, start: date, earliest: date) -> str:
    if gate.weeks is not None and earliest == start + timedelta(weeks=gate.weeks):
        return f"week {gate.weeks}"
    return f"month {completed_months(start=start, on=earliest)}"


def _why_later(*, gate: Gate, facts: EpisodeFacts, earliest: date) -> list[str]:
    mine = later_codes(facts=facts)
    start = facts.index_date or earliest
    return [
        LATER.get(code, code.partition(":")[2])
        for code, months in gate.later
        if code in mine and add_months(start=start, months=months) == earliest
    ]


def first_open(*, found: MilestoneResult, measures: Mapping[str, Measure], on: date) -> str:
    """The first thing that stands in the way: what holds it, else the first open criterion.

    "First open: Quadriceps symmetry, not tested." Empty where nothing does.
    """
    if found.state is MilestoneState.BLOCKED:
        return " ".join(_held_words(found=found, on=on))
    for one in found.criteria:
        if one.criterion.hard and one.result.truth is not True:
            named = named_words(criterion=one.criterion, measures=measures)
            return f"First open: {named}, {RESULT[one.result].lower()}."
    return ""


def count_words(*, found: MilestoneResult) -> str:
    """Counts over what counts, always with what is missing.

    "4 of 8 recorded as met, 1 not tested, 2 out of date, 1 not assessable."
    """
    hard = [one.result for one in found.criteria if one.criterion.hard]
    met = sum(result.truth is True for result in hard)
    parts = [f"{met} of {len(hard)} recorded as met", f"{hard.count(Result.NOT_TESTED)} not tested"]
    for result, word in (
        (Result.OUT_OF_DATE, "out of date"),
        (Result.NOT_ASSESSABLE, "not assessable"),
    ):
        if result in hard:
            parts.append(f"{hard.count(result)} {word}")
    return f"{', '.join(parts)}."
