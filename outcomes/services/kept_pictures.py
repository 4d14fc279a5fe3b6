"""Keeping a picture, erasing one, and the patient's agreement, given and taken back."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from hashlib import sha256
from uuid import UUID

from django.db import transaction
from django.urls import reverse

from clinic import audit, clock
from clinic.models.care import Visit
from clinic.models.intents import ErasurePass
from clinic.models.people import Patient
from clinic.models.places import Site
from clinic.permissions import Actor
from clinic.services import acts, upkeep
from clinic.services.rules import Errors, Refused, refuse_if
from outcomes.interchange.stills import StillRefused, still_from
from outcomes.models.pictures import Picture, PictureAgreement, PictureErasure
from outcomes.queries.picture_agreements import Agreed, agreed


@dataclass(frozen=True, kw_only=True, slots=True)
class Sent:
    """A file as it came, and what it shows."""

    content: bytes
    name: str
    measure: str
    limb: str
    view: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Saying:
    """Who said so; the guardian by name and relation, and whether the child agrees too."""

    agreed_by: str
    guardian: str = ""
    assented: bool | None = None


def keep(*, actor: Actor, key: UUID, visit: Visit, sent: Sent) -> str:
    """Keep a picture of a visit, encoded afresh; answers where the patient's pictures are listed.

    Raises ``Refused`` where the site keeps none, the agreement does not stand, or the file is not
    taken; then nothing is stored.
    """

    def do() -> str:
        fresh = Visit.objects.select_related("site", "patient").get(pk=visit.pk)
        if not (fresh.site.pictures and fresh.site.keep_pictures):
            raise Refused({"": "Keeping pictures is switched off at this site."})
        there = _agreed_now(patient_id=fresh.patient_id, site_id=fresh.site_id)
        if not there.counts:
            raise Refused({"": f"{there.says} Nothing was stored."})
        try:
            still = still_from(content=sent.content, name=sent.name)
        except StillRefused as refused:
            raise Refused({"picture": f"{refused} Nothing was stored."}) from refused
        row = Picture.objects.create(
            visit=fresh,
            measure=sent.measure,
            limb=sent.limb,
            view=sent.view,
            width=still.width,
            height=still.height,
            content=still.content,
            sha256=still.sha256,
            recorded_at=clock.now(),
            recorded_by_id=actor.staff_id,
        )
        audit.write(actor=actor, act="keep_picture", subject="picture", subject_ids=[row.pk])
        return reverse("patient_pictures", args=[fresh.patient.uid])

    mark = sha256(sent.content).hexdigest()
    body = {"act": "keep_picture", "visit": visit.pk, "limb": sent.limb, "sent": mark}
    return acts.once(actor=actor, key=key, body=body, patient_id=visit.patient_id, do=do)


def agree(*, actor: Actor, key: UUID, patient: Patient, kind: str, said: Saying) -> str:
    """Record that the agreement was given, or taken back: then every kept picture is erased.

    Raises ``Refused`` where whoever has to agree at the patient's age did not.
    """

    def do() -> str:
        there = _agreed_now(patient_id=patient.pk, site_id=actor.site_id)
        if (there.counts and kind == "given") or (not there.stands and kind == "withdrawn"):
            raise Refused({"": "This is recorded already. Open the page afresh."})
        if kind == "given":
            refuse_if(_child_errors(said) if there.child else _adult_errors(said))
        kept = Picture.objects.filter(visit__patient=patient).order_by("pk")
        gone = list(kept.values_list("pk", flat=True)) if kind == "withdrawn" else []
        row = PictureAgreement.objects.create(
            patient=patient,
            kind=kind,
            erased=len(gone),
            recorded_at=clock.now(),
            recorded_by_id=actor.staff_id,
            **{**asdict(said), "guardian": said.guardian.strip()},
        )
        audit.write(
            actor=actor, act=f"agreement_{kind}", subject="picture_agreement", subject_ids=[row.pk]
        )
        if gone:
            _gone(actor=actor, ids=gone)
        return reverse("patient_pictures", args=[patient.uid])

    body = {"act": "agree_pictures", "patient": patient.pk, "kind": kind, **asdict(said)}
    return acts.once(actor=actor, key=key, body=body, patient_id=patient.pk, do=do)


def _agreed_now(*, patient_id: int, site_id: int) -> Agreed:
    """The agreement as the site has it today, read under the lock."""
    site = Site.objects.get(pk=site_id)
    return agreed(patient=Patient.objects.get(pk=patient_id), site=site, on=clock.today(site))


def _child_errors(said: Saying) -> Errors:
    errors: Errors = {}
    if said.agreed_by != "guardian":
        errors[""] = "A parent or guardian agrees for a child. Open the page afresh."
    if not said.guardian.strip():
        errors["guardian"] = "Write who agreed: name and relation."
    if not said.assented:
        errors["assented"] = (
            "Without the young person's own agreement no picture is kept. Nothing was recorded."
        )
    return errors


def _adult_errors(said: Saying) -> Errors:
    if said.agreed_by == "patient" and not said.guardian:
        return {}
    return {"": "The patient is of age and agrees in person. Open the page afresh."}


def erase(*, actor: Actor, key: UUID, patient: Patient, picture: UUID, reason: str) -> str:
    """Erase one kept picture. Who, when and why stay, and so does what was measured from it.

    Raises ``Refused`` without a reason, and where the patient has no such picture any more.
    """

    def do() -> str:
        row = Picture.objects.filter(visit__patient=patient, uid=picture).defer("content").first()
        if row is None:
            raise Refused({"": "This picture is not kept any more. Open the page afresh."})
        refuse_if({} if reason.strip() else {"reason": "Write why the picture is erased."})
        PictureErasure.objects.create(
            uid=row.uid,
            visit_id=row.visit_id,
            limb=row.limb,
            view=row.view,
            reason=reason.strip(),
            erased_at=clock.now(),
            erased_by_id=actor.staff_id,
        )
        _gone(actor=actor, ids=[row.pk])
        return reverse("patient_pictures", args=[patient.uid])

    body = {"act": "erase_picture", "picture": picture, "reason": reason}
    return acts.once(actor=actor, key=key, body=body, patient_id=patient.pk, do=do)


def _gone(*, actor: Actor, ids: list[int]) -> None:
    """The sanctioned erasure: the pass is gone again before the transaction ends."""
    leave = ErasurePass.objects.create(granted_at=clock.now())
    Picture.objects.filter(pk__in=ids).delete()
    leave.delete()
    audit.write(actor=actor, act="erase_pictures", subject="picture", subject_ids=ids)
    transaction.on_commit(upkeep.wipe_deleted, robust=True)
