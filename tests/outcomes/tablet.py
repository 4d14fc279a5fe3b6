"""A tablet with an open visit: it seals rows as the page's script does, and sends them later."""

from __future__ import annotations

import json
from html import unescape
from typing import Any

from django.test import Client

from clinic.models.care import Visit
from outcomes.interchange.sealed import sealed
from outcomes.models.record import VisitDraft
from tests.cast import Cast
from tests.outcomes.paper import Paper, key
from tests.web import signed_in

FLEXION = "v:knee_flexion:right"


class Tablet:
    """A tablet with one page of a visit open: it seals rows as the page's script does."""

    def __init__(self, cast: Cast, visit: Visit, *, who: Any = None) -> None:
        self.page = Paper(signed_in(who or cast.clinician), visit)
        form = self.page.response.content.decode()
        self.given = _attribute(form, "data-outbox-pass")
        self.public = json.loads(_attribute(form, "data-outbox-key"))
        self.sheet, self.number = self.page.fields["sheet"][0], 0

    def sealed(self, row: str, **changes: Any) -> dict[str, str]:
        """One item of a row as it stands on the page; ``changes`` to what is sealed."""
        self.number += 1
        was = next(text for text in self.page.fields["was"] if f":{row}" in text)
        typed = {name: self.page.fields.get(name, [""])[0] for name in json.loads(was)}
        body = {"row": row, "n": self.number, "at": 1_764_000_000_000, "was": was, "typed": typed}
        text = sealed(json.dumps({**body, **changes}), to=self.public)
        return {"key": key(), "pass": self.given, "sealed": text}


def _attribute(page: str, name: str) -> str:
    return unescape(page.split(f'{name}="', 1)[1].split('"', 1)[0])


def send(item: dict[str, str]) -> Any:
    """A tablet on which nobody is signed in any more."""
    return Client(enforce_csrf_checks=True).post("/outbox/", item)


def texts(visit: Visit) -> dict[str, str]:
    fields = VisitDraft.objects.get(visit=visit).fields
    return {name: field["text"] for name, field in fields.items() if field["text"]}
