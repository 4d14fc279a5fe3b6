"""The surgeon's limits on a tablet: asked for, held until confirmed, changed, set aside."""

import re

import pytest
from playwright.sync_api import Page, expect

from clinic.models.care import Restriction
from tests.cast import Cast
from tests.journeys.browser import Watcher, let_in, untidy
from tests.outcomes.story import week_15

pytestmark = pytest.mark.journey


def tap(page: Page, name: str) -> None:
    """Touch a button and wait for the page it leads to."""
    with page.expect_navigation():
        page.get_by_role("button", name=re.compile(f"^{name}")).tap()


def answer(tablet: Page) -> None:
    """Change one usual limit, untick another, put a day right, and confirm the rest."""
    bend = tablet.get_by_role("group", name="loaded knee bend")
    expect(bend.get_by_label("Last day")).to_have_value("2026-12-02")
    bend.get_by_label("The limit in words").fill("none past 70°")
    bend.get_by_label("Last day").fill("2026-08-01")
    brace = tablet.get_by_role("group", name="brace")
    brace.get_by_role("checkbox").uncheck()
    expect(brace.get_by_label("Last day")).to_be_hidden()
    tablet.get_by_label("the limits ticked below hold").check()
    tablet.get_by_label("Told by, and how").fill("Mr Pryce, letter")
    tablet.get_by_label("Told on").fill("2026-08-20")
    assert untidy(tablet) == []
    tap(tablet, "Confirm")
    expect(bend.get_by_text("The last day lies before the first.")).to_be_visible()
    expect(bend.get_by_label("The limit in words")).to_have_value("none past 70°")
    bend.get_by_label("Last day").fill("2026-12-02")
    tap(tablet, "Confirm")


def test_limits_are_confirmed_and_one_is_set_aside(
    tablet: Page, cast: Cast, watcher: Watcher
) -> None:
    watcher.expect("status of 422")
    cast.surgery.procedures = ["meniscal_root_repair"]
    cast.surgery.save()
    week_15(cast)
    let_in(tablet, cast.clinician)
    home = f"/patients/{cast.ines.uid}/"
    tablet.goto(home)
    held = re.compile(
        r"Surgeon.s limits not confirmed \(meniscal root repair\): ask before loading"
    )
    expect(tablet.get_by_role("article").first).to_contain_text(held)
    tablet.get_by_role("link", name="Record the answer").tap()
    answer(tablet)
    expect(tablet.get_by_text("Nothing is waiting")).to_be_visible()

    tablet.goto(home)
    expect(tablet.get_by_text(held)).to_have_count(0)
    expect(tablet.get_by_text("until 2 Dec: loaded knee bend, none past 70°")).to_contain_text(
        "Ends within a week: ask what follows."
    )
    tablet.goto(f"/episodes/{cast.episode.uid}/limits")
    tablet.get_by_role("link", name=re.compile("^Set aside, with a reason.*impact")).tap()
    tablet.get_by_label("Why it is set aside").fill("Agreed on the phone")
    assert untidy(tablet) == []
    tap(tablet, "Set aside")
    said = "set aside on 25 Nov 2026 by Tess Okafor: Agreed on the phone"
    for page in ("", home):
        if page:
            tablet.goto(page)
        expect(tablet.get_by_text(said)).to_be_visible()
    assert list(Restriction.objects.order_by("pk").values_list("kind", "origin")) == [
        ("weight_bearing", "template"), ("range", "template"), ("loaded_flexion", "surgeon"),
        ("hamstring_load", "template"), ("impact", "template"), ("set_aside", "clinician"),
    ]  # fmt: skip
