"""Drawings in templates: the SVG as it was drawn, the table beside it, words never as markup."""

from decimal import Decimal

import pytest
from django.template import engines

from outcomes.charts.beam import Beam
from outcomes.charts.trend_data import Trend, TrendPoint, TrendSeries
from outcomes.core.values import Result

BEAM = Beam(left_mark="other", right_mark="involved", lsi=Decimal(78), title="LSI <78 %>")


def rendered(source: str, **context: object) -> str:
    return engines["django"].from_string("{% load charts %}" + source).render(context)


@pytest.mark.parametrize(
    ("source", "title"),
    [
        ("{% beam beam %}", "LSI &lt;78 %&gt;"),
        ('{% threshold_mark result "not met" %}', "not met"),
        ('{% limb_mark "involved" "operated" %}', "operated"),
    ],
)
def test_a_mark_beside_its_words_is_not_read_twice(source: str, title: str) -> None:
    drawn = rendered(source, beam=BEAM, result=Result.NOT_MET)
    assert drawn.startswith("<svg ")
    assert f"<title>{title}</title>" in drawn
    assert 'aria-hidden="true"' in drawn
    assert "role=" not in drawn


def test_no_beam_where_symmetry_is_not_assessable() -> None:
    assert rendered("{% beam beam %}", beam=None) == ""


def test_a_chart_is_title_drawing_and_table() -> None:
    point = TrendPoint(at=15, when="week <15>", value=Decimal(77), shown="77 %")
    trend = Trend(title="One test <only>", symmetry=TrendSeries(name="LSI", points=(point,)))
    shown = rendered('{% trend_chart trend figure_url="/figures/1" %}', trend=trend)
    assert "<figcaption>One test &lt;only&gt;</figcaption>" in shown
    assert '<svg xmlns="http://www.w3.org/2000/svg"' in shown
    assert '<th scope="row">week &lt;15&gt;</th><td>77 %</td>' in shown
    assert 'data-figure-url="/figures/1"' in shown
    assert "data-figure-url" not in rendered("{% trend_chart trend %}", trend=trend)
