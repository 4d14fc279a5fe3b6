"""A round of the line-reading warm-up on a tablet: twenty figures by touch, then the truth."""

import re

import pytest
from playwright.sync_api import Page, expect

from outcomes.models.agreement import LineGrades, LineRound
from outcomes.queries.line_rounds import figures_in
from tests.cast import Cast
from tests.factories.agreement import finished_round
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
