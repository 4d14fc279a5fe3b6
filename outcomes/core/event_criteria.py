"""A criterion of events: how often something happened within a stretch of days."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

from outcomes.core.compare import judge_value
from outcomes.core.events import BY_CODE, Side, limb_of
from outcomes.core.evidence import Evidence
from outcomes.core.thresholds import blank_of
from outcomes.core.values import (
    Criterion,
    CriterionResult,
    NotAssessable,
    Operator,
    Result,
    Why,
)


def judge_events(*, criterion: Criterion, evidence: Evidence) -> CriterionResult:
    """The number of events of one kind and side, up to that day, against the threshold.

    What nobody recorded did not happen, as far as the record says: events are asked for at every
    visit. A return earlier than advised meets nothing, but counts where fewer are asked for.
    """
    blank = blank_of(criterion=criterion, facts=evidence.facts, on=evidence.on)
    if blank.why is not None:
        return blank
    first = _first_day(criterion=criterion, evidence=evidence)
    if first is None:
        return replace(blank, result=Result.NOT_ASSESSABLE, why=NotAssessable(why=Why.NO_WINDOW))
    days = _days(criterion=criterion, evidence=evidence, first=first)
    value = Fraction(len(days))
    result = judge_value(
        value=value, operator=criterion.operator, threshold=blank.threshold, margin=None
    )
    return replace(blank, result=result, value=value, on=max(days, default=None))


def _first_day(*, criterion: Criterion, evidence: Evidence) -> date | None:
    if criterion.within_days is not None:
        return evidence.on - timedelta(days=criterion.within_days)
    return criterion.since or evidence.facts.index_date


def _days(*, criterion: Criterion, evidence: Evidence, first: date) -> list[date]:
    side = Side(criterion.side) if criterion.side else BY_CODE[criterion.measure].sides[0]
    limb = limb_of(side=side, knee=evidence.facts.knee)
    more_asked = criterion.operator in (Operator.GREATER, Operator.AT_LEAST)
    return [
        event.on
        for event in evidence.events
        if event.code == criterion.measure
        and event.limb is limb
        and first <= event.on <= evidence.on
        and not (event.early and more_asked)
    ]
