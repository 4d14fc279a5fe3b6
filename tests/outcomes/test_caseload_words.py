"""Numbers in caseload rows: never rounded over a threshold, ages in words."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.core.quantities import shown
from outcomes.core.values import Operator
from outcomes.queries.caseload_chart import sources, symmetry_cuts, thresholds
from outcomes.queries.caseload_words import age, percent, symmetry
from outcomes.queries.catalogue import in_force

LSI = st.decimals(min_value=0, max_value=200, places=4, allow_nan=False)
CUTS = st.sets(st.sampled_from([Decimal(n) for n in (70, 75, 80, 85, 90, 95)]))


@given(lsi=LSI, cuts=CUTS)
def test_the_number_shown_is_on_the_side_of_every_threshold_that_the_value_is_on(lsi, cuts):
    said = Decimal(percent(lsi, cuts=cuts))
    assert [said >= cut for cut in cuts] == [lsi >= cut for cut in cuts]
    assert abs(said - lsi) < 1


@given(lsi=LSI, cuts=CUTS)
def test_it_is_the_number_that_the_rest_of_the_house_shows(lsi, cuts):
    """core.quantities.shown with the threshold that is nearest says the same."""
    near = min(cuts, key=lambda cut: abs(cut - lsi), default=None)
    assert percent(lsi, cuts=cuts) == shown(
        value=lsi, decimals=0, threshold=near, operator=Operator.AT_LEAST
    )


@pytest.mark.parametrize(
    ("days", "words"),
    [(0, "today"), (1, "1 day ago"), (13, "13 days ago"), (14, "2 weeks ago"), (63, "9 weeks ago")],
)
def test_ages(days, words):
    assert age(then=date(2026, 11, 25) - timedelta(days=days), on=date(2026, 11, 25)) == words


@pytest.mark.parametrize(("left", "words"), [(0, "today"), (-1, "today, out of date")])
def test_a_value_counts_through_its_last_day(left, words):
    on = date(2026, 11, 25)
    said = symmetry(lsi=Decimal(77), tested_on=on, until=on + timedelta(days=left), why="", on=on)
    assert (said.value, said.note) == ("77 %", words)


@pytest.mark.django_db
def test_the_thresholds_are_those_of_the_protocol_with_their_sources():
    protocols = in_force().followed
    assert symmetry_cuts(protocols) == {Decimal(n) for n in (70, 80, 90)}
    lines = thresholds(of="quadriceps", protocols=protocols)
    assert [line.value for line in lines] == [Decimal(n) for n in (70, 80, 90)]
    assert lines[0].label == "running asks 70 %"
    said = sources(of="quadriceps", protocols=protocols)
    assert said[0].startswith("Running asks 70 %: ")
    assert [": " in one for one in said] == [True] * 3
