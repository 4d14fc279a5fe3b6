"""The pictures in README.md, taken anew from a copy of the demo clinic: ``./run screenshots``."""

import os
import shutil
import socket
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from urllib.request import urlopen

from playwright.sync_api import Browser, Page, sync_playwright

from tests.tools import programs

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / "fixtures" / "screens"
DEMO = ROOT / "var" / "demo.sqlite3"
TABLET, DESKTOP = (820, 1180), (1280, 860)


@contextmanager
def copied() -> Iterator[Path]:
    """A copy of the demo that may be written to, for as long as the pictures take."""
    with TemporaryDirectory() as folder:
        file = Path(folder) / "demo.sqlite3"
        with closing(sqlite3.connect(DEMO)) as demo, closing(sqlite3.connect(file)) as copy:
            demo.backup(copy)
        yield file


@contextmanager
def served(file: Path) -> Iterator[str]:
    """That database on a free port."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    environment = {**os.environ, "DATABASE_URL": f"sqlite:///{file}", "KNEELEDGER_PROFILE": "local"}
    command = [sys.executable, "-m", "gunicorn", "clinic.wsgi", "--bind", f"127.0.0.1:{port}"]
    with subprocess.Popen(command, env=environment, stderr=subprocess.DEVNULL) as server:
        try:
            for _ in range(100):
                try:
                    urlopen(f"http://localhost:{port}/healthz")
                    break
                except OSError:
                    time.sleep(0.1)
            yield f"http://localhost:{port}"
        finally:
            server.terminate()


def password() -> str:
    """The demo's password, as ``demo_sign_ins`` prints it."""
    command = [sys.executable, "manage.py", "demo_sign_ins"]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout.split()[-1]


def signed_in(browser: Browser, base: str, username: str, size: tuple[int, int]) -> Page:
    """A window of somebody who has signed in."""
    width, height = size
    window = browser.new_context(
        viewport={"width": width, "height": height}, has_touch=size == TABLET
    )
    page = window.new_page()
    page.goto(f"{base}/accounts/login/")
    page.fill("input[name=login]", username)
    page.fill("input[name=password]", password())
    page.keyboard.press("Enter")
    page.wait_for_url(lambda address: "login" not in address)
    return page


def find(page: Page, base: str, name: str) -> None:
    """Open a patient by search, as a person would."""
    page.goto(f"{base}/patients/")
    page.get_by_role("searchbox").or_(page.locator("main input[type=text]")).first.fill(name)
    page.keyboard.press("Enter")
    page.get_by_role("link", name=name).first.click()
    page.wait_for_load_state("networkidle")


def picture_a_letter(page: Page) -> None:
    """Draft and sign a letter, and draw the first page of its PDF."""
    page.get_by_role("button", name="Write a letter").click()
    page.wait_for_url("**/letters/**")
    address = page.url.rstrip("/")
    page.get_by_label("Plan").fill(
        "Hip and quadriceps strength twice a week; tests again in week 16."
    )
    with page.expect_response("**/sign") as signing:
        page.get_by_role("button", name="Sign the letter").click()
    if signing.value.status != 302:
        sys.exit("The letter was not signed.")
    answer = page.request.get(f"{address}/pdf")
    command = ["pdftoppm", "-png", "-r", "80", "-f", "1", "-singlefile", "-"]
    subprocess.run([*command, FOLDER / "letter"], input=answer.body(), check=True)


def main() -> None:
    """Take every picture; that of a letter where pdftoppm is installed."""
    if not DEMO.exists():
        sys.exit("There is no demo clinic yet. Run ./run demo once, end it, and come back.")
    FOLDER.mkdir(exist_ok=True)
    with copied() as file, served(file) as base, sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=programs.chromium(), args=programs.FLAGS.split()
        )
        lead = signed_in(browser, base, "lena", DESKTOP)
        lead.goto(f"{base}/caseload/")
        lead.screenshot(path=FOLDER / "caseload.png")
        clinician = signed_in(browser, base, "tess", DESKTOP)
        find(clinician, base, "Ines Marlow")
        clinician.screenshot(path=FOLDER / "patient.png")
        if shutil.which("pdftoppm"):
            picture_a_letter(clinician)
        tablet = signed_in(browser, base, "tess", TABLET)
        find(tablet, base, "Ines Marlow")
        tablet.locator("main a[href*='/visits/']").first.click()
        tablet.wait_for_load_state("networkidle")
        tablet.screenshot(path=FOLDER / "visit.png")
        browser.close()


if __name__ == "__main__":
    main()
