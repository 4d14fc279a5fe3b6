"""The visit on a real tablet's screen: what it takes to log it, and when the beam is painted.

A browser is needed: playwright is a development dependency, and Chromium the system's own.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import timedelta
from statistics import quantiles
from typing import TYPE_CHECKING, Final
from uuid import uuid4

from django.conf import settings

from clinic import clock
from clinic.models.care import Episode, Visit
from clinic.permissions import Actor
from outcomes.management.bench import scenarios
from outcomes.management.bench.asking import LOOPBACK, Person, served
from outcomes.management.bench.crowd import follow, knee_of, weeks_of
from outcomes.management.bench.hand import ANSWERED, TABLET, Hand
from outcomes.management.bench.measuring import WARM_UP, Figure, exact, sampled
from outcomes.management.bench.scenarios import Scenario

if TYPE_CHECKING:
    from playwright.sync_api import Page

BROWSERS: Final = ("chromium", "chromium-browser", "google-chrome")
EPISODES: Final = 60
"""As many episodes as have a right knee in every odd week up to 61."""
AGO: Final = timedelta(days=21)
ROW: Final = "standing_hip_hold"

_WATCH: Final = """([key, where]) => {
  const target = document.querySelector(where);
  window.painted = new Promise((done) => {
    addEventListener("keydown", (event) => {
      if (event.key !== key) return;
      const start = performance.now();
      const seen = () => target.querySelector("svg") &&
        requestAnimationFrame(() => setTimeout(() => done(performance.now() - start)));
      new MutationObserver(seen).observe(target, { childList: true, subtree: true });
    }, { capture: true, once: true });
  });
}"""
_BARE: Final = """(url) => {
  const main = document.querySelector("main");
  const field = Object.assign(document.createElement("input"), { id: "bare", name: "bare" });
  const echo = Object.assign(document.createElement("div"), { id: "bare-echo" });
  for (const [name, value] of Object.entries(
    { "hx-post": url, "hx-trigger": "input", "hx-target": "#bare-echo" })) {
    field.setAttribute(name, value);
  }
  main.prepend(field, echo);
  htmx.process(field);
}"""


class Absent(Exception):
    """There is no browser to measure with; the message says what is missing."""


def actions(scenario: Scenario) -> list[Figure]:
    """Taps and keys of a written visit. Raises ``ValueError`` where it is not signed as written."""
    visit, person = _visit(scenario)
    with _page(visit, person) as page:
        hand = Hand(page=page, scrolls=scenario.scrolls)
        count = hand.perform(scenario.script)
        page.wait_for_selector(".signed")
    found, _ = scenarios.signed_in(visit)
    if found != scenario.signed:
        raise ValueError(f"{scenario.name} signed {found}")
    return [exact(name=scenario.name, value=count, unit="taps and keys", aim=scenario.most)]


def symmetry_painted(*, rounds: int) -> list[Figure]:
    """From the last digit to the painted beam, against a bare htmx echo on the same page.

    The bare echo has the same middleware, reads nothing, keeps nothing and judges nothing.
    """
    visit, person = _visit(scenarios.SHORT)
    with _page(visit, person) as page:
        page.get_by_role("button", name="Same conditions as last time").tap()
        page.evaluate(_BARE, "/bench/echo/")
        page.locator(f"#v-{ROW}-left").fill("30.5")
        times = [(_beam(page), _bare(page)) for _ in range(WARM_UP + rounds)][WARM_UP:]
    mine, bare = ([pair[side] for pair in times] for side in (0, 1))
    slow, slow_bare = _p95(mine), _p95(bare)
    name = "symmetry_painted"
    return [
        exact(name=name, value=round(slow / slow_bare, 4), unit="ratio of p95", aim=2),
        sampled(name=f"{name}.product", values=mine, unit="ms"),
        exact(name=f"{name}.product", value=round(slow, 4), unit="ms, p95"),
        sampled(name=f"{name}.baseline", values=bare, unit="ms"),
        exact(name=f"{name}.baseline", value=round(slow_bare, 4), unit="ms, p95"),
    ]


def _p95(values: Sequence[float]) -> float:
    return quantiles(values, n=20)[-1]


def _beam(page: Page) -> float:
    """Milliseconds from the last digit of the other limb's pair to the painted beam."""
    field = page.locator(f"#v-{ROW}-right")
    field.fill("")
    page.wait_for_selector(f"#echo-{ROW}:not(:has(svg))")
    page.wait_for_function(ANSWERED)
    field.press_sequentially("19.")
    return _timed(page, key="9", where=f"#echo-{ROW}")


def _bare(page: Page) -> float:
    """The same for the bare echo."""
    field = page.locator("#bare")
    page.evaluate("document.querySelector('#bare-echo').replaceChildren()")
    field.evaluate("(one) => { one.value = ''; one.focus(); }")
    return _timed(page, key="9", where="#bare-echo")


def _timed(page: Page, *, key: str, where: str) -> float:
    page.wait_for_function(ANSWERED)
    page.evaluate(_WATCH, [key, where])
    page.keyboard.press(key)
    spent: float = page.evaluate("window.painted")
    return spent


def _visit(scenario: Scenario) -> tuple[Visit, Person]:
    """An open visit in the scenario's week, after an earlier one, and who logs it."""
    made = follow(code=f"w{scenario.week}-{uuid4().hex[:4]}", episodes=EPISODES, visits=1)
    number = scenario.week - weeks_of(0)
    episode: Episode = made.episodes[number]
    if (weeks_of(number), knee_of(number)) != (scenario.week, "right") or not episode.responsible:
        raise ValueError(f"No right knee in week {scenario.week}.")
    actor = Actor(staff_id=episode.responsible.pk, site_id=episode.site_id, request_id=uuid4())
    today = clock.today(episode.site)
    scenarios.seen_before(actor=actor, episode=episode, on=today - AGO)
    visit = scenarios.opened(actor=actor, episode=episode, on=today)
    return visit, Person(episode.responsible)


@contextmanager
def _page(visit: Visit, person: Person) -> Iterator[Page]:
    """The visit on a tablet that is held upright, served over HTTP. Raises ``Absent``."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        raise Absent("playwright is not installed: requirements-dev.lock has it.") from None
    browser = next(filter(None, map(shutil.which, BROWSERS)), None)
    if browser is None:
        raise Absent("no Chromium was found on the path.")
    with served() as connect, sync_playwright() as playwright:
        base = f"http://{LOOPBACK}:{connect().connection.port}"
        chromium = playwright.chromium.launch(
            executable_path=browser, args=["--no-sandbox", "--disable-gpu"]
        )
        context = chromium.new_context(
            base_url=base,
            viewport={"width": TABLET[0], "height": TABLET[1]},
            has_touch=True,
            locale="en-GB",
        )
        context.add_cookies(
            [{"name": settings.SESSION_COOKIE_NAME, "value": person.session, "url": base}]
        )
        page = context.new_page()
        page.goto(f"/visits/{visit.uid}/")
        yield page
        chromium.close()
