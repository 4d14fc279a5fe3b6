"""Keeping a picture, and the patient's agreement to it, given and taken back."""

from __future__ import annotations

from dataclasses import dataclass
from hashlib import sha256
from uuid import UUID

from django.urls import reverse

from clinic import audit, clock
from clinic.models.care import Visit
from clinic.models.intents import ErasurePass
from clinic.models.people import Patient
from clinic.permissions import Actor
from clinic.services import acts
from clinic.services.rules import Refused
from outcomes.interchange.stills import StillRefused, still_from
from outcomes.models.pictures import Picture, PictureAgreement
from outcomes.queries.pictures import agreement_stands


@dataclass(frozen=True, kw_only=True, slots=True)
class Sent:
    """A file as it came, and what it shows."""

    content: bytes
    name: str
    measure: str
    limb: str
    view: str


def keep(*, actor: Actor, key: UUID, visit: Visit, sent: Sent) -> str:
    """Keep a picture of a visit, encoded afresh; answers where the patient's pictures are listed.

    Raises ``Refused`` where the site keeps none, the agreement does not stand, or the file is not
    taken; then nothing is stored.
    """

    def do() -> str:
        fresh = Visit.objects.select_related("site", "patient").get(pk=visit.pk)
        if not (fresh.site.pictures and fresh.site.keep_pictures):
            raise Refused({"": "Keeping pictures is switched off at this site."})
        if not agreement_stands(patient_id=fresh.patient_id):
            raise Refused({"": "Record the patient's agreement first. Nothing was stored."})
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


def agree(*, actor: Actor, key: UUID, patient: Patient, kind: str, agreed_by: str) -> str:
    """Record that the agreement was given, or taken back: then every kept picture is erased."""

    def do() -> str:
        there = agreement_stands(patient_id=patient.pk)
        if there == (kind == "given"):
            raise Refused({"": "This is recorded already. Open the page afresh."})
        row = PictureAgreement.objects.create(
            patient=patient,
            kind=kind,
            agreed_by=agreed_by,
            recorded_at=clock.now(),
            recorded_by_id=actor.staff_id,
        )
        audit.write(
            actor=actor, act=f"agreement_{kind}", subject="picture_agreement", subject_ids=[row.pk]
        )
        if kind == "withdrawn":
            _erase(actor=actor, patient=patient)
        return reverse("patient_pictures", args=[patient.uid])

    body = {"act": "agree_pictures", "patient": patient.pk, "kind": kind, "by": agreed_by}
    return acts.once(actor=actor, key=key, body=body, patient_id=patient.pk, do=do)


def _erase(*, actor: Actor, patient: Patient) -> None:
    """The sanctioned erasure: the pass is gone again before the transaction ends."""
    rows = Picture.objects.filter(visit__patient=patient)
    gone = list(rows.order_by("pk").values_list("pk", flat=True))
    leave = ErasurePass.objects.create(granted_at=clock.now())
    rows.delete()
    leave.delete()
    audit.write(actor=actor, act="erase_pictures", subject="picture", subject_ids=gone)
