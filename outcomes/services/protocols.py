"""What a lead does with protocols: copy, edit, publish; and what new episodes follow.

A published version never changes. A draft is overwritten freely and judges nobody.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, Final
from uuid import UUID

from django.db.models import F, Max
from django.urls import reverse

from clinic import audit, clock
from clinic.http import Conflict, Unprocessable
from clinic.models.places import Site
from clinic.permissions import Actor
from clinic.services import acts
from clinic.services.rules import Refused
from outcomes.catalogue.fields import SeedError
from outcomes.catalogue.seeds import canonical_json, fingerprint
from outcomes.core.values import Protocol
from outcomes.models.versions import ProtocolDraft, ProtocolVersion
from outcomes.protocols.editing import without_source
from outcomes.protocols.reading import protocol_from
from outcomes.queries.catalogue import in_force
from outcomes.queries.protocol_list import body_of, code_for, draft_of
from outcomes.queries.protocol_words import order_words
from outcomes.services.catalogue import once_each

Json = Mapping[str, Any]
OLD_SOURCE: Final = (
    "The number changed, and this source speaks of the number before. Type the source of the new "
    "one, or leave it blank: then it is this clinic’s setting."
)
AFRESH: Final = "Nothing was overwritten. Open the draft afresh to see what changed."


def copy(*, actor: Actor, key: UUID, base: str, label: str, following: bool) -> str:
    """A draft from the version ``base`` (``composite@1``); returns its address.

    ``following``: the next version of a protocol of the clinic's own. Raises ``Refused`` for a name
    or protocol that is there already, and for a draft of it that somebody has begun.
    """

    def do() -> str:
        body, code = _body(base), base.partition("@")[0] if following else code_for(label=label)
        rows = ProtocolVersion.objects.filter(code=code, origin="clinic")
        newest = rows.aggregate(newest=Max("version"))["newest"]
        if following and newest is None:
            raise Unprocessable("Only a protocol of the clinic's own has a next version: copy it.")
        if ProtocolDraft.objects.filter(code=code).exists():
            raise Refused({"label": "A draft of it is begun already: open it from the list."})
        if newest is not None and not following:
            raise Refused({"label": f"There is a protocol {code} already. Choose another name."})
        made = {**body, "code": code, "version": (newest or 0) + 1}
        made["label"] = body["label"] if following else label
        with once_each():
            row = ProtocolDraft.objects.create(
                code=code, base=base, body=made, author_id=actor.staff_id, changed_at=clock.now()
            )
        _audit(actor, "copy_protocol", row.pk, f"{base}, {code}")
        return reverse("protocol_draft", args=[code])

    said = {"act": "copy_protocol", "base": base, "label": label, "following": following}
    return acts.once(actor=actor, key=key, body=said, patient_id=None, do=do)


def save(*, actor: Actor, key: UUID, code: str, seen: int, body: Json, answer: str) -> str:
    """Put an edited mapping into a draft; ``seen`` is the version that it was made from.

    Raises ``Conflict`` when somebody saved it meanwhile, ``Unprocessable`` for a mapping that the
    reader of protocols refuses, ``Refused`` for a changed number that keeps the source of the old
    one: forms say which field.
    """

    def do() -> str:
        row = _draft(code)
        if (body["code"], body["version"]) != (row.body["code"], row.body["version"]):
            raise Unprocessable("The code of a draft stays what it is.")
        _read(body)
        _refuse_old_sources(body_of(code=row.base) or {}, body)
        saved = ProtocolDraft.objects.filter(pk=row.pk, version=seen).update(
            body=body, version=F("version") + 1, author_id=actor.staff_id, changed_at=clock.now()
        )
        if not saved:
            raise Conflict(AFRESH)
        _audit(actor, "edit_protocol", row.pk, code)
        return answer

    said = {"act": "edit_protocol", "code": code, "seen": seen, "body": body}
    return acts.once(actor=actor, key=key, body=said, patient_id=None, do=do)


def publish(*, actor: Actor, key: UUID, code: str, seen: int, note: str) -> str:
    """Freeze a draft as the next version of its protocol, and end the draft; returns its address.

    ``note`` says in a line what changed. Raises ``Refused`` where nothing differs from the version
    it was copied from or a milestone would come before the one it follows, and ``Conflict`` for
    another draft than the one that was looked at.
    """

    def do() -> str:
        row = _draft(code)
        if row.version != seen:
            raise Conflict(AFRESH)
        _refuse_same(row)
        _refuse_order(_read(row.body))
        body = canonical_json(row.body)
        with once_each():
            made = ProtocolVersion.objects.create(
                code=code,
                version=row.body["version"],
                origin="clinic",
                body=body,
                sha256=fingerprint(body),
                note=note,
                created_at=clock.now(),
                created_by_id=actor.staff_id,
            )
        row.delete()
        _audit(actor, "publish_protocol", made.pk, str(made), subject="protocol")
        return reverse("protocol", args=[made.code, made.version])

    said = {"act": "publish_protocol", "code": code, "seen": seen, "note": note}
    return acts.once(actor=actor, key=key, body=said, patient_id=None, do=do)


def discard(*, actor: Actor, key: UUID, code: str, seen: int) -> str:
    """End a draft without publishing it. Raises ``Conflict`` when it was saved meanwhile."""

    def do() -> str:
        row = _draft(code)
        if row.version != seen:
            raise Conflict(AFRESH)
        _audit(actor, "discard_protocol", row.pk, code)
        row.delete()
        return reverse("protocols")

    said = {"act": "discard_protocol", "code": code, "seen": seen}
    return acts.once(actor=actor, key=key, body=said, patient_id=None, do=do)


def for_new(*, actor: Actor, key: UUID, site_id: int, protocol: str, seen: str) -> str:
    """New episodes of a site follow this version from now on; those there are stay as they are.

    ``seen`` is what the site took when the page was shown: another one is a ``Conflict``.
    """

    def do() -> str:
        if protocol not in in_force().protocols:
            raise Unprocessable("This protocol is not kept. Load the list again.")
        changed = Site.objects.filter(pk=site_id, protocol=seen).update(protocol=protocol)
        if not changed:
            raise Conflict("Somebody chose meanwhile. Load the page again to see what is taken.")
        note = f"{seen or 'as shipped'}, {protocol}"
        audit.write(
            actor=actor, act="protocol_for_new", subject="site", subject_ids=[site_id], note=note
        )
        return reverse("protocol", args=protocol.split("@"))

    said = {"act": "protocol_for_new", "site": site_id, "protocol": protocol, "seen": seen}
    return acts.once(actor=actor, key=key, body=said, patient_id=None, do=do)


def _body(base: str) -> dict[str, Any]:
    found = body_of(code=base)
    if found is None:
        raise Unprocessable("This protocol is not kept. Load the list again.")
    return found


def _draft(code: str) -> ProtocolDraft:
    row = draft_of(code=code)
    if row is None:
        raise Unprocessable("This draft was published or discarded. Load the list again.")
    return row


def _read(body: Json) -> Protocol:
    try:
        return protocol_from(body, in_force().measures, where="")
    except SeedError as error:
        raise Unprocessable(
            f"This protocol contradicts itself: {str(error).strip(': ')}."
        ) from error


def _refuse_old_sources(before: Json, body: Json) -> None:
    """A changed number has a source of its own: what a source says of one, it says of no other."""
    for _, criterion in without_source(before=before, after=body):
        field = f"{criterion}-source" if criterion else "source"
        raise Refused({field: OLD_SOURCE})


def _refuse_order(protocol: Protocol) -> None:
    said = order_words(protocol=protocol)
    if said:
        raise Refused({"": " ".join(said)})


def _refuse_same(row: ProtocolDraft) -> None:
    """A version says something new: else there is nothing to publish."""
    mine = row.base.partition("@")[0] == row.code
    apart = ("code", "version") if mine else ("code", "version", "label")
    before, now = (
        {name: value for name, value in body.items() if name not in apart}
        for body in (body_of(code=row.base) or {}, row.body)
    )
    if json.dumps(before, sort_keys=True) == json.dumps(now, sort_keys=True):
        raise Refused({"note": f"Nothing differs from {row.base}: change something first."})


def _audit(
    actor: Actor, act: str, ident: int, note: str, *, subject: str = "protocol_draft"
) -> None:
    audit.write(actor=actor, act=act, subject=subject, subject_ids=[ident], note=note)
