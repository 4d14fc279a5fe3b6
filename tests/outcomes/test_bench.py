"""The bench's arithmetic. What it measures is measured by ``./run bench``, not here."""

from decimal import Decimal

import pytest
from django.db import connection
from hypothesis import given
from hypothesis import strategies as st

from outcomes.catalogue.instruments import load_instruments
from outcomes.core.questionnaires import score
from outcomes.core.values import Limb, Symmetry
from outcomes.management.bench import arithmetic, measuring
from outcomes.management.bench.counting import counted
from outcomes.management.bench.measuring import Figure, compared, exact, median_interval, paired
from outcomes.management.bench.samples import READINGS, entries_of
from tests.core.builders import CATALOGUE, after, both, newest

KOOS = load_instruments()["koos"]
TABLE = {9: (2, 8), 12: (3, 10), 13: (3, 11), 14: (3, 12), 15: (4, 12), 17: (5, 13), 18: (5, 14),
         19: (5, 15), 20: (6, 15)}  # fmt: skip
"""The narrowest ranks with at least 95 %, from a printed table of confidence intervals for the
population median (table A.7 of a statistics textbook: coursehero.com/file/5646626)."""


@pytest.mark.parametrize(("n", "ranks"), TABLE.items())
def test_the_interval_lies_between_the_ranks_of_the_printed_table(n, ranks):
    assert median_interval(values=range(1, n + 1)) == ranks


def test_no_interval_below_six_values():
    """Six reach 96.9 % from smallest to largest, five only 93.8 % (the same table)."""
    assert median_interval(values=[3, 1, 2, 6, 5, 4]) == (1, 6)
    with pytest.raises(ValueError, match="at least six"):
        median_interval(values=[3, 1, 2, 5, 4])


@given(st.lists(st.floats(0.1, 10), min_size=30, max_size=60), st.floats(0.1, 10))
def test_twice_as_slow_is_twice_the_ratio(baseline, factor):
    product = [factor * one for one in baseline]
    ratio, mine, bare = compared(name="page", product=product, baseline=baseline, aim=3)
    assert (ratio.name, ratio.unit, ratio.aim) == ("page", "ratio", 3)
    assert ratio.value == ratio.low == ratio.high == pytest.approx(factor, abs=1e-4)
    assert (mine.unit, bare.unit, mine.aim, bare.aim) == ("ms", "ms", None, None)
    assert mine.low <= mine.value <= mine.high


def test_ratios_are_of_rounds_and_not_of_medians():
    """A slow round slows both sides alike: the ratio of the round does not show it."""
    noise = [1 + number % 7 for number in range(35)]
    ratio, *_ = compared(name="page", product=[2.0 * one for one in noise], baseline=noise, aim=1.5)
    assert (ratio.low, ratio.value, ratio.high) == (2, 2, 2)


@pytest.mark.parametrize(
    ("low", "high", "aim", "ok"),
    [
        (1.6, 1.9, 1.5, False),
        (1.5, 1.9, 1.5, True),
        (1.4, 1.9, 1.5, True),
        (0.9, 1.1, 1.5, True),
        (9, 9, None, True),
    ],
)
def test_only_a_whole_interval_above_the_aim_is_not_ok(low, high, aim, ok):
    figure = Figure(name="page", value=high, low=low, high=high, unit="ratio", aim=aim)
    assert figure.ok is ok


def test_a_figure_as_json_has_the_seven_names():
    assert exact(name="growth", value=1.25, unit="ratio", aim=1).as_json() == {
        "name": "growth", "value": 1.25, "low": 1.25, "high": 1.25, "unit": "ratio", "aim": 1,
        "ok": False,
    }  # fmt: skip


def test_product_and_baseline_take_turns_and_the_warm_up_is_not_counted(monkeypatch):
    clock, turns = iter(range(10**6)), []
    monkeypatch.setattr(measuring, "perf_counter", lambda: next(clock))
    mine, bare = paired(
        product=lambda: lambda: turns.append("product"),
        baseline=lambda: lambda: turns.append("baseline"),
        rounds=4,
    )
    assert turns == ["product", "baseline"] * (measuring.WARM_UP + 4)
    assert (mine, bare) == ([1000] * 4, [1000] * 4)


@pytest.mark.django_db
def test_statements_and_fetched_rows_are_counted():
    with counted() as counts, connection.cursor() as cursor:
        cursor.execute("SELECT 1 UNION ALL SELECT 2 UNION ALL SELECT 3")
        assert cursor.fetchmany(2) == [(1,), (2,)]
        assert cursor.fetchone() == (3,)
        assert cursor.fetchone() is None
        cursor.execute("SELECT 7")
        cursor.fetchall()
    assert (counts.statements, counts.rows) == (2, 4)


@pytest.mark.django_db
@pytest.mark.parametrize("share", range(55, 95))
def test_every_visit_of_the_bench_has_twelve_readings(share):
    entries = entries_of(knee=Limb.RIGHT, share=share)
    assert len({(entry.measure, entry.limb) for entry in entries}) == READINGS == 12


@given(st.lists(st.sampled_from([None, 0, 1, 2, 3, 4]), min_size=42, max_size=42))
def test_the_plain_loop_scores_a_sheet_as_the_core_does(marks):
    sheet = {
        item.code: None if mark is None else Decimal(mark)
        for item, mark in zip(KOOS.items, marks, strict=True)
    }
    scales = {form.code: (form.items, form.needed) for form in KOOS.scores}
    plain = arithmetic.plain_scores(sheet, frozenset(sheet), scales)
    assert plain == {
        code: found.value for code, found in score(instrument=KOOS, answers=sheet).items()
    }


@given(st.decimals(1, 300, places=1), st.decimals(1, 300, places=1))
def test_the_plain_loop_compares_limbs_as_the_core_does(left, right):
    hop = CATALOGUE["single_hop"]
    pair = newest(hop, both("single_hop", left, right, after(weeks=30)))
    found = arithmetic.compare_pair(hop, pair)
    assert isinstance(found, Symmetry)
    assert arithmetic.plain_symmetry(pair, hop.cap) == found.value
