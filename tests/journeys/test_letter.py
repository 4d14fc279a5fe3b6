"""A letter from one press to signed bytes, and the letter that replaces it."""

import hashlib
import subprocess
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from clinic.models.places import StaffMember
from outcomes.letters.printing import reference
from outcomes.models.letters import Document, Letter
from tests.cast import TODAY, Cast
from tests.journeys.browser import let_in, press, untidy
from tests.outcomes.story import signed, week_15

pytestmark = pytest.mark.journey
QUESTION = "May she begin hopping drills from week 16?"


@pytest.fixture(params=["tablet", "desktop"])
def draft(request: pytest.FixtureRequest, cast: Cast) -> Page:
    """Ines' letter to her surgeon as one press drafts it."""
    week_15(cast)
    StaffMember.objects.update(contact="physio@lantern-quay.example")
    page: Page = request.getfixturevalue(request.param)
    let_in(page, cast.clinician)
    page.goto(f"/patients/{cast.ines.uid}/")
    press(page, "Write a letter")
    return page


def printed(page: Page, tmp_path: Path) -> tuple[bytes, str]:
    """The bytes of the letter's PDF and the words in it."""
    link = page.get_by_role("link", name="PDF").get_attribute("href")
    assert link is not None
    found = page.context.request.get(link)
    assert found.headers["content-type"] == "application/pdf"
    file = tmp_path / "letter.pdf"
    file.write_bytes(found.body())
    words = subprocess.run(["pdftotext", "-layout", file, "-"], capture_output=True, check=True)
    return found.body(), " ".join(words.stdout.decode().split())


def test_drafted_edited_previewed_and_signed(draft: Page, tmp_path: Path, cast: Cast) -> None:
    assert untidy(draft) == []
    expect(draft.get_by_role("heading", name="Draft letter")).to_be_visible()
    sheet = draft.get_by_role("article")
    expect(sheet).to_contain_text("Mr Aled Pryce")
    expect(sheet).to_contain_text("77 %")
    draft.get_by_label("First line").fill("Quadriceps symmetry 77 %, rising; two tests are open.")
    draft.get_by_label("Question").fill(QUESTION)
    press(draft, "Save and preview")
    expect(sheet).to_contain_text("rising; two tests are open.")
    expect(sheet).to_contain_text(QUESTION)
    body, words = printed(draft, tmp_path)
    assert body.startswith(b"%PDF-")
    assert "Draft, not signed" in words
    assert QUESTION in words

    press(draft, "Sign the letter")
    expect(draft.get_by_role("heading", name="Kept as it was signed")).to_be_visible()
    assert untidy(draft) == []
    body, words = printed(draft, tmp_path)
    assert "Draft" not in words
    assert "Tess Okafor" in words
    expect(draft.get_by_text(hashlib.sha256(body).hexdigest())).to_be_visible()

    signed(cast, TODAY, quadriceps_torque=(170, 100))
    assert printed(draft, tmp_path)[0] == body == bytes(Document.objects.get().content)
    expect(draft.get_by_label("First line")).to_have_count(0)


def test_a_later_letter_takes_its_place_and_cites_it(draft: Page, tmp_path: Path) -> None:
    press(draft, "Sign the letter")
    first = draft.url
    press(draft, "Write a letter that replaces this one")
    draft.get_by_label("Question").fill(QUESTION)
    press(draft, "Sign the letter")
    older = Letter.objects.get(replaces=None)
    assert f"Replaces letter {reference(letter=older)}" in printed(draft, tmp_path)[1]
    draft.goto(first)
    expect(draft.get_by_text("Replaced by a later letter")).to_be_visible()
    expect(draft.get_by_role("button", name="Write a letter that replaces")).to_have_count(0)
    assert untidy(draft) == []


def test_a_draft_is_thrown_away(draft: Page) -> None:
    press(draft, "Throw this draft away")
    expect(draft.get_by_role("heading", name="Ines Marlow")).to_be_visible()
    expect(draft.get_by_text("No letter yet.")).to_be_visible()
