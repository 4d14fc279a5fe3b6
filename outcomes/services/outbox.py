"""What a tablet typed without network: sent later, opened here, each once.

A save is authorised and attributed by the pass that the page was given, never by who is signed in
when it arrives. What cannot go into the draft unseen is kept aside for a person to decide about.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Final
from uuid import UUID

from django.conf import settings
from django.core import signing
from joserfc.jwk import ECKey

from clinic import audit, clock
from clinic.http import Conflict, Unprocessable
from clinic.models.care import Episode, Visit
from clinic.models.places import Membership
from clinic.permissions import Action, Actor, Role, may
from clinic.services import acts
from outcomes.interchange import sealed
from outcomes.models.outbox import WaitingSave
from outcomes.queries.clashes import Save, flagged
from outcomes.services import drafts, status

UNSEEN: Final = timedelta(hours=72)
"""How long after the page was opened its saves may still go into the draft unseen."""
SALT: Final = "kneeledger.outbox"
KEPT: Final = "kept"
LATE: Final = "late"


@dataclass(frozen=True, kw_only=True, slots=True)
class Pass:
    """Who typed, at which visit, on which page, since when; written and signed by the server."""

    staff_id: int
    visit: UUID
    sheet: str
    opened_at: datetime


def pass_for(*, staff_id: int, visit: UUID, sheet: str) -> str:
    """The pass of one page, to be sent with each of its saves."""
    moment = clock.now().isoformat()
    return signing.dumps([staff_id, str(visit), sheet, moment], salt=SALT, compress=True)


def passed(text: str) -> Pass:
    """Read a pass. Raises ``Unprocessable`` for one that this server did not write."""
    try:
        staff_id, visit, sheet, moment = signing.loads(text, salt=SALT)
    except signing.BadSignature:
        raise Unprocessable("This was not typed on a page of this clinic.") from None
    return Pass(
        staff_id=staff_id,
        visit=UUID(visit),
        sheet=sheet,
        opened_at=datetime.fromisoformat(moment),
    )


def public_key() -> dict[str, str]:
    """The key that tablets seal to."""
    return sealed.public_of(_key(settings.SECRET_KEY))


def opened(text: str) -> bytes:
    """What a tablet sealed. Raises ``Unprocessable`` when no key of this server fits."""
    secrets = [settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS]
    try:
        return sealed.opened(text, keys=[_key(secret) for secret in secrets])
    except sealed.NotOpened:
        raise Unprocessable(
            "This server cannot read what waited on the tablet. Type it again."
        ) from None


@cache
def _key(secret: str) -> ECKey:
    return sealed.key_from(secret)


def take(*, given: Pass, key: UUID, mark: str, save: Save, request_id: UUID) -> str:
    """Take one save, once per key: ``kept``, ``clash``, ``late``, or ``gone``.

    ``mark`` is the fingerprint of what was sent; the same key with another one raises
    ``KeyReused``. Fields that another page changed meanwhile are not overwritten: they are kept
    aside (``clash``). Of a visit that is closed, of an author who may not log visits any more, or
    of a page older than ``UNSEEN``, all is kept aside (``late``). ``gone``: there is no such visit.
    """
    visit = Visit.objects.select_related("patient").filter(uid=given.visit).first()
    if visit is None:
        return "gone"
    actor = Actor(staff_id=given.staff_id, site_id=visit.site_id, request_id=request_id)

    def do() -> str:
        fate, aside = _merged(actor=actor, given=given, visit=visit, save=save)
        has_flag = flagged({name: save.typed[name] for name in aside})
        news = bool(aside) and _is_news(visit=visit, has_flag=has_flag)
        WaitingSave.objects.create(
            key=key,
            visit=visit,
            typed_by_id=given.staff_id,
            sheet=given.sheet,
            row=save.row,
            number=save.number,
            fate=fate,
            fields={
                name: {"typed": save.typed[name], "shown": save.shown.get(name, "")}
                for name in aside
            },
            open=bool(aside),
            flagged=has_flag,
            saved_on_device_at=save.saved_on_device_at,
            received_at=clock.now(),
        )
        if news:
            status.rebuild_followed(patient_id=visit.patient_id)
        return fate

    return acts.once(
        actor=actor, key=key, body={"sealed": mark}, patient_id=visit.patient_id, do=do
    )


def _is_news(*, visit: Visit, has_flag: bool) -> bool:
    """Whether one more text kept aside changes a reason to look: not while the visit is open; then
    each red flag does, another text once a day (as ``LateTyping`` counts days)."""
    today = clock.now().astimezone(UTC).replace(hour=0, minute=0, second=0, microsecond=0)
    waiting = WaitingSave.objects.filter(visit=visit, open=True, received_at__gte=today)
    closed = Visit.objects.filter(pk=visit.pk).exclude(state="open")
    return closed.exists() and (has_flag or not waiting.exists())


def _merged(*, actor: Actor, given: Pass, visit: Visit, save: Save) -> tuple[str, list[str]]:
    """What became of a save, and the fields of it that did not go into the draft.

    That a row was added is asked about by nobody: its values are.
    """
    differs = [name for name, text in save.typed.items() if text != save.shown.get(name, "")]
    changed = [name for name in differs if not name.startswith("r:")]
    late = LATE if changed else KEPT
    if clock.now() - given.opened_at > UNSEEN or not _may_log(given.staff_id, visit):
        return late, changed
    try:
        saved = drafts.save(
            actor=actor,
            visit_id=visit.pk,
            typed=save.typed,
            shown=save.shown,
            sheet=given.sheet,
            number=save.number,
            saved_on_device_at=drafts.held(
                save.saved_on_device_at, earliest=given.opened_at, latest=clock.now()
            ),
        )
    except Conflict:
        return late, changed
    return ("clash" if saved.clashes else KEPT), [clash.name for clash in saved.clashes]


def _may_log(staff_id: int, visit: Visit) -> bool:
    """Whether the author still may log this patient's visits."""
    places = Episode.objects.filter(patient_id=visit.patient_id).values("site_id")
    held = Membership.objects.filter(
        staff_id=staff_id, staff__is_active=True, site_id__in=places, ended_on__isnull=True
    )
    roles = frozenset(Role(role) for role in held.values_list("role", flat=True))
    return may(roles=roles, action=Action.LOG_VISIT)


def seen(*, actor: Actor, key: UUID, visit: Visit, late_until: int, address: str) -> str:
    """A person has read what came late to a closed visit, and entered what belongs there.

    ``late_until`` is the newest save that they were shown: what came since still waits.
    """

    def do() -> str:
        for late in WaitingSave.objects.filter(visit_id=visit.pk, open=True, pk__lte=late_until):
            late.settled, late.open = sorted(late.fields), False
            late.save(update_fields=["settled", "open"])
        status.rebuild_followed(patient_id=visit.patient_id)
        audit.write(actor=actor, act="settle_late_typing", subject="visit", subject_ids=[visit.pk])
        return address

    body = {"act": "settle_late_typing", "visit": visit.pk, "until": late_until}
    return acts.once(actor=actor, key=key, body=body, patient_id=visit.patient_id, do=do)
