"""The grades of a pelvic drop as drawings on a screen: the right side drops, in both views."""

import pytest
from playwright.sync_api import Page, expect

from outcomes.models.record import VisitDraft
from tests.cast import MOMENT, Cast
from tests.journeys.browser import untidy
from tests.journeys.ledger import Ledger, expected_today, open_ledger, record

pytestmark = pytest.mark.journey
DROP = "Pelvic drop, lateral"
WORDS = ["level", "slight", "moderate", "marked"]
# Of each drawing that is seen: its column, its word, where on the screen the lower end of the
# pelvis line lies ("even" where neither does), and where the standing leg is.
SEEN = """() => [...document.querySelectorAll('#row-pelvic_drop_lateral_heel_touch .drawn svg')]
  .filter((svg) => svg.checkVisibility())
  .map((svg) => {
    const at = (line, end) =>
      new DOMPoint(line[`x${end}`].baseVal.value, line[`y${end}`].baseVal.value)
        .matrixTransform(line.getScreenCTM());
    const pelvis = svg.querySelector('line[stroke-width="5"]');
    const leg = svg.querySelector('line[stroke-width="2.5"]');
    const [one, two] = [at(pelvis, 1), at(pelvis, 2)].sort((a, b) => a.x - b.x);
    const middle = (one.x + two.x) / 2;
    const lower = Math.abs(one.y - two.y) < 0.1 ? 'even' : one.y > two.y ? 'left' : 'right';
    return [
      svg.closest('.cell').classList[0],
      svg.closest('label').innerText.trim(),
      lower,
      at(leg, 1).x < middle ? 'left' : 'right',
    ];
  })"""
COLUMNS = """() => [...document.querySelectorAll('#row-pelvic_drop_lateral_heel_touch > .cell')]
  .map((cell) => [cell.classList[0], cell.getBoundingClientRect().x])"""
MIRROR = {"left": "right", "right": "left", "even": "even"}


def seen(page: Page) -> list[list[str]]:
    found: list[list[str]] = page.evaluate(SEEN)
    return sorted(found)


def expected(*, from_behind: bool) -> list[list[str]]:
    """From behind the patient's left is on the viewer's left, and the free side is the lower."""
    rows = [
        [standing, word, "even" if word == "level" else MIRROR[standing], standing]
        for standing in ("left", "right")
        for word in WORDS
    ]
    if not from_behind:
        rows = [[column, word, MIRROR[low], MIRROR[leg]] for column, word, low, leg in rows]
    return sorted(rows)


def turn(ledger: Ledger, view: str, row: str = DROP) -> None:
    ledger.touch(ledger.row(row).get_by_role("radio", name=view, exact=True))


def test_the_free_side_drops_and_only_the_drawings_turn(tablet: Page, cast: Cast) -> None:
    record(cast)
    visit = expected_today(cast, state="open", opened_at=MOMENT)
    ledger = open_ledger(tablet, cast, visit)
    other = ledger.row("Pelvic drop, forward").get_by_role("radio", name="in front", exact=True)
    assert seen(tablet) == expected(from_behind=True)
    columns = tablet.evaluate(COLUMNS)
    turn(ledger, "in front")
    assert seen(tablet) == expected(from_behind=False)
    expect(other).to_be_checked()
    assert tablet.evaluate(COLUMNS) == columns == [["left", 0], ["right", columns[1][1]]]
    assert columns[1][1] > 0
    tablet.emulate_media(media="print")
    assert seen(tablet) == expected(from_behind=False)
    tablet.emulate_media(media="screen")
    tablet.reload()
    assert seen(tablet) == expected(from_behind=False)
    assert VisitDraft.objects.filter(visit=visit).count() == 0

    for standing, word in (("left", "level"), ("right", "moderate")):
        ledger.choose(f"{DROP}, {standing}", word)
    drop = ledger.row(DROP)
    drop.get_by_label("when it drops, right").select_option("on the way down")
    drop.get_by_label("how it was kept level, right").select_option(
        "trunk leans over the standing leg"
    )
    expect(ledger.says(DROP)).to_contain_text(
        "Standing on the right, the left side of the pelvis drops"
    )
    assert untidy(tablet) == []
    turn(ledger, "behind")
    assert seen(tablet) == expected(from_behind=True)
    ledger.chosen(f"{DROP}, right", "moderate")


def test_without_script_each_row_turns_its_own_drawings(without_script: Page, cast: Cast) -> None:
    record(cast)
    ledger = open_ledger(without_script, cast, expected_today(cast, state="open", opened_at=MOMENT))
    drawings = ledger.row(DROP).locator(".drawn svg")
    behind = drawings.nth(0)
    expect(behind).to_be_visible()
    turn(ledger, "in front")
    expect(behind).to_be_hidden()
    expect(drawings.nth(1)).to_be_visible()
    assert without_script.locator(".drawn svg:visible").count() == 16
