"""A pelvic drop as drawings on a screen: its grade, when it drops and how it was kept level."""

import pytest
from playwright.sync_api import Page, expect

from clinic.models.care import Visit
from outcomes.models.record import VisitDraft
from tests.cast import MOMENT, Cast
from tests.journeys.browser import untidy
from tests.journeys.ledger import Ledger, expected_today, open_ledger, record

pytestmark = pytest.mark.journey
DROP = "Pelvic drop, lateral"
WORDS = ["level", "slight", "moderate", "marked"]
# Of each drawing that is seen: its column, its word, where on the screen the lower end of the
# pelvis line lies ("even" where neither does), and where the standing leg is.
SEEN = """() => [...document.querySelectorAll(
    '#row-pelvic_drop_lateral_heel_touch .values .drawn svg')]
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
# Of each drawing of how it was kept level: its column, what it stands for, where the standing leg
# is, and the two ends of its bold line.
KEPT = """() => [...document.querySelectorAll(
    '#row-pelvic_drop_lateral_heel_touch [id$="-kept_level_by"] svg')]
  .filter((svg) => svg.checkVisibility({visibilityProperty: true}))
  .map((svg) => {
    const side = (line, end) => {
      const x = line[`x${end}`].baseVal.value - svg.viewBox.baseVal.width / 2;
      return x > 1 ? 'right' : x < -1 ? 'left' : 'even';
    };
    const leg = svg.querySelector('line[stroke-width="2.5"][y2="69"]');
    const bold = svg.querySelector('line[stroke-width="5"]');
    return [svg.closest('.cell').classList[0], svg.closest('label').control.value,
      side(leg, 1), side(bold, 1), side(bold, 2)];
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


def kept(*, from_behind: bool) -> list[list[str]]:
    """The trunk leans over the standing leg; a hand and a hitch are on the free side."""
    rows = []
    for column in ("left", "right"):
        leg = column if from_behind else MIRROR[column]
        rows += [
            [column, "upright", leg, "even", "even"],
            [column, "trunk_leans", leg, leg, "even"],
            [column, "hand_used", leg, "even", MIRROR[leg]],
            [column, "free_side_hitched", leg, leg, MIRROR[leg]],
        ]
    return sorted(rows)


def details(visit: Visit) -> dict[str, str]:
    """What was chosen beside the grade of the right leg."""
    about = "d:pelvic_drop_lateral_heel_touch:right:"
    fields = VisitDraft.objects.get(visit=visit).fields
    return {name.removeprefix(about): one["text"] for name, one in fields.items() if about in name}


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
    assert sorted(tablet.evaluate(KEPT)) == kept(from_behind=False)
    ledger.choose("when it drops, right", "from the first movement")
    ledger.choice("how it was kept level, right", "upright").get_by_role("radio").focus()
    tablet.keyboard.press("Space")
    tablet.keyboard.press("ArrowRight")
    ledger.chosen("how it was kept level, right", "trunk leans over the standing leg")
    expect(ledger.says(DROP)).to_contain_text(
        "Standing on the right, the left side of the pelvis drops"
    )
    assert untidy(tablet) == []
    turn(ledger, "behind")
    assert seen(tablet) == expected(from_behind=True)
    assert sorted(tablet.evaluate(KEPT)) == kept(from_behind=True)
    ledger.chosen(f"{DROP}, right", "moderate")
    assert details(visit) == {"when": "first_movement", "kept_level_by": "trunk_leans"}


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
