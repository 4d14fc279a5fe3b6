"""Grading on a tablet: twenty drawn figures by touch, and a colleague's test without its grade."""

import re

import pytest
from playwright.sync_api import Page, expect

from outcomes.models.agreement import LineGrades, LineRound
from outcomes.queries.line_rounds import figures_in
from tests.cast import TODAY, Cast
from tests.factories.agreement import finished_round
from tests.factories.outcomes import both_limbs, signed_visit
from tests.journeys.browser import let_in, untidy

pytestmark = pytest.mark.journey


def test_a_round_is_graded_by_touch_and_its_kappa_opens(tablet: Page, cast: Cast) -> None:
    finished_round(staff=cast.colleague)
    let_in(tablet, cast.clinician)
    tablet.goto("/line-reading/")
    with tablet.expect_navigation():
        tablet.get_by_role("button", name="Begin a round").tap()
    row = LineRound.objects.select_related("figure_set").get(staff=cast.clinician)
    made = figures_in(row=row.figure_set)
    for number, at in enumerate(row.order, start=1):
        figure = tablet.get_by_role("group", name=f"Figure {number}", exact=True)
        figure.get_by_label("level" if number == 1 else made[at].grade, exact=True).tap()
    assert untidy(tablet) == []
    with tablet.expect_navigation():
        tablet.get_by_role("button", name="Finish and see what was drawn").tap()
    alike = sum(
        word == one.grade
        for word, one in zip(LineGrades.objects.latest("pk").grades, made, strict=True)
    )
    assert alike == 20 - (made[row.order[0]].grade != "level")
    expect(tablet.get_by_text(f"{alike} of 20")).to_be_visible()
    tablet.locator("summary").filter(has_text=re.compile("^(0|1)\\.")).tap()
    expect(tablet.get_by_text("linear weights: found")).to_be_visible()
    assert untidy(tablet) == []
    tablet.get_by_role("link", name="Agreement of grades").tap()
    pair = tablet.get_by_role("row").filter(has_text="Bram Solis and Tess Okafor")
    expect(pair).to_contain_text(f"{alike} of 20")
    assert untidy(tablet) == []


def test_a_colleagues_test_is_graded_without_its_grade(tablet: Page, cast: Cast) -> None:
    visit = signed_visit(patient=cast.ines, site=cast.harbour, by=cast.colleague, on=TODAY)
    both_limbs(visit=visit, measure="pelvic_drop_lateral_heel_touch", left=0, right=3)
    let_in(tablet, cast.clinician)
    tablet.goto("/agreement/")
    tablet.get_by_role("link", name="Ines Marlow").tap()
    right = tablet.get_by_role("group", name=re.compile("standing on the right"))
    right.get_by_label("moderate").tap()
    tablet.get_by_role("group", name=re.compile("the first grade")).get_by_label("no").tap()
    expect(tablet.get_by_text("Bram Solis")).to_have_count(0)
    assert untidy(tablet) == []
    with tablet.expect_navigation():
        tablet.get_by_role("button", name="Keep my grades").tap()
    expect(tablet.get_by_role("row").filter(has_text="moderate")).to_contain_text("Bram Solis")
    assert untidy(tablet) == []
