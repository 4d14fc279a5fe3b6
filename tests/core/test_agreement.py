"""Agreement of two who grade: laws over every table, edges, and what has no value or interval."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from outcomes.core.agreement import alike, kappa, share, table_of, weighted_kappa, weights_of

PAIRS = st.lists(st.tuples(st.integers(0, 3), st.integers(0, 3)), min_size=1, max_size=40)
DIAGONAL = ((2, 0), (0, 3))


def known(value):
    """A value that is there."""
    assert value is not None
    return value


def disagreement(pairs, power):
    """Kappa by another road: 1 - mean disagreement seen / mean over every possible pairing."""
    apart = [abs(a - b) ** power if power else int(a != b) for a, b in pairs]
    by_chance = [abs(a - b) ** power if power else int(a != b) for a, _ in pairs for _, b in pairs]
    seen, chance = Fraction(sum(apart), len(apart)), Fraction(sum(by_chance), len(by_chance))
    return None if not chance else 1 - seen / chance


@given(PAIRS, st.integers(0, 2))
def test_kappa_is_one_less_disagreement_over_that_of_chance(pairs, power):
    table = table_of(pairs=pairs, grades=4)
    found = kappa(table=table, power=power)
    assert found.value == disagreement(pairs, power)
    turned = kappa(table=tuple(zip(*table, strict=True)), power=power)
    backwards = kappa(table=tuple(row[::-1] for row in table[::-1]), power=power)
    assert found.value == turned.value == backwards.value
    assert found.n == len(pairs)
    assert (found.reason == "one_grade") == (found.value is None)
    assert (found.reason == "") == (found.low is not None)
    assert (found.reason == "all_alike") == (found.low is None and found.value == 1)
    if found.low is not None:
        assert -1 <= found.low <= known(found.value) <= known(found.high) <= 1
        twice = kappa(table=tuple(tuple(2 * cell for cell in row) for row in table), power=power)
        assert twice.value == found.value
        assert round(2 * known(twice.se) ** 2 - known(found.se) ** 2, 20) == 0


def test_two_grades_weigh_alike_whatever_the_power():
    table = ((20, 5), (10, 15))
    plain, *weighted = (kappa(table=table, power=power) for power in (0, 1, 2))
    assert weighted == [plain, plain]
    assert plain.value == Fraction(2, 5)
    assert [str(one) for one in weights_of(grades=3, power=2)[0]] == ["1", "3/4", "0"]


def test_what_is_not_defined_says_why():
    said = {
        str(table): [str(one) for one in (k.n, k.value, k.se, k.low, k.high, k.reason)]
        for table in (((0, 0), (0, 0)), ((7, 0), (0, 0)), DIAGONAL, ((3, 4), (0, 0)))
        for k in (kappa(table=table, power=1),)
    }
    nothing = ["None"] * 3
    assert said == {
        "((0, 0), (0, 0))": ["0", "None", *nothing, "no_pairs"],
        "((7, 0), (0, 0))": ["7", "None", *nothing, "one_grade"],
        "((2, 0), (0, 3))": ["5", "1", *nothing, "all_alike"],
        "((3, 4), (0, 0))": ["7", "0", *nothing, "no_spread"],
    }


def test_few_pairs_are_said_below_fifty():
    assert [kappa(table=((n, 1), (0, 1)), power=0).few for n in (47, 48)] == [True, False]


def test_shares_keep_their_ends_and_their_counts():
    assert alike(table=((3, 1), (0, 4))) == share(count=7, n=8)
    assert share(count=0, n=0).value is None
    none, every = share(count=0, n=20), share(count=20, n=20)
    assert [str(one) for one in (none.low, every.high)] == ["0", "1"]
    assert round(known(none.high), 4) == round(1 - known(every.low), 4) == Decimal("0.1611")


@pytest.mark.parametrize(
    "call",
    [
        lambda: table_of(pairs=[(0, 4)], grades=4),
        lambda: table_of(pairs=[(-1, 0)], grades=4),
        lambda: weights_of(grades=1, power=1),
        lambda: weights_of(grades=3, power=3),
        lambda: kappa(table=((1, 0), (0, 1), (0, 0)), power=0),
        lambda: weighted_kappa(table=DIAGONAL, weights=((1, 0, 0), (0, 1, 0), (0, 0, 1))),
        lambda: share(count=3, n=2),
        lambda: share(count=-1, n=2),
    ],
)
def test_what_cannot_be_counted_is_refused(call):
    with pytest.raises(ValueError, match=r"grades|square|between"):
        call()


@settings(max_examples=8)  # each call of the other library takes milliseconds
@given(PAIRS)
def test_kappa_is_what_another_library_finds(pairs):
    """scikit-learn's ``cohen_kappa_score``, an implementation that shares nothing with ours."""
    from sklearn.metrics import cohen_kappa_score  # heavy: this test alone asks for it

    mine, theirs = zip(*pairs, strict=True)
    table = table_of(pairs=pairs, grades=4)
    for power, weights in ((0, None), (1, "linear"), (2, "quadratic")):
        found = kappa(table=table, power=power).value
        if found is not None:
            other = cohen_kappa_score(mine, theirs, labels=range(4), weights=weights)
            assert float(found) == pytest.approx(other, abs=1e-12)
