"""The published sets of criteria: each to read by itself, and each as one knee stands today."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache

from clinic.models import care
from clinic.queries.care import limits
from outcomes.catalogue.seeds import load_catalogue
from outcomes.core.judge import judge_protocol
from outcomes.core.norms import with_norms
from outcomes.core.status import history_of
from outcomes.core.values import MilestoneResult, MilestoneState, Protocol, Reading, Result
from outcomes.protocols.seeds import load_batteries
from outcomes.queries.catalogue import InForce
from outcomes.queries.judging import Record, records_of
from outcomes.queries.knee_words import KneeWords, knee_words
from outcomes.queries.milestone_words import ResultLine, milestone_words
from outcomes.queries.protocol_words import MilestoneLines, protocol_lines
from outcomes.queries.result_words import RESULT


@cache
def _shipped() -> Mapping[str, Protocol]:
    return load_batteries(load_catalogue())


def published_sets(*, rules: InForce) -> tuple[Protocol, ...]:
    """Every published set, with the percentiles that the clinic has entered. No statement."""
    return tuple(with_norms(protocol=one, norms=rules.norms) for one in _shipped().values())


def sets_to_read(*, rules: InForce) -> tuple[MilestoneLines, ...]:
    """What each published set asks, by itself, with where every number is from."""
    return tuple(
        lines
        for one in published_sets(rules=rules)
        for lines in protocol_lines(protocol=one, measures=rules.measures)
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class SetWords:
    """One published set as a knee stands today. ``tested`` says of how many there is a test."""

    code: str
    label: str
    named: str
    earliest: str
    headline: str
    counts: str
    tested: str
    results: tuple[ResultLine, ...]
    marks: Sequence[tuple[Result, str]]
    sources: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class SetsPage:
    """A knee with every published set, and what beats them all: the surgeon's limits."""

    says: KneeWords
    sets: tuple[SetWords, ...]


def sets_of(*, episode: care.Episode, rules: InForce, on: date) -> SetsPage:
    """Each published set judged on a day from the record of the episode.

    At most sixteen statements, however many sets there are. Sets are judged one by one: a criterion
    of one says nothing of another.
    """
    record = records_of(episodes=[episode], rules=rules, scored=True)[episode.pk]
    history = history_of(
        facts=record.facts, catalogue=rules.measures, readings=record.readings, on=on
    )
    readings = {reading.ref: reading for reading in record.readings}
    return SetsPage(
        says=knee_words(
            episode=episode,
            knees=frozenset({record.facts.knee}),
            limits=limits(episode_ids=[episode.pk])[episode.pk],
            to_confirm=record.visits.limits_to_confirm,
            on=on,
        ),
        sets=tuple(
            _words(
                protocol=one,
                found=_judged(one, record=record, rules=rules, history=history.readings, on=on),
                record=record,
                rules=rules,
                readings=readings,
                on=on,
            )
            for one in published_sets(rules=rules)
        ),
    )


def _judged(
    protocol: Protocol,
    *,
    record: Record,
    rules: InForce,
    history: Sequence[Reading],
    on: date,
) -> MilestoneResult:
    """The one milestone of a set, through the function that judges those of a protocol."""
    (found,) = judge_protocol(
        protocol=protocol,
        catalogue=rules.measures,
        readings=history,
        facts=record.facts,
        restrictions=record.restrictions,
        on=on,
        scores=record.scores,
        events=record.events,
    )
    return found


def _words(
    *,
    protocol: Protocol,
    found: MilestoneResult,
    record: Record,
    rules: InForce,
    readings: Mapping[int, Reading],
    on: date,
) -> SetWords:
    says = milestone_words(
        found=found,
        facts=record.facts,
        measures=rules.measures,
        protocol=protocol,
        readings=readings,
        on=on,
    )
    return SetWords(
        code=says.code,
        label=says.label,
        named=protocol.named,
        earliest=says.earliest,
        headline=_headline(found, says.headline),
        counts=says.counts,
        tested=tested_words(found=found),
        results=says.results,
        marks=[(one.result, RESULT[one.result]) for one in found.criteria],
        sources=says.sources,
    )


def _headline(found: MilestoneResult, said: str) -> str:
    """Where the set stands. Most sets have no earliest date, and then none is missing."""
    dated = found.milestone.gate.dated
    if dated or found.state is not MilestoneState.BEFORE_EARLIEST_DATE:
        return said
    return "No date to count from is on record."


def tested_words(*, found: MilestoneResult) -> str:
    """Of how many criteria there is any test at all: "5 of 7 tested".

    One that cannot be judged for want of a norm was not tested by that.
    """
    tested = sum(
        one.result is not Result.NOT_TESTED
        and (one.result is not Result.NOT_ASSESSABLE or one.on is not None or bool(one.refs))
        for one in found.criteria
    )
    return f"{tested} of {len(found.criteria)} tested"
