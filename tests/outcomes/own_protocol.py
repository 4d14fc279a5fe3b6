"""A protocol of the clinic's own as its tests make it by the lead's pages."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from django.test import Client

from outcomes.forms.protocol_drafts import MilestoneForm
from outcomes.models.versions import ProtocolDraft, ProtocolVersion
from outcomes.queries.catalogue import in_force
from outcomes.queries.protocol_list import body_of, code_for
from outcomes.services import protocols
from tests.cast import Cast
from tests.outcomes.own import lead_of

CODE = "own_harbour"
DRAFT = f"/protocols/drafts/{CODE}/"


def sent(form: Any, **changes: Any) -> dict[str, Any]:
    """What a browser would send of a form, with a fresh key; None leaves a field out."""
    whole = {field: form[field].value() for field in form.fields}
    whole |= {"key": str(uuid4()), **changes}
    return {field: value for field, value in whole.items() if value is not None}


def copied(client: Client, *, base: str = "starter-2", label: str = "Harbour") -> Any:
    """A draft from a version."""
    return client.post(f"/protocols/{base}/copy", {"key": str(uuid4()), "label": label})


def edited(client: Client, milestone: str, *, step: str = "", **changes: Any) -> Any:
    """A milestone of the draft with some fields typed over; ``-`` in names is written ``__``."""
    row, rules = ProtocolDraft.objects.get(code=CODE), in_force()
    form = MilestoneForm(
        initial={"label": _label(row.body, milestone), "seen": row.version},
        milestone=milestone, body=row.body, base=body_of(code=row.base), measures=rules.measures,
    )  # fmt: skip
    typed = {name.replace("__", "-"): value for name, value in changes.items()}
    return client.post(
        f"{DRAFT}{milestone}/", sent(form, **typed) | ({"step": step} if step else {})
    )


def _label(body: Any, milestone: str) -> str:
    return str(next(one["label"] for one in body["milestones"] if one["code"] == milestone))


def published(client: Client, note: str = "seventy became sixty") -> Any:
    """The draft as it stands, frozen."""
    seen = ProtocolDraft.objects.get(code=CODE).version
    body = {"key": str(uuid4()), "seen": seen, "note": note}
    return client.post(f"{DRAFT}publish", body)


def own_version(
    cast: Cast, *, quadriceps: str = "60", label: str = "Harbour", running: str = "Running"
) -> ProtocolVersion:
    """A published copy of the starter protocol with another quadriceps threshold for running."""
    actor, code = lead_of(cast), code_for(label=label)
    protocols.copy(actor=actor, key=uuid4(), base="starter@2", label=label, following=False)
    body = ProtocolDraft.objects.get(code=code).body
    body["milestones"][1]["label"] = running
    (asked,) = (row for row in body["milestones"][1]["criteria"] if row["code"] == "quadriceps")
    asked["threshold"]["value"] = quadriceps
    asked["sources"] = [{"text": "Own audit of 2025", "mark": "clinic_setting"}]
    asked["label"] = f"Quadriceps symmetry at least {quadriceps} %"
    protocols.save(actor=actor, key=uuid4(), code=code, seen=1, body=body, answer="")
    protocols.publish(actor=actor, key=uuid4(), code=code, seen=2, note="another threshold")
    return ProtocolVersion.objects.get(code=code)
