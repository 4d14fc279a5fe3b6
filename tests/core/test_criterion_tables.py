"""Every criterion of every protocol and published set through every result: one table a rule."""

from dataclasses import replace
from datetime import timedelta

import pytest

from outcomes.core.criteria import judge_on
from outcomes.core.evidence import evidence_of
from outcomes.core.values import Criterion, Form, ReadingStatus, Result, Why
from tests.core.builders import CATALOGUE, L, R, after, facts
from tests.core.criterion_rows import (
    clearly_met,
    every_rule,
    first_day,
    mass_on,
    rows_at,
    sides_of,
    threshold_of,
)

RULES = list(every_rule())
TODAY = after(weeks=40)
each_rule = pytest.mark.parametrize("rule", [r for _, r in RULES], ids=[name for name, _ in RULES])


def judged(rule, rows, on=TODAY, **changes):
    """The rule without its repeat: that has a table of its own."""
    evidence = evidence_of(
        facts=facts(**changes), catalogue=CATALOGUE, readings=[*rows, mass_on(on)], on=on
    )
    return judge_on(criterion=replace(rule, repeat=None), evidence=evidence)


def within(rule, number):
    """Whether such a number can be read at all: the limits of the measure are not its rule."""
    low, high = CATALOGUE[rule.measure].hard
    return all(low <= (row.value or 0) <= high for row in rows_at(rule, number, TODAY))


def compared(rule: Criterion) -> bool:
    return rule.form.compares_limbs


@each_rule
def test_at_past_and_short_of_the_threshold(rule):
    table = [one for one in sides_of(rule, threshold_of(rule)) if within(rule, one[1])]
    found = {name: judged(rule, rows_at(rule, number, TODAY)) for name, number, _ in table}
    assert {name: one.result for name, one in found.items()} == {n: r for n, _, r in table}
    assert {one.on for one in found.values()} == {TODAY}
    assert {one.threshold for one in found.values()} == {threshold_of(rule)}
    assert {name: one.value for name, one in found.items()} == {n: x for n, x, _ in table}


@each_rule
def test_missing_stale_by_a_day_and_young_enough_on_the_last(rule):
    good, age = clearly_met(rule), timedelta(days=rule.maximum_age_days)
    rows = rows_at(rule, good, TODAY)
    assert judged(rule, []).result is Result.NOT_TESTED
    assert judged(rule, rows, on=TODAY + age).result is Result.MET
    stale = judged(rule, rows, on=TODAY + age + timedelta(days=1))
    assert (stale.result, stale.on) == (Result.OUT_OF_DATE, TODAY)
    assert judged(rule, rows, on=TODAY - timedelta(days=8)).result is Result.NOT_TESTED


@each_rule
def test_limited_by_pain_declined_and_held_back(rule):
    good = clearly_met(rule)
    pain = judged(rule, rows_at(rule, good, TODAY, status=ReadingStatus.STOPPED_BY_PAIN))
    assert (pain.result, pain.why.why) == (Result.NOT_ASSESSABLE, Why.LIMITED_BY_PAIN)
    older = rows_at(rule, good, TODAY - timedelta(days=1))
    for status in (ReadingStatus.DECLINED, ReadingStatus.SURGEONS_LIMIT):
        blank = rows_at(rule, good, TODAY, status=status, value=None)[-2:]
        alone = judged(rule, blank)
        assert (alone.result, alone.why.why) == (Result.NOT_ASSESSABLE, Why.NOT_DONE)
        assert judged(rule, [*older, *blank]).result is Result.MET
    unable = rows_at(rule, good, TODAY, status=ReadingStatus.UNABLE, value=None)[-2:]
    assert judged(rule, [*older, *unable]).result is Result.NOT_ASSESSABLE


@each_rule
def test_another_key_and_an_unfair_other_limb(rule):
    rows = rows_at(rule, clearly_met(rule), TODAY)
    if rule.key:
        elsewhere = judged(rule, [replace(row, key=f"{row.key}0") for row in rows])
        assert (elsewhere.result, elsewhere.why.why) == (Result.NOT_TESTED, Why.DIFFERENT_KEY)
    if compared(rule):
        mixed = [replace(row, key=f"{row.key}0") if row.limb is R else row for row in rows]
        assert judged(rule, mixed).why.why is Why.DIFFERENT_KEY
        alone = judged(rule, [row for row in rows if row.limb is L])
        assert (alone.result, alone.why.why) == (Result.NOT_ASSESSABLE, Why.OTHER_LIMB_NOT_TESTED)
    for unfair in (
        {"graft_from": "other_limb"},
        {"other_limb": "earlier_surgery"},
        {"other_limb": "current_problem"},
        {"other_limb": "not_stated"},
        {"other_knee_followed": True},
    ):
        found = judged(rule, rows, **unfair)
        if compared(rule):
            assert (found.result, found.why.why) == (Result.NOT_ASSESSABLE, Why.OTHER_LIMB_NOT_FAIR)
        else:
            assert found.result is Result.MET


@each_rule
def test_a_test_before_the_operation_or_its_own_week_meets_nothing(rule):
    first = first_day(rule)
    good = clearly_met(rule)
    apart = timedelta(days=7 if rule.form is Form.CHANGE_SINCE_LAST else 0)
    on_it = judged(rule, rows_at(rule, good, first + apart), on=first + apart)
    assert on_it.result is Result.MET
    early = judged(rule, rows_at(rule, good, first - timedelta(days=1)), on=first)
    assert early.result is Result.NOT_TESTED
    if rule.earliest_week:
        before = judged(rule, rows_at(rule, good, first), on=first - timedelta(days=1))
        assert (before.result, before.why.why) == (Result.NOT_ASSESSABLE, Why.BEFORE_EARLIEST_WEEK)


def test_there_are_rules_of_every_form_that_is_shipped():
    assert {rule.form for _, rule in RULES} == {
        Form.INVOLVED, Form.SYMMETRY, Form.SHORT_OF_OTHER, Form.PER_BODY_MASS, Form.GRADE,
        Form.CHANGE_SINCE_LAST,
    }  # fmt: skip
    assert len(RULES) > 60
