"""One letter as its page shows it: where it stands, what it replaces, its bytes in short."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from clinic import words
from clinic.queries.people import referrers_to_choose
from outcomes.models.letters import Document, Letter


@dataclass(frozen=True, kw_only=True, slots=True)
class LetterHead:
    """Where a letter stands, in words. ``newer`` is the signed letter that replaced it."""

    signed: str
    drafted: str
    sha256: str
    size: str
    older: Letter | None
    newer: Letter | None
    newer_draft: Letter | None


@dataclass(frozen=True, kw_only=True, slots=True)
class People:
    """Who can be written to, and who is named already and offered a copy at once."""

    all: Sequence[tuple[int, str]]
    near: Sequence[int]


def letter_head(*, letter: Letter) -> LetterHead:
    """The head of a letter's page. One statement where it is signed."""
    zone = letter.episode.site.zone
    rows = Document.objects.filter(letter=letter).values_list("sha256", "content")
    mark, content = rows.first() or ("", b"")
    newer: Letter | None = getattr(letter, "replaced_by", None)
    is_signed = newer is not None and newer.state == "signed"
    return LetterHead(
        signed=f"{words.moment(letter.signed_at, zone=zone)} by {letter.signed_by}"
        if letter.signed_at
        else "",
        drafted=f"{words.moment(letter.drafted_at, zone=zone)} by {letter.drafted_by}",
        sha256=mark,
        size=f"{-(-len(content) // 1000)} kB",
        older=letter.replaces,
        newer=newer if is_signed else None,
        newer_draft=None if is_signed else newer,
    )


def people_of(*, letter: Letter) -> People:
    """Recipients to choose from: nobody retired, unless named already. One statement."""
    episode = letter.episode
    copies = [int(code) for code in letter.copies if code.isdigit()]
    named = [pk for pk in (episode.surgeon_id, episode.referrer_id, *copies) if pk is not None]
    return People(
        all=referrers_to_choose(keep=[letter.recipient_id, *named]),
        near=[pk for pk in dict.fromkeys(named) if pk != letter.recipient_id],
    )
