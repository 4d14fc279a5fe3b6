"""The ledger form as a person handles it: type, choose, read what the row says back."""

import re
from datetime import timedelta

from playwright.sync_api import Locator, Page, expect

from clinic.models.care import Visit
from tests.cast import TODAY, Cast
from tests.factories.clinic import VisitFactory
from tests.journeys.browser import let_in
from tests.outcomes.story import WEEK_6, WEEK_12, signed

WEEK_14 = TODAY - timedelta(days=7)


def record(cast: Cast) -> None:
    """Ines' measurements so far: left is the other side, right the operated one."""
    signed(cast, WEEK_6, quadriceps_torque=(152, 91), knee_extension=(0, 8), effusion=(None, 3))
    signed(
        cast,
        WEEK_12,
        quadriceps_torque=(156, 109),
        knee_extension=(0, 2),
        knee_flexion=(142, 130),
        effusion=(None, 1),
        standing_hip_hold=("32.8", "19.2"),
        pelvic_drop_lateral_heel_touch=(0, 2),
    )


def expected_today(cast: Cast, **changes: object) -> Visit:
    """Ines has arrived and waits for the clinician."""
    given = {"patient": cast.ines, "site": cast.harbour, "clinician": cast.clinician}
    visit: Visit = VisitFactory(**{**given, "state": "arrived", "opened_at": None, **changes})
    return visit


class Ledger:
    """One open visit on one screen."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.touched = page.evaluate("() => navigator.maxTouchPoints > 0")

    def touch(self, what: Locator) -> None:
        """Touch it with a finger, or click it where there is a mouse."""
        what.tap() if self.touched else what.click()

    def row(self, name: str) -> Locator:
        """One test: both limbs and what is said between them."""
        return self.page.get_by_role("group", name=re.compile(rf"^{re.escape(name)}( |$)"))

    def says(self, name: str) -> Locator:
        """What the middle of a row says back."""
        return self.row(name).locator(".echo").first

    def field(self, name: str) -> Locator:
        """A field to type in, by its name: "Flexion, left"."""
        return self.page.get_by_role("textbox", name=name, exact=True)

    def type(self, **texts: str) -> None:
        """Type into fields: ``Flexion__left="142"`` is the field "Flexion, left"."""
        for name, text in texts.items():
            self.field(name.replace("__", ", ").replace("_", " ")).fill(text)

    def choose(self, question: str, word: str) -> None:
        """Touch one word of a row of choices."""
        label = self.choice(question, word)
        self.touch(label)
        expect(label.get_by_role("radio")).to_be_checked()

    def take_back(self, question: str, word: str) -> None:
        """Touch the chosen word once more: not tested."""
        label = self.choice(question, word)
        self.touch(label)
        expect(label.get_by_role("radio")).not_to_be_checked()

    def choice(self, question: str, word: str) -> Locator:
        """One word of a row of choices."""
        group = self.page.get_by_role("group", name=question, exact=True)
        radio = self.page.get_by_role("radio", name=word, exact=True)
        return group.locator("label").filter(has=radio)

    def chosen(self, question: str, word: str) -> None:
        """Expect a word of a row of choices to be the chosen one."""
        group = self.page.get_by_role("group", name=question, exact=True)
        expect(group.get_by_role("radio", name=word, exact=True)).to_be_checked()

    @property
    def foot(self) -> Locator:
        """The line beside the main action: red flags, how many tests, when it was saved."""
        return self.page.locator("#foot")


def open_ledger(page: Page, cast: Cast, visit: Visit) -> Ledger:
    """The clinician's screen on an open visit."""
    let_in(page, cast.clinician)
    page.goto(f"/visits/{visit.uid}/")
    return Ledger(page)
