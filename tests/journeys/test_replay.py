"""Waiting saves sent doubled, shuffled, at once and over cut connections to the real server.

``SCHEDULES=1000 pytest -m journey tests/journeys/test_replay.py`` runs a thousand of them; the
suite runs a few. A schedule is two pages of one visit, each with its own rows and one in common.
"""

from __future__ import annotations

import json
import os
import socket
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from random import Random
from typing import Any
from urllib.parse import urlencode, urlsplit
from uuid import uuid4

import pytest
from pytest_django.live_server_helper import LiveServer

from clinic.models.care import Visit
from outcomes.interchange.sealed import sealed
from outcomes.models.outbox import WaitingSave
from outcomes.models.record import VisitDraft
from outcomes.queries.clashes import late_texts
from outcomes.services import outbox
from tests.cast import MOMENT, Cast
from tests.factories.clinic import VisitFactory

pytestmark = pytest.mark.journey

SCHEDULES = int(os.environ.get("SCHEDULES", "20"))
BOTH = "v:knee_flexion:right"
OWN = ("v:body_mass:none", "v:single_hop:left")
WAYS = ("whole", "unread", "half")


@dataclass(frozen=True, kw_only=True, slots=True)
class Item:
    """One intent of one page: the field, its text, and what is posted for it."""

    page: int
    name: str
    text: str
    body: str


def _items(random: Random, cast: Cast, visit: Visit) -> list[Item]:
    """Two to four saves of each of two pages, in the order in which they were typed."""
    public = outbox.public_key()
    found: list[Item] = []
    for page, who in enumerate((cast.clinician, cast.colleague)):
        given = outbox.pass_for(staff_id=who.pk, visit=visit.uid, sheet=str(uuid4()))
        for number in range(random.randint(2, 4)):
            name = random.choice((BOTH, OWN[page]))
            text = str(random.randint(100, 140))
            row: dict[str, Any] = {"row": "r", "n": number, "at": 0, "was": json.dumps({name: ""})}
            text_sealed = sealed(json.dumps({**row, "typed": {name: text}}), to=public)
            body = urlencode({"key": uuid4(), "pass": given, "sealed": text_sealed})
            found.append(Item(page=page, name=name, text=text, body=body))
    return found


def _post(address: str, body: str, way: str) -> str:
    """Post once and read the fate; or hang up without reading; or in the middle of the body."""
    at = urlsplit(address)
    head = (
        f"POST /outbox/ HTTP/1.1\r\nHost: {at.netloc}\r\nConnection: close\r\n"
        f"Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {len(body)}\r\n\r\n"
    )
    with socket.create_connection((at.hostname or "", at.port or 80), timeout=30) as line:
        line.sendall((head + body[: len(body) // 2 if way == "half" else None]).encode())
        if way != "whole":
            return ""
        answer = b"".join(iter(lambda: line.recv(65536), b""))
    status = answer.split(b" ", 2)[1]
    assert status in (b"200", b"503"), answer[:500]
    return json.loads(answer.rpartition(b"\r\n\r\n")[2])["fate"] if status == b"200" else ""


def _send(random: Random, address: str, items: list[Item]) -> None:
    """Everything once to three times, in any order and way, three at once; then until answered."""
    posts = [(item, random.choice(WAYS)) for item in items for _ in range(random.randint(1, 3))]
    random.shuffle(posts)
    with ThreadPoolExecutor(3) as pool:
        list(pool.map(lambda post: _post(address, post[0].body, post[1]), posts))
    for item in items:
        while not _post(address, item.body, "whole"):
            pass


def _ended_well(visit: Visit, items: list[Item]) -> list[str]:
    """What is wrong after a schedule: an intent without its one effect, a text lost or older."""
    wrong = []
    rows = WaitingSave.objects.filter(visit=visit)
    if rows.count() != len(items):
        wrong.append(f"{rows.count()} effects of {len(items)} intents")
    fields: dict[str, Any] = VisitDraft.objects.get(visit=visit).fields
    late = Counter((one.name, one.typed) for one in late_texts(visit_id=visit.pk))
    for page in (0, 1):
        last = {item.name: item.text for item in items if item.page == page}
        for name, text in last.items():
            kept = fields.get(name, {}).get("text")
            if kept != text and (name != BOTH or (name, text) not in late):
                wrong.append(f"page {page}, {name}: typed {text}, kept {kept}, late {dict(late)}")
    return wrong


def test_each_intent_has_exactly_one_effect_and_none_is_lost(
    live_server: LiveServer, cast: Cast
) -> None:
    random, wrong = Random(26), []
    for number in range(SCHEDULES):
        visit = VisitFactory(
            patient=cast.ines, site=cast.harbour, clinician=cast.clinician, opened_at=MOMENT
        )
        items = _items(random, cast, visit)
        _send(random, live_server.url, items)
        wrong += [f"schedule {number}: {what}" for what in _ended_well(visit, items)]
        Visit.objects.filter(pk=visit.pk).update(state="cancelled")
    assert wrong == []
