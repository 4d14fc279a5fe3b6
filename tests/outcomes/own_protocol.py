"""A protocol of the clinic's own as its tests make it by the lead's pages."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from django.test import Client

from outcomes.models.versions import ProtocolVersion
from tests.cast import Cast
from tests.web import signed_in

CODE = "own_harbour"
DRAFT = f"/protocols/drafts/{CODE}/"


def sent(response: Any, name: str = "form", **changes: Any) -> dict[str, Any]:
    """What the browser would send of a form on a page, with a fresh key; None leaves a field."""
    form = response.context[name]
    whole = {field: form[field].value() for field in form.fields}
    whole |= {"key": str(uuid4()), **changes}
    return {field: value for field, value in whole.items() if value is not None}


def copied(client: Client, *, base: str = "starter-2", label: str = "Harbour") -> Any:
    """A draft from a version."""
    return client.post(f"/protocols/{base}/copy", {"key": str(uuid4()), "label": label})


def edited(client: Client, milestone: str, *, step: str = "", **changes: Any) -> Any:
    """A milestone of the draft with some fields typed over; ``-`` in names is written ``__``."""
    address = f"{DRAFT}{milestone}/"
    typed = {name.replace("__", "-"): value for name, value in changes.items()}
    page = client.get(address)
    return client.post(address, sent(page, **typed) | ({"step": step} if step else {}))


def published(client: Client, note: str = "seventy became sixty") -> Any:
    """The draft as it stands, frozen."""
    seen = client.get(DRAFT).context["draft"].version
    body = {"key": str(uuid4()), "seen": seen, "note": note}
    return client.post(f"{DRAFT}publish", body)


def own_version(cast: Cast, **changes: Any) -> ProtocolVersion:
    """A published copy of the starter protocol with a lower quadriceps threshold for running."""
    client = signed_in(cast.lead)
    copied(client)
    edited(client, "running", **(changes or {"quadriceps__value": "60"}))
    answer = published(client)
    assert answer.status_code == 302
    return ProtocolVersion.objects.filter(code=CODE).latest("version")
