"""Milestones and protocols judged on a day. A person decides; no result permits.

A surgeon's limit, or a procedure whose limits are not confirmed, beats the earliest date; the
earliest date beats the criteria unless a clinician has set it aside; only hard criteria count.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from outcomes.core.criteria import judge_on
from outcomes.core.evidence import Evidence, evidence_of
from outcomes.core.fallback import fallback_for
from outcomes.core.gates import earliest_date
from outcomes.core.groups import judge_group
from outcomes.core.logic import all_of
from outcomes.core.values import (
    CriterionResult,
    EpisodeFacts,
    Event,
    GateAside,
    Measure,
    Milestone,
    MilestoneResult,
    MilestoneState,
    Protocol,
    Reading,
    Restriction,
    Score,
    Subject,
    Unconfirmed,
    Why,
)


def judge_protocol(
    *,
    protocol: Protocol,
    catalogue: Mapping[str, Measure],
    readings: Sequence[Reading],
    facts: EpisodeFacts,
    restrictions: Sequence[Restriction],
    on: date,
    scores: Sequence[Score] = (),
    events: Sequence[Event] = (),
    unconfirmed: Sequence[Unconfirmed] = (),
    asides: Sequence[GateAside] = (),
) -> tuple[MilestoneResult, ...]:
    """Every milestone up to the goal's last, judged on one day: state, earliest date, criteria.

    Criteria are judged in every state, so that what is missing can be seen early.
    Raises ``KeyError`` for a criterion whose measure is not in the catalogue.
    """
    evidence = evidence_of(
        catalogue=catalogue, readings=readings, facts=facts, on=on, scores=scores, events=events
    )
    held = _Held(restrictions=restrictions, unconfirmed=unconfirmed, asides=asides)
    return tuple(
        _judged(milestone=milestone, evidence=evidence, held=held)
        for milestone in milestones_for(protocol=protocol, goal=facts.goal)
    )


def milestones_for(*, protocol: Protocol, goal: str) -> tuple[Milestone, ...]:
    """The milestones up to the last one of the goal; all of them for a goal not stated yet."""
    last = protocol.last_by_goal.get(goal, protocol.milestones[-1].code)
    codes = [milestone.code for milestone in protocol.milestones]
    return protocol.milestones[: codes.index(last) + 1]


@dataclass(frozen=True, kw_only=True, slots=True)
class _Held:
    """What beats criteria: limits, procedures that are not confirmed; and gates set aside."""

    restrictions: Sequence[Restriction]
    unconfirmed: Sequence[Unconfirmed]
    asides: Sequence[GateAside]

    def limits(self, *, milestone: Milestone, on: date) -> tuple[Restriction, ...]:
        return tuple(
            limit
            for limit in self.restrictions
            if limit.kind in milestone.blocked_by and limit.in_force(on=on)
        )

    def asking(self, *, milestone: Milestone) -> tuple[str, ...]:
        found = (
            one.words
            for one in self.unconfirmed
            if not set(one.kinds).isdisjoint(milestone.blocked_by)
        )
        return tuple(dict.fromkeys(found))

    def aside(self, *, milestone: Milestone, facts: EpisodeFacts, on: date) -> GateAside | None:
        """What was set aside up to the day, of the knee as it is: not before its operation."""
        start = facts.index_date or date.min
        mine = (one for one in self.asides if one.milestone == milestone.code)
        return next((one for one in mine if start <= one.on and one.counts(on=on)), None)


def _judged(*, milestone: Milestone, evidence: Evidence, held: _Held) -> MilestoneResult:
    facts, on = evidence.facts, evidence.on
    criteria = _criteria(milestone=milestone, evidence=_as_it_stood(milestone, evidence))
    blocked_by = held.limits(milestone=milestone, on=on)
    unconfirmed = held.asking(milestone=milestone)
    aside = held.aside(milestone=milestone, facts=facts, on=on)
    earliest = earliest_date(gate=milestone.gate, facts=facts)
    waived = aside is not None or facts.kind in milestone.gate.waived_for
    too_early = not waived and (earliest is None or on < earliest)
    met = all_of(values=[found.result.truth for found in criteria if found.criterion.hard])
    return MilestoneResult(
        milestone=milestone,
        state=_state(blocked=bool(blocked_by or unconfirmed), too_early=too_early, met=met is True),
        earliest=earliest,
        criteria=criteria,
        blocked_by=blocked_by,
        unconfirmed=unconfirmed,
        aside=aside,
    )


def _as_it_stood(milestone: Milestone, evidence: Evidence) -> Evidence:
    """What is judged: the record of today or, before an operation, that of the day before it."""
    index = evidence.facts.index_date
    if not milestone.before_surgery or index is None:
        return evidence
    on = min(evidence.on, index - timedelta(days=1))
    return evidence_of(
        catalogue=evidence.catalogue,
        readings=tuple(evidence.readings),
        facts=replace(evidence.facts, index_date=None),
        on=on,
        scores=evidence.scores,
        events=evidence.events,
    )


def _criteria(*, milestone: Milestone, evidence: Evidence) -> tuple[CriterionResult, ...]:
    """Each criterion judged; a group from the members that stand before it."""
    found: dict[str, CriterionResult] = {}
    for criterion in milestone.criteria:
        if criterion.subject is Subject.GROUP:
            members = [found[code] for code in criterion.of]
            found[criterion.code] = judge_group(
                criterion=criterion, members=members, facts=evidence.facts, on=evidence.on
            )
        else:
            judged = judge_on(criterion=criterion, evidence=evidence)
            found[criterion.code] = _with_fallback(judged, evidence)
    return tuple(found.values())


def _with_fallback(found: CriterionResult, evidence: Evidence) -> CriterionResult:
    if found.why is None or found.why.why is not Why.OTHER_LIMB_NOT_FAIR:
        return found
    return replace(found, instead=fallback_for(criterion=found.criterion, evidence=evidence))


def _state(*, blocked: bool, too_early: bool, met: bool) -> MilestoneState:
    if blocked:
        return MilestoneState.BLOCKED
    if too_early:
        return MilestoneState.BEFORE_EARLIEST_DATE
    return MilestoneState.RECORDED_AS_MET if met else MilestoneState.CRITERIA_MISSING
