"""Letters: drafted from the record, worded by a clinician, signed once and kept as bytes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from hashlib import sha256
from typing import Any, Final
from uuid import UUID

from django.urls import reverse

from clinic import audit, clock
from clinic.http import Conflict, Unprocessable
from clinic.models.care import OPEN_CARE_STATES, Episode
from clinic.models.places import StaffMember
from clinic.permissions import Actor
from clinic.services import acts
from clinic.services.rules import Refused
from outcomes.letters import pdf
from outcomes.letters.content import Edited, drafted
from outcomes.letters.facts import LetterFacts, from_json, to_json
from outcomes.letters.gathering import facts_of
from outcomes.letters.printing import html_of, sheet_of
from outcomes.models.letters import Document, Letter
from outcomes.queries.catalogue import in_force
from outcomes.queries.patient_page import episodes_of, source_of
from outcomes.services import status

NOBODY: Final = (
    "No surgeon and no referrer is named for this knee. Name one in the episode’s details, then "
    "write the letter."
)
CHANGED: Final = "Nothing was overwritten. Open the page afresh to see what changed."
SIGNED: Final = "This letter is signed and is not changed any more. Write one that replaces it."
PLAN: Final = "Write in a few words what is planned."
BRACKETS: Final = "Fill in what stands in square brackets, or take it out."
STALE: Final = (
    "The record changed since this draft. Take up the record as it is now, or tick that the "
    "letter keeps it as it stood."
)
SPELL: Final = "Save the draft, then type how to print what the letter’s fonts do not have:"


def facts_today(*, episode: Episode) -> LetterFacts:
    """The snapshot of an episode as the record stands now; judges again what is due."""
    today = clock.today(episode.site)
    shown = [
        one
        for one in episodes_of(patient=episode.patient)
        if one.pk == episode.pk or one.care_state in OPEN_CARE_STATES
    ]
    kept = status.current(episode_ids=[one.pk for one in shown], today=today)
    source = source_of(
        patient=episode.patient, shown=shown, kept=kept, rules=in_force(), course="", on=today
    )
    mine = next(one for one in shown if one.pk == episode.pk)
    return facts_of(episode=mine, source=source)


def record_changed(*, letter: Letter) -> bool:
    """Whether the record says something else today than the draft's snapshot."""
    then, now = from_json(body=letter.facts), facts_today(episode=letter.episode)
    return replace(now, on=then.on) != then


def draft(*, actor: Actor, key: UUID, episode: Episode) -> str:
    """A new draft to the surgeon, else the referrer; the one that is open already, if there is.

    Raises ``Unprocessable`` when nobody is named to write to.
    """

    def do() -> str:
        open_one = Letter.objects.filter(episode=episode, state="draft", replaces=None).first()
        if open_one is not None:
            return _address(open_one)
        people = [pk for pk in (episode.surgeon_id, episode.referrer_id) if pk is not None]
        if not people:
            raise Unprocessable(NOBODY)
        first, *rest = dict.fromkeys(people)
        letter = _new(
            actor=actor, episode=episode, recipient_id=first, copies=[str(pk) for pk in rest]
        )
        return _done(actor, "draft_letter", letter)

    body = {"act": "draft_letter", "episode": episode.pk}
    return acts.once(actor=actor, key=key, body=body, patient_id=episode.patient_id, do=do)


def edit(*, actor: Actor, key: UUID, letter: Letter, seen: int, edited: Edited) -> str:
    """Keep what was typed in a draft. Raises ``Conflict`` when it changed meanwhile."""

    def do() -> str:
        _still_a_draft(letter)
        _write(letter=letter, seen=seen, columns=edited.columns)
        return _done(actor, "edit_letter", letter)

    return _once(actor=actor, key=key, act="edit_letter", letter=letter, do=do, seen=seen,
                 **edited.columns)  # fmt: skip


def refresh(*, actor: Actor, key: UUID, letter: Letter, seen: int) -> str:
    """Take up the record as it is now. Words that nobody changed follow; typed words stay."""

    def do() -> str:
        _still_a_draft(letter)
        old, now = from_json(body=letter.facts), facts_today(episode=letter.episode)
        was, becomes = drafted(facts=old), drafted(facts=now)
        columns: dict[str, Any] = {"facts": to_json(facts=now)}
        for name in ("bottom_line", "question", "plan", "next_test_on"):
            if getattr(letter, name) == getattr(was, name):
                columns[name] = getattr(becomes, name)
        _write(letter=letter, seen=seen, columns=columns)
        return _done(actor, "refresh_letter", letter)

    return _once(actor=actor, key=key, act="refresh_letter", letter=letter, do=do, seen=seen)


def sign(
    *, actor: Actor, key: UUID, letter: Letter, seen: int, edited: Edited, as_it_stood: bool
) -> str:
    """Sign a draft with what was typed: its bytes and their SHA-256 are kept, never made again.

    The bytes are made before the transaction and kept only if the draft is still the one they
    were made from. Raises ``Refused`` while something stands in brackets, a word cannot be
    printed, letters are off, or the record changed and nobody said that it should stay.
    """
    ahead = letter.state == "draft" and letter.version == seen
    content = _final(actor=actor, letter=letter, edited=edited, keep=as_it_stood) if ahead else b""

    def do() -> str:
        _still_a_draft(letter)
        if not content:
            raise Conflict(CHANGED)
        now = clock.now()
        document = Document.objects.create(
            content=content, sha256=sha256(content).hexdigest(), created_at=now
        )
        signed = {"state": "signed", "signed_at": now, "signed_by_id": actor.staff_id}
        columns = {**edited.columns, **signed, "document": document}
        _write(letter=letter, seen=seen, columns=columns)
        return _done(actor, "sign_letter", letter)

    return _once(actor=actor, key=key, act="sign_letter", letter=letter, do=do, seen=seen,
                 as_it_stood=as_it_stood, **edited.columns)  # fmt: skip


def replace_letter(*, actor: Actor, key: UUID, letter: Letter) -> str:
    """A draft that cites a signed letter and takes its place once it is signed itself."""

    def do() -> str:
        if letter.state != "signed":
            raise Unprocessable("Only a signed letter is replaced; a draft is edited.")
        newer = Letter.objects.filter(replaces=letter).first()
        if newer is not None:
            return _address(newer)
        made = _new(
            actor=actor,
            episode=letter.episode,
            recipient_id=letter.recipient_id,
            copies=letter.copies,
            replaces=letter,
        )
        return _done(actor, "replace_letter", made)

    return _once(actor=actor, key=key, act="replace_letter", letter=letter, do=do)


def discard(*, actor: Actor, key: UUID, letter: Letter, seen: int) -> str:
    """Throw a draft away. A signed letter stays."""
    page = reverse("patient", args=[letter.episode.patient.uid])

    def do() -> str:
        audit.write(actor=actor, act="discard_letter", subject="letter", subject_ids=[letter.pk])
        gone, _ = Letter.objects.filter(pk=letter.pk, version=seen, state="draft").delete()
        if not gone:
            raise Conflict(CHANGED)
        return page

    return _once(actor=actor, key=key, act="discard_letter", letter=letter, do=do, seen=seen)


def printed(*, actor: Actor, letter: Letter) -> bytes:
    """The bytes to print: those that were signed, or the draft as it stands. One audit row.

    Raises ``Unprocessable`` for a draft where letters are off.
    """
    audit.write(
        actor=actor,
        act="print_letter",
        subject="letter",
        subject_ids=[letter.pk],
        note=letter.state,
    )
    if letter.document is not None:
        return bytes(letter.document.content)
    try:
        return pdf.render(html=html_of(sheet=sheet_of(letter=letter)))
    except pdf.LettersOff as off:
        raise Unprocessable(str(off)) from off


def _new(
    *,
    actor: Actor,
    episode: Episode,
    recipient_id: int,
    copies: list[str],
    replaces: Letter | None = None,
) -> Letter:
    facts = facts_today(episode=episode)
    typed = drafted(facts=facts)
    return Letter.objects.create(
        episode=episode,
        recipient_id=recipient_id,
        copies=copies,
        state="draft",
        bottom_line=typed.bottom_line,
        question=typed.question,
        plan=typed.plan,
        next_test_on=typed.next_test_on,
        facts=to_json(facts=facts),
        replaces=replaces,
        drafted_at=clock.now(),
        drafted_by_id=actor.staff_id,
    )


def _final(*, actor: Actor, letter: Letter, edited: Edited, keep: bool) -> bytes:
    """The bytes of the letter as it would be signed now, or a refusal with every reason."""
    errors = {} if edited.typed.plan else {"plan": PLAN}
    for name in ("bottom_line", "question", "plan"):
        if "[" in getattr(edited.typed, name):
            errors[name] = BRACKETS
    if not keep and record_changed(letter=letter):
        errors["as_it_stood"] = STALE
    pending = Letter.objects.select_related("episode__site", "replaces").get(pk=letter.pk)
    for name, value in edited.columns.items():
        setattr(pending, name, value)
    signer = StaffMember.objects.get(pk=actor.staff_id)
    sheet = sheet_of(letter=pending, signer=signer)
    if sheet.unspelled:
        errors[""] = f"{SPELL} {', '.join(sheet.unspelled)}."
    if errors:
        raise Refused(errors)
    try:
        return pdf.render(html=html_of(sheet=sheet))
    except pdf.LettersOff as off:
        raise Refused({"": str(off)}) from off


def _still_a_draft(letter: Letter) -> None:
    if letter.state != "draft":
        raise Unprocessable(SIGNED)


def _write(*, letter: Letter, seen: int, columns: Mapping[str, Any]) -> None:
    """Write a draft's row by ``UPDATE … WHERE version``; a signed letter is never written."""
    rows = Letter.objects.filter(pk=letter.pk, version=seen, state="draft")
    if not rows.update(version=seen + 1, **columns):
        raise Conflict(CHANGED)


def _once(*, actor: Actor, key: UUID, act: str, letter: Letter, do: Any, **said: Any) -> str:
    body = {"act": act, "letter": letter.pk, **said}
    patient_id = letter.episode.patient_id
    return acts.once(actor=actor, key=key, body=body, patient_id=patient_id, do=do)


def _done(actor: Actor, act: str, letter: Letter) -> str:
    audit.write(actor=actor, act=act, subject="letter", subject_ids=[letter.pk])
    return _address(letter)


def _address(letter: Letter) -> str:
    return reverse("letter", args=[letter.uid])
