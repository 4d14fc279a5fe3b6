"""A criterion of a questionnaire's score, judged on a day."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from fractions import Fraction

from outcomes.core.compare import judge_value
from outcomes.core.evidence import Evidence
from outcomes.core.repeats import held
from outcomes.core.thresholds import blank_of
from outcomes.core.values import Criterion, CriterionResult, Form, NotAssessable, Result, Score, Why


def judge_score(*, criterion: Criterion, evidence: Evidence) -> CriterionResult:
    """A score on what was filled in since the index date, newest first.

    A form on which too few items were answered says nothing, and an older one that is young
    enough is taken. Scores of different lines are never subtracted. No error is published as a
    SEM of these forms, so that nothing is borderline.
    """
    blank = blank_of(criterion=criterion, facts=evidence.facts, on=evidence.on)
    if blank.why is not None:
        return blank
    line = _line(criterion=criterion, evidence=evidence)
    if not line:
        return replace(blank, why=NotAssessable(why=Why.NO_READING))
    oldest = evidence.on - timedelta(days=criterion.maximum_age_days)
    if line[0].on < oldest:
        return replace(blank, result=Result.OUT_OF_DATE, on=line[0].on, value=line[0].value)
    young = (score for score in line if score.on >= oldest)
    telling = next((score for score in young if score.value is not None), line[0])
    now = _compared(blank=blank, score=telling, line=line)
    if criterion.repeat is None:
        return now
    same = (score for score in line if score.line == telling.line)
    earlier = (_compared(blank=blank, score=score, line=line) for score in same)
    return held(now=now, earlier=earlier, repeat=criterion.repeat)


def _line(*, criterion: Criterion, evidence: Evidence) -> list[Score]:
    since = evidence.since(criterion=criterion)
    found = [
        score
        for score in evidence.scores
        if score.code == criterion.measure and since <= score.on <= evidence.on
    ]
    return sorted(found, key=lambda score: (score.on, score.ref), reverse=True)


def _compared(*, blank: CriterionResult, score: Score, line: list[Score]) -> CriterionResult:
    criterion = blank.criterion
    value: Fraction | NotAssessable | None = score.value
    if criterion.form.is_change:
        value = _change(form=criterion.form, score=score, line=line)
    found = replace(blank, on=score.on)
    if value is None:
        value = NotAssessable(why=Why.TOO_FEW_ANSWERS, detail=score.reason)
    if isinstance(value, NotAssessable):
        return replace(found, result=Result.NOT_ASSESSABLE, why=value)
    result = judge_value(
        value=value, operator=criterion.operator, threshold=blank.threshold, margin=None
    )
    return replace(found, result=result, value=value)


def _change(*, form: Form, score: Score, line: list[Score]) -> Fraction | NotAssessable | None:
    if score.value is None:
        return None
    earlier = [
        one.value
        for one in line
        if one.line == score.line and one.on < score.on and one.value is not None
    ]
    if not earlier:
        return NotAssessable(why=Why.NO_EARLIER_VALUE)
    return score.value - (earlier[-1] if form is Form.CHANGE_SINCE_SURGERY else earlier[0])
