"""The ledger drawing and the spread of a caseload."""

import json
from dataclasses import replace
from decimal import Decimal

import plotly.graph_objects
import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.charts.beam import Beam
from outcomes.charts.caseload import Caseload, CaseloadPoint, caseload_table, draw_caseload
from outcomes.charts.ledger import Ledger, LedgerRow, draw_ledger
from outcomes.charts.plotly import caseload_figure
from outcomes.charts.tokens import COLOUR
from outcomes.charts.trend_data import ThresholdLine
from tests.outcomes.charts.reading import assert_rules, boxes, find, texts

BEAM = Beam(left_mark="other", right_mark="involved", lsi=Decimal("76.6"), title="LSI 77 %")
LEDGER = Ledger(
    title="The right side lags in quadriceps torque",
    left_head="Left, other side", right_head="Right, operated",
    left_mark="other", right_mark="involved",
    rows=(
        LedgerRow(name="Knee extension, °", left="straight", right="lacks 1°",
                  symmetry="difference 1°"),
        LedgerRow(name="Quadriceps torque, N·m", detail="90°, sitting", left="158", right="121",
                  right_detail="5 Nov: 109", symmetry="LSI 77 %, borderline", beam=BEAM),
    ),
)  # fmt: skip


@pytest.mark.parametrize("dense", [False, True])
def test_a_ledger_keeps_the_rules(dense: bool) -> None:
    svg = draw_ledger(ledger=replace(LEDGER, dense=dense))
    assert_rules(svg, "The right side lags in quadriceps torque")
    assert len(find(svg, "line", stroke_width="2.5")) == 1


@pytest.mark.parametrize("dense", [False, True])
def test_left_stays_left(dense: bool) -> None:
    where = {box.text: box for box in boxes(draw_ledger(ledger=replace(LEDGER, dense=dense)))}
    assert where["158"].right < where["121"].left
    assert where["straight"].right < where["lacks 1°"].left


def test_the_tinted_page_is_the_involved_one_whichever_side_it_is() -> None:
    svg = draw_ledger(ledger=LEDGER)
    (tinted,) = find(svg, "rect", fill=COLOUR["involved-page"])
    assert tinted.get("x") == "480"
    swapped = replace(LEDGER, left_mark="involved", right_mark="other", rows=())
    (tinted,) = find(draw_ledger(ledger=swapped), "rect", fill=COLOUR["involved-page"])
    assert tinted.get("x") == "0"


WORDS = st.text(alphabet="abcdefg Wm,%°", max_size=70)


@given(
    st.lists(
        st.builds(
            LedgerRow, name=WORDS, left=WORDS, right=WORDS, detail=WORDS, left_detail=WORDS,
            right_detail=WORDS, symmetry=WORDS, beam=st.sampled_from([None, BEAM]),
        ),
        max_size=4,
    ),
    st.booleans(),
)  # fmt: skip
def test_no_words_collide_or_leave_whatever_stands_there(
    rows: list[LedgerRow], dense: bool
) -> None:
    ledger = replace(LEDGER, rows=tuple(rows), dense=dense)
    assert_rules(draw_ledger(ledger=ledger), LEDGER.title)


CASELOAD = Caseload(
    title="Quadriceps symmetry of 3 of 5 episodes; 1 reaches 90 %",
    value_axis="quadriceps symmetry (LSI), %",
    points=(
        CaseloadPoint(week=7, value=Decimal("52.4"), shown="52 %", label="O. V.", needs_look=True),
        CaseloadPoint(week=15, value=Decimal("76.6"), shown="77 %", label="I. M."),
        CaseloadPoint(week=52, value=Decimal("95"), shown="95 %", label="<N. C.>"),
    ),
    thresholds=(ThresholdLine(value=Decimal(90), label="competition asks 90 %, our example"),),
)


def test_a_caseload_keeps_the_rules_and_draws_no_names() -> None:
    svg = draw_caseload(caseload=CASELOAD)
    assert_rules(svg, CASELOAD.title)
    assert [text for text in texts(svg) if text in ("O. V.", "I. M.", "<N. C.>")] == []


def test_a_dot_for_each_episode_filled_where_it_needs_a_look() -> None:
    svg = draw_caseload(caseload=CASELOAD)
    dots = find(svg, "circle")
    drawn = sorted((float(d.get("cx", "")), -float(d.get("cy", "")), d.get("fill")) for d in dots)
    assert [fill for _, _, fill in drawn] == [COLOUR["ink"], COLOUR["page"], COLOUR["page"]]
    assert [y for _, y, _ in drawn] == sorted(y for _, y, _ in drawn)


def test_an_empty_caseload_still_draws_its_axes() -> None:
    empty = Caseload(title="No episode was tested: 0 of 5", points=(), value_axis="%")
    assert_rules(draw_caseload(caseload=empty), "No episode was tested: 0 of 5")


def test_the_caseload_table_and_figure_hold_the_points() -> None:
    assert caseload_table(caseload=CASELOAD).rows == (
        ("O. V.", "7", "52 %", "yes"),
        ("I. M.", "15", "77 %", "no"),
        ("<N. C.>", "52", "95 %", "no"),
    )
    figure = caseload_figure(caseload=CASELOAD)
    assert json.loads(json.dumps(figure, allow_nan=False)) == figure
    usual, look = figure["data"]
    assert (usual["x"], usual["y"]) == ([15, 52], [76.6, 95.0])
    assert (look["x"], look["text"]) == ([7], ["O. V.: 52 %"])
    assert usual["text"][1] == "&lt;N. C.>: 95 %"
    plotly.graph_objects.Figure(figure)
