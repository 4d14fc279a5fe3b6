"""A visit's page as a browser without script holds it: what its form would send."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from html import unescape
from typing import Any
from uuid import uuid4

from clinic.models.care import Visit
from tests.factories.clinic import VisitFactory

_CONTROL = re.compile(r"<(form|input|select|option|textarea)\b([^>]*)>([^<]*)")
_ATTRIBUTE = re.compile(r'([\w:-]+)(?:="([^"]*)")?')


def _controls(html: str) -> Iterator[tuple[str, str]]:
    """The successful controls of the ledger's form, in the order of the page."""
    inside, select = False, ""
    for tag, attributes, text in _CONTROL.findall(html):
        given = dict(_ATTRIBUTE.findall(attributes))
        if tag == "form":
            inside = "data-ledger" in given
        if not inside:
            continue
        name, value = unescape(given.get("name", "")), unescape(given.get("value", ""))
        if tag == "select":
            select = name
        elif tag == "option" and "selected" in given:
            yield select, value
        elif tag == "textarea":
            yield name, unescape(text).strip()
        elif tag == "input" and (
            given.get("type") not in ("radio", "checkbox") or "checked" in given
        ):
            yield name, value


class Paper:
    """One open page of a visit in one client: type into it, then save or sign."""

    def __init__(self, client: Any, visit: Visit) -> None:
        self.client, self.address = client, f"/visits/{visit.uid}/"
        self.read(client.get(self.address))

    def read(self, response: Any) -> None:
        """Take up a page that was answered."""
        self.response = response
        self.fields: dict[str, list[str]] = {}
        for name, value in _controls(response.content.decode()):
            self.fields.setdefault(name, []).append(value)

    def type(self, texts: Mapping[str, str]) -> Paper:
        """Type into fields, choose and tick; empty text empties."""
        self.fields |= {name: [text] for name, text in texts.items()}
        return self

    def post(self, verb: str, **more: Any) -> Any:
        """Send the whole form."""
        return self.client.post(f"{self.address}{verb}", {**self.fields, **more})

    def save(self, **more: Any) -> Any:
        """Press "Save draft"."""
        return self.post("draft", **more)

    def sign(self) -> Any:
        """Press "Sign visit"."""
        return self.post("sign")

    def send_row(self, row: str, was: list[str] | None = None) -> Any:
        """What htmx sends while a row is typed in: that row's fields alone."""
        part = {"flags": "f:", "note": "note"}.get(row, f":{row}")
        mine = [text for text in self.fields["was"] if part in text]
        names = [name for name in self.fields if part in name]
        data: dict[str, Any] = {name: self.fields[name] for name in names}
        data |= {"was": was or mine, "row": row, "sheet": self.fields["sheet"]}
        return self.client.post(f"{self.address}draft", data, headers={"HX-Request": "true"})


def open_visit(cast: Any, **more: Any) -> Visit:
    """Ines Marlow's open visit of today, opened by the clinician."""
    return VisitFactory(
        **{"patient": cast.ines, "site": cast.harbour, "clinician": cast.clinician, **more}
    )


FULL = {
    "v:pain_worst_24h:right": "2",
    "v:pain_front_of_knee:right": "1",
    "v:effusion:right": "trace",
    "c:effusion:moment": "before",
    "x:knee_extension:left": "beyond",
    "v:knee_extension:left": "2",
    "x:knee_extension:right": "straight",
    "v:knee_flexion:left": "140",
    "v:knee_flexion:right": "132",
    "c:standing_hip_hold:hand_support": "no",
    "c:standing_hip_hold:added_load": "0",
    "v:standing_hip_hold:left": "24,6",
    "v:standing_hip_hold:right": "19.2",
    "c:quadriceps_torque:device": "fixed",
    "c:quadriceps_torque:knee_angle": "90",
    "v:quadriceps_torque:left": "149",
    "v:quadriceps_torque:left:2": "158",
    "v:quadriceps_torque:right": "114",
    "v:quadriceps_torque:right:2": "121",
    "v:body_mass:none": "63,4",
    "f:none": "1",
    "note": "Good day.",
}
"""A visit of twelve readings, as it is typed at week 15."""


def key() -> str:
    """A fresh key."""
    return str(uuid4())
