"""Which number a criterion asks of this person, or why it asks nothing of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Final

from outcomes.core.dates import age_on
from outcomes.core.values import (
    Criterion,
    CriterionResult,
    EpisodeFacts,
    Form,
    NotAssessable,
    Result,
    Why,
)

ADULT: Final = 18


def blank_of(*, criterion: Criterion, facts: EpisodeFacts, on: date) -> CriterionResult:
    """A criterion before anything was looked at: not tested, or not assessable for this person.

    A threshold that is published by sex, age or graft is not stretched to anybody else; one that
    the clinic has to enter is not guessed; before its own earliest week nothing is asked.
    """
    threshold, refused = _threshold(criterion=criterion, facts=facts, on=on)
    blank = CriterionResult(criterion=criterion, result=Result.NOT_TESTED, threshold=threshold)
    refused = refused or _too_early(criterion=criterion, facts=facts, on=on)
    if refused is None:
        return blank
    return replace(blank, result=Result.NOT_ASSESSABLE, why=refused)


def _threshold(
    *, criterion: Criterion, facts: EpisodeFacts, on: date
) -> tuple[Decimal, NotAssessable | None]:
    usual = criterion.value_by_sex.get(facts.sex, criterion.value)
    plain_rule = not (criterion.adults_only or criterion.value_by_sex or criterion.bands)
    if plain_rule and criterion.form is not Form.PERCENTILE:
        return usual, None
    age = age_on(birth_date=facts.birth_date, on=on)
    if criterion.adults_only and age < ADULT:
        return usual, NotAssessable(why=Why.NOT_FOR_CHILDREN)
    if criterion.value_by_sex and facts.sex not in criterion.value_by_sex:
        return usual, NotAssessable(why=Why.NO_SEX_NORM, detail=facts.sex)
    for band in criterion.bands:
        if band.fits(sex=facts.sex, graft=facts.graft, age=age):
            return band.value, None
    if criterion.bands:
        return usual, NotAssessable(why=Why.NO_NORM)
    missing = NotAssessable(why=Why.NO_CLINIC_NORM)
    return usual, missing if criterion.form is Form.PERCENTILE else None


def _too_early(*, criterion: Criterion, facts: EpisodeFacts, on: date) -> NotAssessable | None:
    week, index = criterion.earliest_week, facts.index_date
    if week is None or (index is not None and on >= index + timedelta(weeks=week)):
        return None
    return NotAssessable(why=Why.BEFORE_EARLIEST_WEEK, detail=str(week))
