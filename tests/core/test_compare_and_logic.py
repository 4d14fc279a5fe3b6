"""Thresholds are exact; unknown is a value of its own."""

from decimal import Decimal
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.core.compare import holds, judge_value
from outcomes.core.errors import margin, mdc, real_change, sem
from outcomes.core.logic import all_of, any_of, n_of
from outcomes.core.values import Operator, Result
from tests.core.builders import few
from tests.core.tables import every_case

U = None
AND = {
    (True, True): True, (True, False): False, (True, U): U,
    (False, True): False, (False, False): False, (False, U): False,
    (U, True): U, (U, False): False, (U, U): U,
}  # fmt: skip
OR = {
    (True, True): True, (True, False): True, (True, U): True,
    (False, True): True, (False, False): False, (False, U): U,
    (U, True): True, (U, False): U, (U, U): U,
}  # fmt: skip


# Kleene's strong tables (Introduction to Metamathematics, 1952): from memory, unverified.
def test_kleene_tables():
    assert {pair: all_of(values=pair) for pair in AND} == AND
    assert {pair: any_of(values=pair) for pair in OR} == OR


def test_of_nothing_all_is_true_and_any_is_false():
    assert (all_of(values=[]), any_of(values=[])) == (True, False)


def test_n_of_says_what_every_completion_says():
    for values, n in product(product([True, False, None], repeat=3), range(5)):
        choices = [[value] if value is not None else [True, False] for value in values]
        outcomes = {sum(completed) >= n for completed in product(*choices)}
        assert n_of(n=n, values=values) is (outcomes.pop() if len(outcomes) == 1 else None)


def test_every_one_decimal_pair_with_an_index_of_exactly_90_meets_90():
    pairs = [(Decimal(9 * n) / 10, Decimal(n)) for n in range(10, 301)]
    assert len(pairs) == 291
    by_float = sum(float(a) / float(b) * 100 < 90 for a, b in pairs)
    for involved, other in pairs:
        index = Fraction(involved) / Fraction(other) * 100
        assert holds(value=index, operator=Operator.AT_LEAST, threshold=Decimal(90))
        assert not holds(value=index, operator=Operator.GREATER, threshold=Decimal(90))
    assert by_float > 0, "the trap that exact numbers avoid has gone"


@few
@given(a=st.integers(min_value=100, max_value=3000), b=st.integers(min_value=100, max_value=3000))
def test_index_at_least_90_is_cross_multiplication(a, b):
    index = Fraction(Decimal(a) / 10) / Fraction(Decimal(b) / 10) * 100
    met = holds(value=index, operator=Operator.AT_LEAST, threshold=Decimal(90))
    assert met is (10 * a >= 9 * b)


@every_case(
    ("value", "margin_", "result"),
    [
        ("96.1", "6", Result.MET),
        ("96", "6", Result.MET_BORDERLINE),
        ("90", "6", Result.MET_BORDERLINE),
        ("89.999", "6", Result.NOT_MET_BORDERLINE),
        ("84", "6", Result.NOT_MET_BORDERLINE),
        ("83.9", "6", Result.NOT_MET),
        ("90", None, Result.MET),
        ("89.999", None, Result.NOT_MET),
    ],
)
def test_borderline_is_within_the_margin_on_both_sides(value, margin_, result):
    found = judge_value(
        value=Fraction(value),
        operator=Operator.AT_LEAST,
        threshold=Decimal(90),
        margin=None if margin_ is None else Decimal(margin_),
    )
    assert found is result


@every_case(
    ("result", "truth"),
    [
        (Result.MET, True),
        (Result.MET_BORDERLINE, True),
        (Result.NOT_MET_BORDERLINE, False),
        (Result.NOT_MET, False),
        (Result.NOT_TESTED, None),
        (Result.OUT_OF_DATE, None),
        (Result.NOT_ASSESSABLE, None),
    ],
)
def test_truth_of_a_result(result, truth):
    assert result.truth is truth


def test_one_value_against_a_cut_and_a_change_use_different_multiples():
    assert margin(sem=Decimal(1)) == Decimal("1.645")
    assert round(mdc(sem=Decimal(1), confidence=95), 4) == Decimal("2.7719")
    assert round(mdc(sem=Decimal(1), confidence=90), 4) == Decimal("2.3264")


@every_case(("after", "real"), [("82.77", False), ("82.78", True), ("77.2", True)])
def test_a_change_is_real_from_the_detectable_change_on(after, real):
    assert real_change(before=Decimal(80), after=Decimal(after), sem=Decimal(1)) is real


def test_without_a_published_error_nobody_can_say():
    assert real_change(before=Decimal(10), after=Decimal(99), sem=None) is None


@every_case(("sd", "icc"), [("1", "1.01"), ("1", "-0.1"), ("-1", "0.5")])
def test_impossible_reliability_is_refused(sd, icc):
    with pytest.raises(ValueError, match="between 0 and 1"):
        sem(sd=Decimal(sd), icc=Decimal(icc))
