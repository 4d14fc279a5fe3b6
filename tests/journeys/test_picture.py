"""Angle from a picture on a tablet: choose, touch, nudge, read, use; keep what is agreed."""

import re
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Page, expect

from outcomes.core.kinds import Limb, View
from outcomes.models.pictures import Picture
from outcomes.models.record import Reading
from tests.cast import Cast
from tests.journeys.browser import let_in, press, untidy
from tests.journeys.ledger import Ledger
from tests.outcomes.drawn import SIZE, Spot, figure, still
from tests.outcomes.paper import open_visit

pytestmark = pytest.mark.journey
RIGHT = figure(drop=7.5, tilt=5, view=View.FRONT, limb=Limb.RIGHT)


class Board:
    """The picture on the page: touched where a point of the drawing lies."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.photo = page.get_by_role("img", name="The picture that was chosen")

    def choose(self, file: Path) -> None:
        """Choose a file from the gallery."""
        self.page.get_by_label("Or choose one from the gallery").set_input_files(file)
        expect(self.photo).to_be_visible()

    def at(self, spot: Spot) -> tuple[float, float]:
        """Where a pixel of the drawing lies on the shown picture."""
        box = self.photo.bounding_box()
        assert box is not None
        return spot[0] * box["width"] / SIZE[0], spot[1] * box["height"] / SIZE[1]

    def touch(self, spot: Spot) -> None:
        """Touch the picture there."""
        x, y = self.at(spot)
        self.photo.tap(position={"x": x, "y": y}, force=True)

    def point(self, name: str) -> tuple[float, float]:
        """Where a point was marked, in pixels of the picture."""
        x, y = self.page.locator(f"input[name={name}]").input_value().split(",")
        return float(x), float(y)


def degrees(page: Page) -> float:
    """The angle that is shown."""
    return float(page.locator(".degrees").inner_text().partition("°")[0])


def mark_the_pelvis(page: Page, board: Board) -> None:
    """Both points, without and with the level line that takes the tilt of the camera off."""
    page.get_by_text("from in front", exact=True).tap()
    board.touch(RIGHT["stance"])
    board.touch(RIGHT["swing"])
    assert board.point("swing") == pytest.approx(RIGHT["swing"], abs=2)
    said = page.locator("#angle")
    expect(said).to_contain_text("No level line: the camera is taken to be level")
    assert degrees(page) > 10
    page.get_by_text("Camera tilted? Mark a level line").tap()
    page.get_by_label("level line, one end").check(force=True)
    board.touch(RIGHT["level_a"])
    board.touch(RIGHT["level_b"])
    expect(said).to_contain_text("The level line takes the tilt of the camera off")
    assert degrees(page) == pytest.approx(7.5, abs=0.8)


def nudge_and_undo(page: Page, board: Board) -> None:
    """A point by the arrow keys, and back again."""
    page.get_by_role("button", name="pelvis, left: free side").focus()
    before = board.point("swing")
    for key in ("ArrowDown", "Shift+ArrowUp", "ArrowLeft"):
        page.keyboard.press(key)
    assert board.point("swing") == (before[0] - 1, before[1] - 9)
    for _ in range(3):
        page.get_by_role("button", name="Undo").tap()
    assert board.point("swing") == before


def test_a_drawn_picture_is_marked_nudged_read_and_used(
    tablet: Page, cast: Cast, tmp_path: Path
) -> None:
    cast.harbour.pictures = True
    cast.harbour.save()
    visit = open_visit(cast)
    (tmp_path / "drawn.png").write_bytes(still(RIGHT))
    sent: list[str] = []
    tablet.on("request", lambda one: sent.append(one.post_data or ""))
    let_in(tablet, cast.clinician)
    tablet.goto(f"/visits/{visit.uid}/")
    tablet.get_by_role("link", name=re.compile("^Angle from a picture.*lateral, right$")).tap()
    tablet.wait_for_url("**/picture/**")
    assert untidy(tablet) == []
    board = Board(tablet)
    board.choose(tmp_path / "drawn.png")
    box = board.photo.bounding_box()
    assert box is not None
    assert box["width"] / box["height"] == pytest.approx(SIZE[0] / SIZE[1], rel=0.01)
    mark_the_pelvis(tablet, board)
    nudge_and_undo(tablet, board)
    said = tablet.locator("#angle")
    expect(said).to_contain_text("Proposed grade: moderate. You decide.")
    expect(said).to_contain_text("Standing on the right, the left side of the pelvis drops.")
    assert untidy(tablet) == []
    press(tablet, "Use this in the draft: moderate")
    tablet.wait_for_url(f"**/visits/{visit.uid}/*")
    Ledger(tablet).chosen("Pelvic drop, lateral, right", "moderate")
    assert Reading.objects.count() == 0
    assert [body for body in sent if "PNG" in body or "JFIF" in body] == []
    assert sum("stance=" in body for body in sent) >= 4


def drag(page: Page, name: str, by: float) -> None:
    """Drag a point sideways by so many pixels of the screen; the loupe shows while it moves."""
    box = page.get_by_role("button", name=name).bounding_box()
    assert box is not None
    x, y = box["x"] + 30, box["y"] + 20
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + by, y, steps=4)
    expect(page.locator("[data-loupe]")).to_be_visible()
    page.mouse.up()
    expect(page.locator("[data-loupe]")).to_be_hidden()


def test_by_keyboard_alone_and_on_a_turned_photo(desktop: Page, cast: Cast, tmp_path: Path) -> None:
    """A camera that was held sideways: the particulars turn the picture, the points follow."""
    cast.harbour.pictures = True
    cast.harbour.save()
    visit = open_visit(cast)
    sideways, exif = Image.open(BytesIO(still(RIGHT))).rotate(90, expand=True), Image.Exif()
    exif[0x0112] = 6
    sideways.save(tmp_path / "turned.jpg", exif=exif)
    (tmp_path / "page.svg").write_text("<svg xmlns='http://www.w3.org/2000/svg'/>")
    let_in(desktop, cast.clinician)
    desktop.goto(f"/visits/{visit.uid}/picture/pelvic_drop_lateral_heel_touch/left")
    desktop.get_by_label("Take a picture").set_input_files(tmp_path / "page.svg")
    expect(
        desktop.get_by_text("This file is not a picture that the browser can read.")
    ).to_be_visible()
    board = Board(desktop)
    board.choose(tmp_path / "turned.jpg")
    assert board.photo.evaluate("(one) => [one.width, one.height]") == [*SIZE]
    middle = desktop.get_by_role("button", name="Put it in the middle")
    middle.press("Enter")
    standing = desktop.get_by_role("button", name="pelvis, left: standing side")
    expect(standing).to_be_focused()
    for _ in range(3):
        desktop.keyboard.press("Shift+ArrowLeft")
    middle.press("Enter")
    for key in (*["Shift+ArrowRight"] * 3, *["ArrowDown"] * 6):
        desktop.keyboard.press(key)
    expect(desktop.locator("#angle")).to_contain_text("5.7° lower on the right")
    shown = board.photo.evaluate("(one) => one.clientWidth")
    before = board.point("swing")
    drag(desktop, "pelvis, right: free side", 20)
    moved = board.point("swing")
    assert moved == pytest.approx((before[0] + 20 * SIZE[0] / shown, before[1]), abs=0.2)
    desktop.get_by_text("from in front", exact=True).click()
    expect(desktop.locator("#angle")).to_contain_text("Swap the two pelvis points")
    sideways.save(tmp_path / "again.jpg", exif=exif)
    board.choose(tmp_path / "again.jpg")
    expect(desktop.get_by_text("Mark both points of the pelvis.")).to_be_visible()


def test_a_picture_is_kept_by_its_own_button_once_agreed(
    tablet: Page, cast: Cast, tmp_path: Path
) -> None:
    cast.harbour.pictures = cast.harbour.keep_pictures = True
    cast.harbour.save()
    visit = open_visit(cast)
    drawn = tmp_path / "drawn.png"
    drawn.write_bytes(still(RIGHT))
    let_in(tablet, cast.clinician)
    page = f"/visits/{visit.uid}/picture/pelvic_drop_lateral_heel_touch/right"
    tablet.goto(page)
    tablet.get_by_role("link", name="Kept pictures and agreement").tap()
    press(tablet, "Record: agreed to keep pictures")
    assert untidy(tablet) == []
    tablet.goto(page)
    Board(tablet).choose(drawn)
    tablet.get_by_role("button", name="Keep this picture in the record").tap()
    expect(tablet.get_by_text("1 is kept of this visit.")).to_be_visible()
    assert untidy(tablet) == []
    tablet.get_by_role("link", name="Kept pictures and agreement").tap()
    expect(tablet.get_by_role("link", name="Standing on the right, from behind")).to_be_visible()
    assert untidy(tablet) == []
    kept = Picture.objects.get()
    assert ((kept.width, kept.height), kept.view) == (SIZE, "back")
    tablet.get_by_text("Erase this picture").tap()
    tablet.get_by_label("Why it is erased").fill("somebody else is in it")
    assert untidy(tablet) == []
    press(tablet, "Erase the picture")
    expect(tablet.get_by_text("No picture is kept at present.")).to_be_visible()
    expect(tablet.get_by_text("erased by Tess Okafor: somebody else is in it")).to_be_visible()
    assert Picture.objects.count() == 0
