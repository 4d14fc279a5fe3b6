"""A hand on a tablet: performs a written list of taps and keys in a browser, and counts them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

Role = Literal["button", "link", "checkbox", "textbox"]
TABLET: Final = (820, 1180)
"""Width and height of a tablet that is held upright, in CSS px."""

ROLES: Final[tuple[Role, ...]] = ("button", "link", "checkbox", "textbox")
OF: Final = " > "
"""Stands between the question and the word that is chosen of it."""

_REACHED: Final = """(one) => {
  const box = one.getBoundingClientRect();
  const top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
  const mine = one.closest("label") ?? one;
  return box.top >= 0 && box.bottom <= innerHeight && box.left >= 0 && box.right <= innerWidth &&
    mine.contains(top);
}"""


class OutOfReach(Exception):
    """Something that is to be touched or typed in lies outside of the window, or is covered."""


ANSWERED: Final = "() => !document.querySelector('.htmx-request')"


@dataclass(kw_only=True)
class Hand:
    """Touches and types. A tap counts one, a key counts one.

    ``scrolls``: the hand may scroll to what it cannot see, which is not counted; without it
    everything has to be in the window, and the page stays where it is.
    """

    page: Page
    scrolls: bool
    actions: int = 0

    def perform(self, script: str) -> int:
        """Do what is written, line by line, and answer with how many taps and keys it took.

        ``tap NAME`` touches a button, a link, a tick or a field, ``tap QUESTION > WORD`` one word
        of a row of choices; ``keys 142`` presses each character, ``key Enter`` one key by name.
        Raises ``OutOfReach``, or ``ValueError`` for a line that says nothing of it.
        """
        for line in filter(None, map(str.strip, script.splitlines())):
            verb, _, what = line.partition(" ")
            if verb == "tap":
                self.tap(what)
            elif verb in ("keys", "key"):
                self.press([what] if verb == "key" else list(what))
            else:
                raise ValueError(f"{line!r} is neither a tap nor keys")
        return self.actions

    def tap(self, name: str) -> None:
        """Touch what has that name, once the page has answered what was touched before."""
        self.page.wait_for_function(ANSWERED)
        found = self.find(name)
        self._reach(found, name)
        found.tap()
        self.actions += 1

    def press(self, keys: list[str]) -> None:
        """Press keys where the cursor is."""
        for key in keys:
            self._reach(self.page.locator(":focus"), f"the field for {key!r}")
            self.page.keyboard.press(key)
            self.actions += 1

    def find(self, name: str) -> Locator:
        """What a person would touch by that name."""
        question, of, word = name.partition(OF)
        if of:
            asked = self.page.get_by_role("group", name=question, exact=True)
            return asked.get_by_role("radio", name=word, exact=True)
        found = self.page.locator("summary").filter(has_text=re.compile(rf"^{re.escape(name)}\b"))
        for role in ROLES:
            found = found.or_(self.page.get_by_role(role, name=name, exact=True))
        return found.filter(visible=True).last

    def _reach(self, what: Locator, name: str) -> None:
        if self.scrolls:
            what.scroll_into_view_if_needed()
        elif not what.evaluate(_REACHED) or self.page.evaluate("scrollY"):
            raise OutOfReach(f"{name} after {self.actions} taps and keys")
