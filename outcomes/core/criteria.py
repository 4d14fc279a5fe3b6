"""One criterion judged on a day. A person decides; no result permits.

The algebra: no reading is not tested; none young enough is out of date; none usable is not
assessable; else the newest usable one is compared, exactly.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import chain, takewhile
from typing import Final

from outcomes.core.cases import Case, cases_of, keys_elsewhere, limb_of
from outcomes.core.compare import holds, judge_value
from outcomes.core.errors import margin as margin_of
from outcomes.core.errors import mdc
from outcomes.core.event_criteria import judge_events
from outcomes.core.evidence import Evidence
from outcomes.core.logic import any_of
from outcomes.core.normalised import margin_in_form
from outcomes.core.readings import conditions_of
from outcomes.core.repeats import held, window
from outcomes.core.score_criteria import judge_score
from outcomes.core.thresholds import blank_of
from outcomes.core.values import (
    Basis,
    Criterion,
    CriterionResult,
    EpisodeFacts,
    Form,
    Limb,
    Measure,
    NotAssessable,
    Reading,
    Result,
    Subject,
    Why,
)

ERROR_OF: Final[Mapping[Form, Basis]] = {
    Form.INVOLVED: Basis.VALUE,
    Form.PER_BODY_MASS: Basis.VALUE,
    Form.PER_BODY_WEIGHT: Basis.VALUE,
    Form.PER_HEIGHT: Basis.VALUE,
    Form.PER_LEG_LENGTH: Basis.VALUE,
    Form.CHANGE_SINCE_SURGERY: Basis.VALUE,
    Form.CHANGE_SINCE_LAST: Basis.VALUE,
    Form.SYMMETRY: Basis.SYMMETRY,
    Form.SHORT_OF_OTHER: Basis.DIFFERENCE,
}
"""Whose error makes a value borderline; nothing is published for the other forms."""


def judge_criterion(
    *,
    criterion: Criterion,
    measure: Measure,
    readings: Sequence[Reading],
    facts: EpisodeFacts,
    on: date,
    body_mass: Reading | None = None,
) -> CriterionResult:
    """One criterion of a measure on one day, from all readings of the episode's patient.

    Readings after that day and of other measures are left out, and from the index date on those
    before it: what a knee did before its operation meets nothing. A criterion that does not apply
    to the person (a child, no norm for the sex, no involved limb) is not assessable whatever was
    measured. A test that was declined or held back by the surgeon says nothing and an older usable
    one is taken; one stopped by pain or not possible is newer evidence and is not passed over.
    """
    evidence = Evidence(
        facts=facts,
        catalogue={measure.code: measure},
        readings=readings,
        on=on,
        body_mass=body_mass,
    )
    return judge_on(criterion=criterion, evidence=evidence)


def judge_on(*, criterion: Criterion, evidence: Evidence) -> CriterionResult:
    """One criterion of any subject but a group, on what the record holds on that day.

    Raises ``KeyError`` for a measure that is not in the catalogue.
    """
    if criterion.subject is Subject.SCORE:
        return judge_score(criterion=criterion, evidence=evidence)
    if criterion.subject is Subject.EVENT:
        return judge_events(criterion=criterion, evidence=evidence)
    measure, facts = evidence.catalogue[criterion.measure], evidence.facts
    blank = blank_of(criterion=criterion, facts=facts, on=evidence.on)
    limb = limb_of(measure=measure, facts=facts)
    if measure.per_limb and limb is Limb.NONE:
        refused = NotAssessable(why=Why.NO_INVOLVED_LIMB)
        return replace(blank, result=Result.NOT_ASSESSABLE, why=refused)
    if blank.why is not None:
        return blank
    return _on_readings(blank=blank, measure=measure, limb=limb, evidence=evidence)


def _on_readings(
    *, blank: CriterionResult, measure: Measure, limb: Limb, evidence: Evidence
) -> CriterionResult:
    criterion = blank.criterion
    cases = cases_of(criterion=criterion, measure=measure, evidence=evidence)
    newest = next(cases, None)
    if newest is None:
        return _untested(blank=blank, limb=limb, evidence=evidence)
    oldest = evidence.on - timedelta(days=criterion.maximum_age_days)
    if newest.on < oldest:
        return _outcome(blank=blank, case=newest, result=Result.OUT_OF_DATE)
    young = takewhile(lambda case: case.on >= oldest, chain([newest], cases))
    telling = next((case for case in young if not case.silent), newest)
    now = _compare(blank=blank, case=telling, measure=measure)
    if criterion.repeat is None or not now.result.truth:
        return now
    first, last = window(before=telling.on, repeat=criterion.repeat)
    every = cases_of(criterion=criterion, measure=measure, evidence=evidence)
    earlier = (
        _compare(blank=blank, case=case, measure=measure)
        for case in takewhile(lambda case: case.on >= first, every)
        if case.on <= last and case.key == telling.key
    )
    return held(now=now, earlier=earlier, repeat=criterion.repeat)


def _untested(*, blank: CriterionResult, limb: Limb, evidence: Evidence) -> CriterionResult:
    criterion = blank.criterion
    since = evidence.since(criterion=criterion)
    line = evidence.line(code=criterion.measure, limb=limb, since=since)
    elsewhere = keys_elsewhere(criterion=criterion, readings=line)
    if elsewhere:
        return replace(blank, why=NotAssessable(why=Why.DIFFERENT_KEY, detail=elsewhere))
    return replace(blank, why=NotAssessable(why=Why.NO_READING))


def _outcome(
    *,
    blank: CriterionResult,
    case: Case,
    result: Result,
    margin: Decimal | None = None,
    why: NotAssessable | None = None,
) -> CriterionResult:
    """What came out of a case. A value with which nothing is met says why."""
    if isinstance(case.outcome, NotAssessable):
        why, value = case.outcome, None
    else:
        value = case.outcome
    if result.truth and case.spoiled is not None:
        unknown = case.spoiled.why is Why.DETAIL_MISSING
        result, why = Result.NOT_ASSESSABLE if unknown else Result.NOT_MET, case.spoiled
    return CriterionResult(
        criterion=blank.criterion,
        result=result,
        threshold=blank.threshold,
        value=value,
        on=case.on,
        margin=margin,
        why=why,
        refs=case.refs,
    )


def _compare(*, blank: CriterionResult, case: Case, measure: Measure) -> CriterionResult:
    criterion = blank.criterion
    if isinstance(case.outcome, NotAssessable):
        return _outcome(blank=blank, case=case, result=Result.NOT_ASSESSABLE)
    if criterion.form is Form.GRADE:
        return _compare_grade(blank=blank, case=case)
    edge = _margin(criterion=criterion, measure=measure, case=case)
    result = judge_value(
        value=case.outcome, operator=criterion.operator, threshold=blank.threshold, margin=edge
    )
    return _outcome(blank=blank, case=case, result=result, margin=edge)


def _margin(*, criterion: Criterion, measure: Measure, case: Case) -> Decimal | None:
    """How near to the threshold a value is borderline. A change has the error of two tests."""
    basis = ERROR_OF.get(criterion.form)
    if basis is None or not measure.errors:
        return None
    error = measure.error_of(of=basis, conditions=conditions_of(key=case.key))
    if error is None:
        return None
    if criterion.form.is_change:
        return mdc(sem=error.sem, confidence=90)
    return margin_in_form(form=criterion.form, edge=margin_of(sem=error.sem), body=case.body)


def _compare_grade(*, blank: CriterionResult, case: Case) -> CriterionResult:
    """A grade meets its threshold, or is alike in both limbs up to the grade that counts so."""
    if isinstance(case.outcome, NotAssessable):
        raise AssertionError("a grade that is not assessable was let through")
    criterion = blank.criterion
    within = holds(value=case.outcome, operator=criterion.operator, threshold=blank.threshold)
    truth = any_of(values=[within, case.alike])
    if truth is None:
        why = NotAssessable(why=Why.OTHER_LIMB_NOT_TESTED)
        return _outcome(blank=blank, case=case, result=Result.NOT_ASSESSABLE, why=why)
    return _outcome(blank=blank, case=case, result=Result.MET if truth else Result.NOT_MET)
