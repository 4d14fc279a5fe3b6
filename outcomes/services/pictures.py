"""What a picture offers, taken into a visit's draft: typing by another hand, nothing signed."""

from __future__ import annotations

from collections.abc import Mapping
from uuid import UUID

from clinic.http import Conflict
from clinic.models.care import Visit
from clinic.permissions import Actor
from clinic.services import acts
from outcomes.services import drafts


def use(
    *,
    actor: Actor,
    key: UUID,
    visit: Visit,
    typed: Mapping[str, str],
    shown: Mapping[str, str],
    sent: Mapping[str, str],
    address: str,
    full: str = "",
) -> str:
    """Save these fields in the draft as if they were typed, all or none; answers the address.

    ``shown`` is what the page had shown in them, ``sent`` what was marked, ``full`` the sentence on
    what finds no room: then nothing is taken. Raises ``Conflict`` with it, where somebody typed
    something else into one of them meanwhile, where there is nothing to take, and when the visit
    is not open any more.
    """

    def do() -> str:
        if full:
            raise Conflict(f"Nothing was taken. {full}")
        if not typed:
            raise Conflict("Nothing was taken: there is no grade, and no room for the angle.")
        saved = drafts.save(
            actor=actor, visit_id=visit.pk, typed=typed, shown=shown, sheet=str(key)
        )
        if saved.clashes:
            theirs = ", ".join(f"{clash.theirs} ({clash.by})" for clash in saved.clashes)
            raise Conflict(
                f"Typed in this row meanwhile: {theirs}. Nothing was replaced. "
                "Press again to replace it."
            )
        return address

    body = {"act": "use_picture", "visit": visit.pk, "sent": dict(sent)}
    return acts.once(actor=actor, key=key, body=body, patient_id=visit.patient_id, do=do)
