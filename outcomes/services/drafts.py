"""Drafts of a visit: kept field by field, merged field by field, never read as results."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any, Final, Literal, get_args
from uuid import UUID

from django.db import transaction
from django.db.models import Exists, OuterRef

from clinic import audit, clock
from clinic.http import Conflict
from clinic.models.care import Visit
from clinic.models.places import StaffMember
from clinic.permissions import Actor
from clinic.services import acts
from outcomes.models.outbox import WaitingSave
from outcomes.models.record import VisitDraft
from outcomes.queries.clashes import Clash, flagged
from outcomes.queries.visit import VisitSheet
from outcomes.queries.visit_asks import due_json

Fate = Literal["same", "write", "clash", "elsewhere", "agree"]
WHOLE: Final = ""
"""The name under which a draft notes the number of a page's whole form."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Saved:
    """What became of a save. ``elsewhere`` names fields that this page shows otherwise."""

    draft: VisitDraft
    clashes: tuple[Clash, ...] = ()
    elsewhere: tuple[str, ...] = ()

    @property
    def version(self) -> int:
        """The version of the draft after the save."""
        return self.draft.version


def save(
    *,
    actor: Actor,
    visit_id: int,
    typed: Mapping[str, str],
    shown: Mapping[str, str],
    sheet: str,
    keep: Collection[str] = (),
    take: Collection[str] = (),
    number: int | None = None,
    whole: bool = False,
    late: Mapping[str, int] | None = None,
    saved_on_device_at: datetime | None = None,
) -> Saved:
    """Keep what was typed, field by field, in one transaction; nothing is half saved.

    ``shown`` is the text that each field had when this page last showed it: only fields that
    differ from it were changed here; what a page takes for granted is not kept. A field changed
    here and by another page (``sheet``) too is a clash and stays as the other page left it,
    unless its name is in ``keep``; typed alike on two pages it is of both, and neither changes it
    alone. ``number`` counts what this page sends (``whole``: its whole form): a save that arrives
    after a newer one of the same page changes nothing. A clash was not heard: its answer may be
    lost, and what waits on the tablet must still be asked. ``keep`` and ``take`` also settle what
    a tablet had sent late, of each field up to the save that was shown (``late``); the whole form
    settles what came late and reads the same. ``saved_on_device_at``, when a tablet without
    network kept it, stays with what is written. Where nothing differs and
    nothing waits nothing is locked. Raises ``Conflict`` when the visit is not open any more.
    """
    fates_in = partial(_fates, typed=typed, shown=shown, sheet=sheet, keep=keep, number=number)
    there = _unheld(visit_id=visit_id) if number is None and not keep and not take else None
    if there is not None and len(fates_in(there)["same"]) == len(typed):
        return Saved(draft=there)
    with transaction.atomic():
        draft = _locked(visit_id=visit_id)
        fates = fates_in(draft)
        texts = {name: typed[name] for name in fates["write"]}
        moments = dict.fromkeys(texts, saved_on_device_at)
        if whole or keep or take:
            moments |= _settle(draft=draft, names={*keep, *take}, shown=late or {}, texts=texts)
        if number is not None:
            names = typed if fates["clash"] or not whole else [WHOLE]
            heard = [name for name in names if name not in fates["clash"]]
            _hear(draft=draft, sheet=sheet, names=heard, number=number)
        _agree(draft=draft, actor=actor, sheet=sheet, names=fates["agree"])
        if texts:
            _write(draft=draft, actor=actor, sheet=sheet, texts=texts, moments=moments)
        elif number is not None or fates["agree"]:
            draft.save(update_fields=["fields", "heard"])
        return Saved(
            draft=draft,
            clashes=_clashes(draft=draft, sheet=sheet, typed=typed, names=fates["clash"]),
            elsewhere=tuple(fates["elsewhere"]),
        )


def _fates(
    draft: VisitDraft,
    *,
    typed: Mapping[str, str],
    shown: Mapping[str, str],
    sheet: str,
    keep: Collection[str],
    number: int | None,
) -> dict[Fate, list[str]]:
    """The fields by what becomes of them; what is older than was heard of this page is "same"."""
    found: dict[Fate, list[str]] = {fate: [] for fate in get_args(Fate)}
    heard = draft.heard.get(sheet, {})
    for name, text in typed.items():
        if number is not None and number <= max(heard.get(name, -1), heard.get(WHOLE, -1)):
            found["same"].append(name)
            continue
        seen = shown.get(name, "")
        kept = draft.fields.get(name, {"text": seen, "sheet": sheet})
        mine, alike = kept["sheet"] == sheet, kept.get("with", {})
        own = (mine and not alike) or name in keep
        fate = fate_of(typed=text, shown=seen, kept=kept["text"], own=own)
        if fate == "write" and not own and alike and (mine or sheet in alike):
            fate = "clash"
        if fate == "same" and text != seen and not mine and sheet not in alike:
            fate = "agree"
        found[fate].append(name)
    return found


def fate_of(*, typed: str, shown: str, kept: str, own: bool) -> Fate:
    """What becomes of one field: a three-way merge of its texts.

    ``shown`` is what the page had shown, ``kept`` what the draft holds, ``own`` whether this page
    wrote that or has the last word. Only a field changed here and elsewhere, differently, clashes.
    """
    if typed == kept:
        return "same"
    if own:
        return "write"
    if typed == shown:
        return "elsewhere"
    return "write" if kept == shown else "clash"


def _unheld(*, visit_id: int) -> VisitDraft | None:
    """The open visit's draft, where nothing that came late waits beside it."""
    waits = Exists(WaitingSave.objects.filter(visit_id=OuterRef("visit_id"), open=True))
    return VisitDraft.objects.filter(~waits, visit_id=visit_id, visit__state="open").first()


def _locked(*, visit_id: int) -> VisitDraft:
    """The open visit's draft, behind the visit's row lock; made when there is none yet."""
    visit = Visit.objects.select_for_update().only("state").get(pk=visit_id)
    if visit.state != "open":
        raise Conflict("This visit is not open any more. Open the page afresh to see it.")
    now = clock.now()
    draft, _ = VisitDraft.objects.get_or_create(
        visit_id=visit_id,
        defaults={"opened_at": now, "saved_at": now, "also": lambda: _also(visit_id=visit_id)},
    )
    return draft


def _also(*, visit_id: int) -> list[dict[str, str]]:
    """What the visit asks beyond the set of its week, as the first word finds it."""
    visit = Visit.objects.select_related("patient", "site").get(pk=visit_id)
    return [due_json(due) for due in VisitSheet(visit).also_now]


def _hear(*, draft: VisitDraft, sheet: str, names: Iterable[str], number: int) -> None:
    """Note the newest number that a page sent for each field."""
    heard = draft.heard.setdefault(sheet, {})
    heard |= {name: number for name in names if number > heard.get(name, -1)}


def _settle(
    *,
    draft: VisitDraft,
    names: Collection[str],
    shown: Mapping[str, int],
    texts: Mapping[str, str],
) -> dict[str, datetime]:
    """A person has decided about these fields of what tablets had sent late.

    Of each field one page's text was ``shown``, up to that save: what another page sent, or came
    since, is still to be asked. ``texts`` go into the draft: a late text that the draft then holds
    is taken with it, and when its tablet kept it is answered, by field.
    """
    holds = {**{name: one["text"] for name, one in draft.fields.items()}, **texts}
    saves = WaitingSave.objects.filter(visit_id=draft.visit_id)
    pages = dict(saves.filter(pk__in=set(shown.values())).values_list("pk", "sheet"))
    decides = {name: (shown[name], pages.get(shown[name])) for name in names if name in shown}
    kept: dict[str, datetime] = {}
    for row in saves.filter(open=True).select_related("visit").order_by("number", "id"):
        left = {name: one["typed"] for name, one in row.fields.items() if name not in row.settled}
        taken = {name for name, text in left.items() if holds.get(name, "") == text}
        kept |= dict.fromkeys(taken, _moment_of(row))
        for name in set(left) & set(decides):
            last, page = decides[name]
            if row.sheet == page and row.pk <= last:
                taken.add(name)
        if taken:
            _decided(row=row, names=taken)
    return kept


def _decided(*, row: WaitingSave, names: Collection[str]) -> None:
    """These fields of a late save wait for nobody any more."""
    row.settled = sorted({*row.settled, *names})
    left = {name: one["typed"] for name, one in row.fields.items() if name not in row.settled}
    row.open, row.flagged = bool(left), flagged(left)
    row.save(update_fields=["settled", "open", "flagged"])


def _moment_of(late: WaitingSave) -> datetime:
    opened_at = late.visit.opened_at or late.received_at
    return held(late.saved_on_device_at, earliest=opened_at, latest=late.received_at)


def held(moment: datetime, *, earliest: datetime, latest: datetime) -> datetime:
    """A tablet's moment as far as the server's clock bears it out.

    It is not before the page or visit was opened and never after the server had it, whatever the
    tablet's clock says: a wrong clock is moved to the nearer of the two.
    """
    return min(max(moment, earliest), latest)


def _agree(*, draft: VisitDraft, actor: Actor, sheet: str, names: Iterable[str]) -> None:
    """Note that a page typed by itself what another one had: the field is of both from now on."""
    for name in names:
        field = draft.fields[name]
        field.setdefault("with", {})[sheet] = actor.staff_id
        field["authors"] = list(dict.fromkeys([*field["authors"], actor.staff_id]))


def _write(
    *,
    draft: VisitDraft,
    actor: Actor,
    sheet: str,
    texts: Mapping[str, str],
    moments: Mapping[str, datetime | None],
) -> None:
    """Write the changed fields; each keeps its version, its last author and all its authors.

    ``moments`` say when a tablet without network kept a field.
    """
    draft.version, draft.saved_at = draft.version + 1, clock.now()
    for name, text in texts.items():
        authors = draft.fields.get(name, {}).get("authors", [])
        draft.fields[name] = {
            "text": text,
            "version": draft.version,
            "by": actor.staff_id,
            "at": draft.saved_at.isoformat(),
            "sheet": sheet,
            "authors": list(dict.fromkeys([*authors, actor.staff_id])),
        }
        if (moment := moments[name]) is not None:
            draft.fields[name]["device"] = moment.isoformat()
    draft.save(update_fields=["fields", "heard", "version", "saved_at"])


def _clashes(
    *, draft: VisitDraft, sheet: str, typed: Mapping[str, str], names: Collection[str]
) -> tuple[Clash, ...]:
    if not names:
        return ()
    authors = {name: _other(draft.fields[name], sheet=sheet) for name in names}
    people = StaffMember.objects.filter(pk__in=authors.values())
    called = dict(people.values_list("pk", "full_name"))
    return tuple(
        Clash(
            name=name,
            mine=typed[name],
            theirs=draft.fields[name]["text"],
            by=called[authors[name]],
            at=datetime.fromisoformat(draft.fields[name]["at"]),
        )
        for name in names
    )


def _other(field: Mapping[str, Any], *, sheet: str) -> int:
    """Who typed a field on another page than this one."""
    others = {**field.get("with", {}), field["sheet"]: field["by"]}
    return int(next(by for page, by in others.items() if page != sheet))


def take_over(*, actor: Actor, key: UUID, visit: Visit, address: str) -> str:
    """Another clinician goes on with an open visit, under their own name; it is recorded."""

    def do() -> str:
        held = Visit.objects.select_for_update().get(pk=visit.pk)
        if held.state != "open":
            raise Conflict("This visit is not open any more. Open the page afresh to see it.")
        if held.clinician_id != actor.staff_id:
            acts.bump(held)
            Visit.objects.filter(pk=held.pk).update(clinician_id=actor.staff_id)
            audit.write(actor=actor, act="take_over_visit", subject="visit", subject_ids=[held.pk])
        return address

    body = {"act": "take_over_visit", "visit": visit.pk}
    return acts.once(actor=actor, key=key, body=body, patient_id=visit.patient_id, do=do)
