"""Percentiles that a clinic enters: what they are put into, and what is refused as one."""

from dataclasses import replace
from decimal import Decimal

import pytest

from outcomes.catalogue.fields import SeedError
from outcomes.core.norms import with_norms
from outcomes.core.values import Band, Form
from outcomes.protocols.norms import AGES, norm_from
from outcomes.protocols.seeds import load_batteries
from tests.core.builders import CATALOGUE

BAND = {"value": "80.5", "sex": "female", "from_age": 18, "below_age": 25}
ENTERED = {
    "code": "own_ikdc_total_p15", "version": 2, "score": "ikdc.total", "percentile": "15",
    "entered_on": "25 Nov 2026", "source": "a table of our own", "bands": [BAND],
}  # fmt: skip


def test_what_was_entered_goes_into_that_percentile_and_into_nothing_else():
    norm = norm_from(ENTERED)
    assert norm.bands == (Band(value=Decimal("80.5"), sex="female", from_age=18, below_age=25),)
    for before in load_batteries(CATALOGUE).values():
        after = with_norms(protocol=before, norms=[norm])
        pairs = zip(before.milestones[0].criteria, after.milestones[0].criteria, strict=True)
        for was, now in pairs:
            filled = replace(was, bands=norm.bands, sources=(*was.sources, norm.source))
            assert now == (filled if was.form is Form.PERCENTILE else was)
        assert with_norms(protocol=after, norms=[replace(norm, bands=())]) == after
        for other in (replace(norm, percentile=Decimal(20)), replace(norm, score="koos.pain")):
            assert with_norms(protocol=before, norms=[other]) == before


def test_the_ages_leave_no_year_out_and_none_twice():
    assert [age for lowest, below in AGES for age in range(lowest, below)] == list(range(18, 66))


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"score": "ikdc.all"}, "score: 'ikdc.all' is no score of a questionnaire"),
        ({"bands": []}, "bands: is missing"),
        ({"bands": [{**BAND, "value": "100.5"}]}, "bands: a value is outside 0 to 100"),
        ({"bands": [{**BAND, "sex": ""}]}, "bands: is by sex and age"),
        ({"bands": [{**BAND, "graft": "hamstring"}]}, "bands: is by sex and age"),
        ({"source": " "}, "source: is empty"),
        ({"mean": "86"}, "mean: is not known"),
    ],
)
def test_what_is_no_percentile_is_refused_by_its_key(changes, said):
    with pytest.raises(SeedError, match=said):
        norm_from({**ENTERED, **changes})
