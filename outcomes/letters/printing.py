"""A letter as it is printed: its content from the row, then HTML, then the bytes of a PDF."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final
from zoneinfo import ZoneInfo

from django.template.loader import render_to_string

from clinic import clock, words
from clinic.models.people import Referrer
from clinic.models.places import StaffMember
from outcomes.letters import pdf
from outcomes.letters.content import Envelope, LetterContent, Typed, letter_content
from outcomes.letters.facts import LetterFacts, from_json
from outcomes.letters.spelling import spelled, texts, to_spell
from outcomes.models.letters import Letter

TEMPLATE: Final = "outcomes/letter_page.html"
PATIENT: Final = "patient"
"""Stands among the copies for the patient."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Sheet:
    """A letter ready to print. ``to_spell`` are its words that no vendored font can print."""

    content: LetterContent
    facts: LetterFacts
    paper: str
    to_spell: tuple[str, ...]
    unspelled: tuple[str, ...]


def typed_of(*, letter: Letter) -> Typed:
    """What the clinician has worded so far."""
    return Typed(
        bottom_line=letter.bottom_line,
        question=letter.question,
        plan=letter.plan,
        next_test_on=letter.next_test_on,
    )


def sheet_of(*, letter: Letter, signer: StaffMember | None = None) -> Sheet:
    """A letter as it stands in its row, in memory or saved; ``signer`` makes it the final one."""
    facts = from_json(body=letter.facts)
    envelope = _envelope(letter=letter, signer=signer)
    whole = letter_content(facts=facts, typed=typed_of(letter=letter), envelope=envelope)
    wanted = to_spell(text="\n".join(texts(whole)))
    return Sheet(
        content=spelled(whole, spellings=letter.spellings),
        facts=facts,
        paper=letter.episode.site.paper,
        to_spell=tuple(wanted),
        unspelled=tuple(word for word in wanted if not letter.spellings.get(word)),
    )


def html_of(*, sheet: Sheet) -> str:
    """The finished HTML of a letter, with the faces it needs and nothing from elsewhere."""
    context = {
        "letter": sheet.content,
        "paper": sheet.paper,
        "font_rules": pdf.font_rules(text="\n".join(texts(sheet.content))),
    }
    return render_to_string(TEMPLATE, context)


def reference(*, letter: Letter) -> str:
    """The short mark by which a letter is cited: the beginning of its address."""
    return letter.uid.hex[:8]


def _envelope(*, letter: Letter, signer: StaffMember | None) -> Envelope:
    return Envelope(
        to=_address(letter.recipient),
        copies=copies_of(letter=letter),
        signer=_signature(signer or letter.drafted_by),
        dated=clock.today(letter.episode.site),
        signed=signer is not None,
        reference=reference(letter=letter),
        replaces=_replaces(letter),
    )


def copies_of(*, letter: Letter) -> tuple[str, ...]:
    """Who gets a copy, in words. One statement where there is any."""
    idents = [int(code) for code in letter.copies if code != PATIENT]
    rows: Sequence[Referrer] = list(Referrer.objects.filter(pk__in=idents).order_by("name", "pk"))
    people = [", ".join(part for part in (row.name, row.practice) if part) for row in rows]
    return (*people, "the patient") if PATIENT in letter.copies else tuple(people)


def _address(referrer: Referrer) -> tuple[str, ...]:
    """Name, practice and address; a line that the practice says already is left out."""
    lines = [line.strip() for line in referrer.address.splitlines()]
    rest = [line for line in lines if line and line not in referrer.practice]
    return tuple(line for line in (referrer.name, referrer.practice, *rest) if line)


def _signature(person: StaffMember) -> tuple[str, ...]:
    lines = (person.full_name, person.credential, person.contact)
    return tuple(line for line in lines if line)


def _replaces(letter: Letter) -> str:
    old = letter.replaces
    if old is None or old.signed_at is None:
        return ""
    signed = old.signed_at.astimezone(ZoneInfo(letter.episode.site.zone)).date()
    return f"Replaces letter {reference(letter=old)} of {words.day(signed)}, which stays on record."
