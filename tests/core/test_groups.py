"""Groups in three-valued logic: all, any and so many of them, against tables written by hand."""

from datetime import date, timedelta
from decimal import Decimal
from itertools import product

from outcomes.core.groups import judge_group
from outcomes.core.judge import judge_protocol
from outcomes.core.values import (
    Criterion,
    CriterionResult,
    Form,
    MilestoneState,
    NotAssessable,
    Operator,
    Result,
    Subject,
    Why,
)
from tests.core.builders import CATALOGUE, SURGERY, after, both, facts
from tests.core.criterion_rows import PROTOCOLS
from tests.core.tables import every_case

DAY = date(2026, 9, 1)
T, F, U = Result.MET, Result.NOT_MET, Result.NOT_TESTED
NEAR, SHORT = Result.MET_BORDERLINE, Result.NOT_MET_BORDERLINE


def rule(needed, of=("a", "b", "c"), **changes):
    usual = {
        "code": "group", "label": "Group", "measure": "", "form": Form.COUNT,
        "operator": Operator.AT_LEAST, "value": Decimal(needed), "unit": "{criterion}",
        "hard": True, "maximum_age_days": 0, "sources": (), "subject": Subject.GROUP, "of": of,
    }  # fmt: skip
    return Criterion(**{**usual, **changes})


def member(result, why=None):
    return CriterionResult(
        criterion=rule(1, code="member"), result=result, threshold=Decimal(1), why=why
    )


def grouped(needed, *results):
    members = [member(result) for result in results]
    group = rule(needed, of=tuple("abc"[: len(members)]))
    return judge_group(criterion=group, members=members, facts=facts(), on=DAY).result


ALL = {
    (T, T): T, (T, F): F, (F, T): F, (F, F): F,
    (T, U): U, (U, T): U, (U, U): U, (F, U): F, (U, F): F,
}  # fmt: skip
ANY = {
    (T, T): T, (T, F): T, (F, T): T, (F, F): F,
    (T, U): T, (U, T): T, (U, U): U, (F, U): U, (U, F): U,
}  # fmt: skip
TWO_OF_THREE: dict[tuple[Result, ...], Result] = {
    (T, T, T): T, (T, T, F): T, (T, T, U): T, (T, F, F): F, (T, F, U): U, (T, U, U): U,
    (F, F, F): F, (F, F, U): F, (F, U, U): U, (U, U, U): U,
}  # fmt: skip


def test_all_of_two():
    assert {pair: grouped(2, *pair) for pair in ALL} == ALL
    assert set(ALL) == set(product((T, F, U), repeat=2))


def test_any_of_two():
    assert {pair: grouped(1, *pair) for pair in ANY} == ANY


def test_two_of_three_in_any_order():
    for members in product((T, F, U), repeat=3):
        ordered = tuple(sorted(members, key=(T, F, U).index))
        assert grouped(2, *members) is TWO_OF_THREE[ordered], members


@every_case(
    ("needed", "members", "result"),
    [
        (2, (T, NEAR), NEAR),
        (2, (NEAR, NEAR), NEAR),
        (2, (NEAR, F), F),
        (2, (T, SHORT), SHORT),
        (2, (SHORT, F), F),
        (1, (T, SHORT), T),
        (1, (NEAR, F), NEAR),
        (1, (SHORT, F), SHORT),
        (2, (T, T, NEAR), T),
        (2, (T, NEAR, SHORT), NEAR),
        (2, (T, SHORT, SHORT), SHORT),
        (2, (NEAR, U, U), U),
    ],
)
def test_a_group_is_borderline_where_it_hangs_on_a_borderline_member(needed, members, result):
    assert grouped(needed, *members) is result


def test_an_open_group_has_the_result_and_the_reason_of_its_first_open_member():
    why = NotAssessable(why=Why.LIMITED_BY_PAIN, detail="left")
    members = [member(T), member(Result.NOT_ASSESSABLE, why), member(Result.OUT_OF_DATE)]
    found = judge_group(criterion=rule(3), members=members, facts=facts(), on=DAY)
    assert (found.result, found.why) == (Result.NOT_ASSESSABLE, why)
    assert found.value == 1


def test_a_group_waits_for_its_own_earliest_week():
    early = rule(1, earliest_week=20)
    for on, result in ((after(weeks=20) - timedelta(days=1), Result.NOT_ASSESSABLE),
                       (after(weeks=20), T)):  # fmt: skip
        found = judge_group(criterion=early, members=[member(T)], facts=facts(), on=on)
        assert found.result is result


def stage_3_flexion(left, right, **changes):
    on = SURGERY + timedelta(weeks=8)
    found = judge_protocol(
        protocol=PROTOCOLS["composite@1"], catalogue=CATALOGUE,
        readings=both("knee_flexion", left, right, on), facts=facts(**changes),
        restrictions=(), on=on,
    )[2]  # fmt: skip
    results = {one.criterion.code: one.result for one in found.criteria}
    return results["flexion_120"], results["flexion_other"], results["flexion"], found.state


def test_one_hundred_and_twenty_or_near_the_other_knee():
    missing = MilestoneState.CRITERIA_MISSING
    assert stage_3_flexion("120", "140") == (T, F, T, missing)
    assert stage_3_flexion("118", "128") == (F, T, T, missing)
    assert stage_3_flexion("118", "129") == (F, F, F, missing)
    unfair = stage_3_flexion("118", "128", other_limb="current_problem")
    assert unfair == (F, Result.NOT_ASSESSABLE, Result.NOT_ASSESSABLE, missing)
    assert stage_3_flexion("120", "128", other_limb="current_problem")[2] is T
