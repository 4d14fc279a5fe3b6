"""Criteria, milestones and protocols judged on a day. A person decides; no result permits.

The algebra: no reading is not tested; none young enough is out of date; none usable is not
assessable; else the newest usable one is compared, exactly. Milestones: a surgeon's limit beats
the earliest date, the earliest date beats the criteria, and only hard criteria count.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import chain, takewhile
from typing import Final

from outcomes.core.cases import Case, cases_of, keys_elsewhere
from outcomes.core.compare import holds, judge_value
from outcomes.core.dates import add_months, age_on
from outcomes.core.errors import margin
from outcomes.core.logic import all_of, any_of
from outcomes.core.readings import conditions_of
from outcomes.core.values import (
    Basis,
    Criterion,
    CriterionResult,
    EpisodeFacts,
    Form,
    Gate,
    Limb,
    Measure,
    Milestone,
    MilestoneResult,
    MilestoneState,
    NotAssessable,
    Protocol,
    Reading,
    ReadingStatus,
    Restriction,
    Result,
    Why,
)

ADULT: Final = 18
YOUNG: Final = 16
BODY_MASS: Final = "body_mass"
ERROR_OF: Final = {
    Form.INVOLVED: Basis.VALUE,
    Form.PER_BODY_MASS: Basis.VALUE,
    Form.SYMMETRY: Basis.SYMMETRY,
    Form.SHORT_OF_OTHER: Basis.DIFFERENCE,
}


def judge_criterion(
    *,
    criterion: Criterion,
    measure: Measure,
    readings: Sequence[Reading],
    facts: EpisodeFacts,
    on: date,
    body_mass: Reading | None = None,
) -> CriterionResult:
    """One criterion on one day, from all readings of the episode's patient.

    Readings after that day and of other measures are left out, and from the index date on those
    before it: what a knee did before its operation meets nothing. A criterion that does not apply
    to the person (a child, no norm for the sex, no involved limb) is not assessable whatever was
    measured. A test that was declined or held back by the surgeon says nothing and an older usable
    one is taken; one stopped by pain or not possible is newer evidence and is not passed over.
    """
    blank = CriterionResult(
        criterion=criterion, result=Result.NOT_TESTED, threshold=_threshold(criterion, facts)
    )
    refused = _does_not_apply(criterion=criterion, measure=measure, facts=facts, on=on)
    if refused is not None:
        return replace(blank, result=Result.NOT_ASSESSABLE, why=refused)
    since = _evidence_from(facts=facts, on=on)
    own = [r for r in readings if r.measure == measure.code and since <= r.on <= on]
    cases = cases_of(
        criterion=criterion, measure=measure, readings=own, facts=facts, body_mass=body_mass
    )
    newest = next(cases, None)
    if newest is None:
        elsewhere = keys_elsewhere(criterion=criterion, readings=own, limb=_limb(measure, facts))
        why = Why.DIFFERENT_KEY if elsewhere else Why.NO_READING
        return replace(blank, why=NotAssessable(why=why, detail=elsewhere))
    oldest = on - timedelta(days=criterion.maximum_age_days)
    if newest.on < oldest:
        return _outcome(blank=blank, case=newest, result=Result.OUT_OF_DATE)
    young = takewhile(lambda case: case.on >= oldest, chain([newest], cases))
    telling = next((case for case in young if not case.silent), newest)
    return _compare(blank=blank, case=telling, measure=measure, body_mass=body_mass)


def _evidence_from(*, facts: EpisodeFacts, on: date) -> date:
    """The first day whose readings say something of the knee as it is on that day."""
    index = facts.index_date
    return index if index is not None and index <= on else date.min


def _threshold(criterion: Criterion, facts: EpisodeFacts) -> Decimal:
    return criterion.value_by_sex.get(facts.sex, criterion.value)


def _limb(measure: Measure, facts: EpisodeFacts) -> Limb:
    return facts.knee if measure.per_limb else Limb.NONE


def _does_not_apply(
    *, criterion: Criterion, measure: Measure, facts: EpisodeFacts, on: date
) -> NotAssessable | None:
    if measure.per_limb and facts.knee is Limb.NONE:
        return NotAssessable(why=Why.NO_INVOLVED_LIMB)
    if criterion.adults_only and age_on(birth_date=facts.birth_date, on=on) < ADULT:
        return NotAssessable(why=Why.NOT_FOR_CHILDREN)
    if criterion.value_by_sex and facts.sex not in criterion.value_by_sex:
        return NotAssessable(why=Why.NO_SEX_NORM, detail=facts.sex)
    return None


def _outcome(*, blank: CriterionResult, case: Case, result: Result) -> CriterionResult:
    found = replace(blank, result=result, on=case.on, refs=case.refs)
    if isinstance(case.outcome, NotAssessable):
        return replace(found, why=case.outcome)
    return replace(found, value=case.outcome)


def _compare(
    *, blank: CriterionResult, case: Case, measure: Measure, body_mass: Reading | None
) -> CriterionResult:
    criterion = blank.criterion
    if isinstance(case.outcome, NotAssessable):
        return _outcome(blank=blank, case=case, result=Result.NOT_ASSESSABLE)
    if criterion.form is Form.GRADE:
        return _compare_grade(blank=blank, case=case)
    edge = _margin(criterion=criterion, measure=measure, key=case.key, body_mass=body_mass)
    result = judge_value(
        value=case.outcome, operator=criterion.operator, threshold=blank.threshold, margin=edge
    )
    return _spoiled(
        found=replace(_outcome(blank=blank, case=case, result=result), margin=edge), case=case
    )


def _margin(
    *, criterion: Criterion, measure: Measure, key: str, body_mass: Reading | None
) -> Decimal | None:
    error = measure.error_of(of=ERROR_OF[criterion.form], conditions=conditions_of(key=key))
    if error is None:
        return None
    edge = margin(sem=error.sem)
    if criterion.form is Form.PER_BODY_MASS and body_mass is not None and body_mass.value:
        return edge / body_mass.value
    return edge


def _compare_grade(*, blank: CriterionResult, case: Case) -> CriterionResult:
    """A grade meets its threshold, or is alike in both limbs up to the grade that counts so."""
    if isinstance(case.outcome, NotAssessable):
        raise AssertionError("a grade that is not assessable was let through")
    criterion = blank.criterion
    within = holds(value=case.outcome, operator=criterion.operator, threshold=blank.threshold)
    truth = any_of(values=[within, case.alike])
    if truth is None:
        result, why = Result.NOT_ASSESSABLE, NotAssessable(why=Why.OTHER_LIMB_NOT_TESTED)
        return replace(_outcome(blank=blank, case=case, result=result), why=why)
    result = Result.MET if truth else Result.NOT_MET
    return _spoiled(found=_outcome(blank=blank, case=case, result=result), case=case)


def _spoiled(*, found: CriterionResult, case: Case) -> CriterionResult:
    """A value kept good by a trick meets nothing; one that could be is not assessable."""
    if not found.result.truth or case.spoiled is None:
        return found
    unknown = case.spoiled.why is Why.DETAIL_MISSING
    result = Result.NOT_ASSESSABLE if unknown else Result.NOT_MET
    return replace(found, result=result, why=case.spoiled)


def earliest_date(*, gate: Gate, facts: EpisodeFacts) -> date | None:
    """The earliest date of a milestone, or None without an index date.

    Weeks are exact days, months are calendar months. The latest of what ``gate.later`` names for
    this graft, kind or age counts. Where the gate is waived it is the index date itself. The age
    is that of the index date: a birthday brings nothing nearer.
    """
    if facts.index_date is None or facts.kind in gate.waived_for:
        return facts.index_date
    found = [facts.index_date]
    if gate.weeks is not None:
        found.append(facts.index_date + timedelta(weeks=gate.weeks))
    months = [gate.months] if gate.months is not None else []
    months += [later for code, later in gate.later if code in later_codes(facts=facts)]
    found += [add_months(start=facts.index_date, months=number) for number in months]
    return max(found)


def later_codes(*, facts: EpisodeFacts) -> frozenset[str]:
    """What may make a gate later for this graft, kind and age at the index date."""
    codes = {f"graft:{facts.graft}", f"kind:{facts.kind}"}
    index = facts.index_date
    if index is not None and age_on(birth_date=facts.birth_date, on=index) < YOUNG:
        codes.add(f"under_{YOUNG}")
    return frozenset(codes)


def judge_milestone(
    *,
    milestone: Milestone,
    catalogue: Mapping[str, Measure],
    readings: Sequence[Reading],
    facts: EpisodeFacts,
    restrictions: Sequence[Restriction],
    on: date,
) -> MilestoneResult:
    """One milestone on one day: its state, its earliest date and every criterion judged.

    Criteria are judged in every state, so that what is missing can be seen early.
    """
    mass = latest_body_mass(catalogue=catalogue, readings=readings, on=on)
    criteria = tuple(
        judge_criterion(
            criterion=criterion,
            measure=catalogue[criterion.measure],
            readings=readings,
            facts=facts,
            on=on,
            body_mass=mass,
        )
        for criterion in milestone.criteria
    )
    blocked_by = tuple(
        limit
        for limit in restrictions
        if limit.kind in milestone.blocked_by and limit.in_force(on=on)
    )
    earliest = earliest_date(gate=milestone.gate, facts=facts)
    waived = facts.kind in milestone.gate.waived_for
    too_early = not waived and (earliest is None or on < earliest)
    met = all_of(values=[found.result.truth for found in criteria if found.criterion.hard])
    return MilestoneResult(
        milestone=milestone,
        state=_state(blocked=bool(blocked_by), too_early=too_early, met=met is True),
        earliest=earliest,
        criteria=criteria,
        blocked_by=blocked_by,
    )


def _state(*, blocked: bool, too_early: bool, met: bool) -> MilestoneState:
    if blocked:
        return MilestoneState.BLOCKED
    if too_early:
        return MilestoneState.BEFORE_EARLIEST_DATE
    return MilestoneState.RECORDED_AS_MET if met else MilestoneState.CRITERIA_MISSING


def latest_body_mass(
    *, catalogue: Mapping[str, Measure], readings: Sequence[Reading], on: date
) -> Reading | None:
    """The newest body mass that is not out of date on that day, or None."""
    age = catalogue[BODY_MASS].maximum_age_days if BODY_MASS in catalogue else None
    oldest = date.min if age is None else on - timedelta(days=age)
    found = [
        reading
        for reading in readings
        if reading.measure == BODY_MASS
        and reading.status is ReadingStatus.MEASURED
        and oldest <= reading.on <= on
    ]
    return max(found, key=lambda r: (r.on, r.ref), default=None)


def milestones_for(*, protocol: Protocol, goal: str) -> tuple[Milestone, ...]:
    """The milestones up to the last one of the goal; all of them for a goal not stated yet."""
    last = protocol.last_by_goal.get(goal, protocol.milestones[-1].code)
    codes = [milestone.code for milestone in protocol.milestones]
    return protocol.milestones[: codes.index(last) + 1]


def judge_protocol(
    *,
    protocol: Protocol,
    catalogue: Mapping[str, Measure],
    readings: Sequence[Reading],
    facts: EpisodeFacts,
    restrictions: Sequence[Restriction],
    on: date,
) -> tuple[MilestoneResult, ...]:
    """Every milestone up to the goal's last, judged on one day.

    Raises ``KeyError`` for a criterion whose measure is not in the catalogue.
    """
    grouped: dict[str, list[Reading]] = defaultdict(list)
    for reading in readings:
        grouped[reading.measure].append(reading)
    results = []
    for milestone in milestones_for(protocol=protocol, goal=facts.goal):
        wanted = {criterion.measure for criterion in milestone.criteria} | {BODY_MASS}
        results.append(
            judge_milestone(
                milestone=milestone,
                catalogue=catalogue,
                readings=[reading for code in sorted(wanted) for reading in grouped[code]],
                facts=facts,
                restrictions=restrictions,
                on=on,
            )
        )
    return tuple(results)
