"""What the milestones ask of a measure that is being typed, judged by the same core."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from outcomes.core.criteria import judge_criterion
from outcomes.core.evidence import latest_body_mass
from outcomes.core.judge import milestones_for
from outcomes.core.values import (
    Criterion,
    CriterionResult,
    Form,
    Limb,
    Measure,
    Operator,
    Protocol,
    Reading,
    ReadingStatus,
    Result,
)
from outcomes.core.wording import why_words
from outcomes.forms.ledger_tests import DRAFT_REF, Test
from outcomes.queries.result_words import RESULT, asked_words
from outcomes.queries.visit import Knee


@dataclass(frozen=True, kw_only=True, slots=True)
class Asked:
    """What a milestone asks of this measure, with the result of today.

    ``words`` is the whole sentence, ``whose`` the milestone alone; ``side``: with two knees
    followed, whose result it is, with a colon.
    """

    result: Result
    words: str
    whose: str
    side: str = ""

    @property
    def result_words(self) -> str:
        """The result alone."""
        return RESULT[self.result].lower()


@dataclass(frozen=True, kw_only=True)
class Record:
    """What typed values are judged with: the knees, the record up to the day, and the day."""

    measures: Mapping[str, Measure]
    protocols: Mapping[str, Protocol]
    knees: Sequence[Knee]
    history: Sequence[Reading]
    on: date


def asked_of(*, test: Test, record: Record, typed: Sequence[Reading]) -> Iterator[Asked]:
    """What the first milestone that is not plainly met on this measure asks, and the result.

    Nothing where every milestone of the goal is plainly met: there is no next number to work for.
    """
    everything = [*record.history, *typed]
    for knee in record.knees:
        protocol = record.protocols.get(knee.episode.protocol)
        mine = knee.limb if test.measure.per_limb else Limb.NONE
        tested = [entry for entry in test.entries if entry.limb is mine]
        if protocol is None or not tested or tested[0].status is not ReadingStatus.MEASURED:
            continue
        judged = [
            (milestone.label, result)
            for milestone in milestones_for(protocol=protocol, goal=knee.facts.goal)
            for criterion in milestone.criteria
            if _asks(criterion=criterion, test=test)
            for result in [_judge(criterion, test, knee, everything, record)]
            if any(ref >= DRAFT_REF for ref in result.refs)
        ]
        ahead = [one for one in judged if one[1].result is not Result.MET]
        for label, result in ahead[:1]:
            side = f"{knee.limb}: " if len(record.knees) > 1 else ""
            said = _asks_words(label=label, result=result, measure=test.measure, knee=knee)
            yield Asked(result=result.result, words=side + said, whose=label, side=side)


def cuts_of(*, test: Test, record: Record, form: Form) -> list[tuple[Decimal, Operator]]:
    """The thresholds that a shown number of this measure must not be rounded across."""
    return [
        (value, criterion.operator)
        for knee in record.knees
        if (protocol := record.protocols.get(knee.episode.protocol)) is not None
        for milestone in protocol.milestones
        for criterion in milestone.criteria
        if criterion.form is form and _asks(criterion=criterion, test=test)
        for value in {criterion.value, *criterion.value_by_sex.values()}
    ]


def _asks(*, criterion: Criterion, test: Test) -> bool:
    return criterion.measure == test.measure.code and criterion.key in ("", test.key)


def _judge(
    criterion: Criterion, test: Test, knee: Knee, readings: Sequence[Reading], record: Record
) -> CriterionResult:
    return judge_criterion(
        criterion=criterion,
        measure=test.measure,
        readings=readings,
        facts=knee.facts,
        on=record.on,
        body_mass=latest_body_mass(catalogue=record.measures, readings=readings, on=record.on),
    )


def _asks_words(*, label: str, result: CriterionResult, measure: Measure, knee: Knee) -> str:
    threshold: Decimal = result.threshold
    asked = asked_words(criterion=result.criterion, measure=measure, threshold=threshold)
    said = RESULT[result.result].lower()
    if result.why is not None:
        said = f"{said}: {why_words(why=result.why, measure=measure, facts=knee.facts)}"
    return f"{label} asks {asked}: {said}"
