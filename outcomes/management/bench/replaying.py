"""Two hundred waiting saves of a tablet, against as many bare posts that keep the same rows."""

from __future__ import annotations

import json
from typing import Any, Final
from uuid import uuid4

from clinic.models.care import Visit
from outcomes.interchange.sealed import sealed
from outcomes.management.bench.asking import Ask, OverHttp, Person, posted, served
from outcomes.management.bench.measuring import Act, Figure, compared, paired
from outcomes.services import outbox

SAVES: Final = 200
ROUNDS: Final = 9
"""At most: one round is two hundred posts of each side."""
FIELD: Final = "v:body_mass:none"


def replay(*, visits: Any, rounds: int) -> list[Figure]:
    """``visits`` gives opened visits of today, another for each round of each side."""
    with served() as connect:
        http = connect()
        mine, bare = paired(
            product=lambda: _act(http, _waiting(next(visits))),
            baseline=lambda: _act(http, _bare(next(visits))),
            rounds=min(rounds, ROUNDS),
        )
    return compared(name="replay_200", product=mine, baseline=bare, aim=1.5)


def _act(http: OverHttp, asks: list[Ask]) -> Act:
    def send() -> None:
        for ask in asks:
            http.send(ask)

    return send


def _waiting(visit: Visit) -> list[Ask]:
    """What a page that was long without network sends: sealed rows, each with its key."""
    public = outbox.public_key()
    staff = visit.clinician_id or 0
    given = outbox.pass_for(staff_id=staff, visit=visit.uid, sheet=str(uuid4()))
    return [
        posted(
            "/outbox/",
            {
                "key": str(uuid4()),
                "pass": given,
                "sealed": sealed(_row(number), to=public),
            },
        )
        for number in range(SAVES)
    ]


def _row(number: int) -> str:
    typed = {FIELD: f"{60 + number / 10:.1f}"}
    was = json.dumps({FIELD: ""})
    return json.dumps({"row": "body_mass", "n": number, "at": 0, "was": was, "typed": typed})


def _bare(visit: Visit) -> list[Ask]:
    """The same texts in the clear, by somebody who is signed in."""
    if visit.clinician is None:
        raise ValueError("nobody has this visit")
    person = Person(visit.clinician)
    return [
        person.post(
            f"/bench/visits/{visit.uid}/save",
            {"key": str(uuid4()), "n": str(number), "text": f"{60 + number / 10:.1f}"},
        )
        for number in range(SAVES)
    ]
