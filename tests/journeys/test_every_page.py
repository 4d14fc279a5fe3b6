"""Every page that a role can reach, at three widths: axe-core, sideways scrolling, targets."""

import re
import time
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Page

from tests.cast import Cast
from tests.journeys.browser import give_session, untidy
from tests.site_table import PEOPLE
from tests.test_site_map import Rows, routes, table

pytestmark = pytest.mark.journey
WIDTHS = (1280, 820, 320)
LEAST = {"clinician": 30, "lead": 25, "desk": 15, "nobody": 2}
"""How many pages each person reaches at least."""
CHANGING = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}|value=\"\w{64}\"|(?<=[/-])\d+")
GOES_OVER = ("shell", "without_network")
"""Pages that leave for the server's page as soon as there is network: see ``test_reload``."""
SEEN: set[str] = set()
"""The pages that were looked at as another role, without ids, keys and tokens."""


def addresses(rows: Rows, who: str) -> Iterator[str]:
    """The address of every page; the lock, which locks whoever opens it, comes last."""
    mounted = dict(routes())
    for (name, method), expected in sorted(table().items(), key=lambda row: row[0][0] == "lock"):
        refused = expected[PEOPLE.index(who)] in ("403", "404", "405")
        if method == "GET" and not refused and name not in GOES_OVER:
            yield rows.address(mounted[name])


def content(rows: Rows, who: str, address: str) -> str:
    """What an address shows this person; empty when it leads elsewhere or is no page."""
    found = rows.clients[who].get(address)
    if found.status_code != 200 or not found["Content-Type"].startswith("text/html"):
        return ""
    main: str = found.content.decode().partition("<main")[2].partition("</main>")[0]
    return CHANGING.sub("", main)


def signed_in_by_password(rows: Rows, who: str, page: Page) -> None:
    """The window shares the session of the site map's client, its password confirmed just now."""
    session = rows.clients[who].session
    proof = {"method": "password", "at": time.time(), "reauthenticated": True}
    session["account_authentication_methods"] = [proof]
    session.save()
    give_session(page, rows.clients[who].cookies["sessionid"].value)


@pytest.mark.parametrize("who", LEAST)
def test_every_page_is_tidy_at_every_width(
    who: str, cast: Cast, open_window: Callable[..., Page]
) -> None:
    rows, found = Rows(cast), []
    page = open_window(has_touch=True)
    if who != "nobody":
        signed_in_by_password(rows, who, page)
    reached = 0
    for address in addresses(rows, who):
        shown = content(rows, who, address)
        reached += bool(shown)
        if not shown or shown in SEEN:
            continue
        SEEN.add(shown)
        page.goto(address)
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 900})
            found += [f"{address} at {width}: {fault}" for fault in untidy(page)]
    assert found == []
    assert reached >= LEAST[who]
