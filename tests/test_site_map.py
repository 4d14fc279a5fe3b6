"""Every address x everybody: who gets what, on real rows; and reading changes nothing.

Who gets what stands in ``tests/site_table.py``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from copy import deepcopy
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.apps import apps
from django.core.cache import cache
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver

from clinic import clock
from clinic.models.audit import AuditEntry
from clinic.models.care import Restriction, Visit
from clinic.models.places import Invitation, Membership, Tablet
from clinic.permissions import Actor
from clinic.services.staff import hash_of
from outcomes.core.values import Limb
from outcomes.models.agreement import LineRound
from outcomes.models.letters import Letter
from outcomes.models.record import Decision
from outcomes.models.versions import ProtocolVersion, Switch
from outcomes.queries.shell import Shell
from outcomes.services import letters, status
from outcomes.services.decisions import evidence_today
from tests.cast import MOMENT, TODAY, Cast, make_cast
from tests.factories.agreement import FigureSetFactory
from tests.factories.clinic import VisitFactory
from tests.factories.outcomes import (
    KOOS,
    EventFactory,
    PictureFactory,
    PlanStepFactory,
    both_limbs,
    keyed,
    signed_visit,
)
from tests.outcomes.own import add_own
from tests.outcomes.own_protocol import CODE, copied
from tests.outcomes.story import limit
from tests.site_table import BODIES, LINK, PEOPLE, TABLE, Row
from tests.web import signed_in


def table() -> dict[Row, list[str]]:
    """Route and method to what each person gets."""
    lines = [line.split() for line in TABLE.strip().splitlines()]
    return {(name, method): expected for name, method, *expected in lines}


def routes(resolver: URLResolver | None = None, before: str = "") -> Iterator[tuple[str, str]]:
    """Name and address pattern of every route that is mounted."""
    for one in (resolver or get_resolver()).url_patterns:
        if isinstance(one, URLResolver):
            yield from routes(one, before + str(one.pattern))
        elif isinstance(one, URLPattern):
            yield str(one.name), before + str(one.pattern)


class Rows:
    """Real rows of the cast's patient, and the address of each route that leads to them."""

    def __init__(self, cast: Cast) -> None:
        self.cast = cast
        cast.harbour.pictures = cast.harbour.keep_pictures = True
        cast.harbour.save()
        self.visit = VisitFactory(patient=cast.ines, site=cast.harbour, clinician=cast.clinician)
        self.picture = PictureFactory(visit=self.visit)
        for days in (30, 2):
            on = TODAY - timedelta(days=days)
            signed = signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=on)
            pair = both_limbs(visit=signed, measure="knee_flexion", left=140, right=120)
        self.reading = pair[0]
        self.limit = self._limits(cast)
        evidence = evidence_today(episode=cast.episode, milestone="running")
        self.decision = Decision.objects.create(
            episode=cast.episode,
            milestone="running",
            protocol_version=ProtocolVersion.objects.latest("pk"),
            course="not_yet",
            agreed="walk on, look again in two weeks",
            evidence=evidence.body,
            evidence_sha256=evidence.mark,
            decided_at=MOMENT,
            decided_by=cast.clinician,
        )
        self._questionnaires(cast)
        self.event = EventFactory(episode=cast.episode)
        PlanStepFactory(episode=cast.episode)
        self.round = LineRound.objects.create(
            figure_set=FigureSetFactory(), staff=cast.clinician, order=[*range(20)],
            started_at=MOMENT,
        )  # fmt: skip
        self._of_the_clinic(cast)
        actor = Actor(staff_id=cast.clinician.pk, site_id=cast.harbour.pk, request_id=uuid4())
        letters.draft(actor=actor, key=uuid4(), episode=cast.episode)
        self.letter = Letter.objects.get()
        status.rejudge_due(site_ids=[cast.harbour.pk, cast.millbank.pk])
        self.clients = {who: signed_in(getattr(cast, who)) for who in PEOPLE[:4]}
        self.clients["nobody"] = Client()

    def _limits(self, cast: Cast) -> Restriction:
        """One usual limit that was confirmed, and a procedure that nobody has confirmed."""
        cast.surgery.procedures = ["lateral_procedure", "meniscal_root_repair"]
        cast.surgery.save()
        return limit(
            cast,
            kind="pivoting",
            origin="template",
            procedure="lateral_procedure",
            told_on=TODAY - timedelta(days=90),
            until=TODAY + timedelta(days=5),
        )

    def _questionnaires(self, cast: Cast) -> None:
        for code in ("koos", "sane"):
            Switch.objects.create(code=code, state="on", changed_at=MOMENT, changed_by=cast.lead)
        for visit in Visit.objects.filter(patient=cast.ines, state="signed").order_by("date"):
            self.form = keyed(visit=visit, instrument="koos", answers=dict.fromkeys(KOOS, "1"))

    def _of_the_clinic(self, cast: Cast) -> None:
        self.held = Membership.objects.get(staff=cast.clinician)
        self.own = add_own(cast)
        copied(signed_in(cast.lead))
        self.tablet = Tablet.objects.create(
            site=cast.harbour,
            label="Gym tablet",
            key_hash=hash_of("key"),
            registered_by=cast.lead,
            registered_at=MOMENT,
        )
        self.link = Invitation.objects.create(
            token_hash=hash_of(LINK),
            site=cast.harbour,
            role="clinician",
            full_name="Nadia Brook",
            created_at=MOMENT,
            expires_at=MOMENT + timedelta(hours=72),
        )

    def address(self, pattern: str) -> str:
        """The pattern with its ids filled in."""
        return "/" + re.sub(r"<(?:\w+:)?(\w+)>", lambda m: self._value(pattern, m[1]), pattern)

    def _value(self, pattern: str, key: str) -> str:
        """The id for one place of an address; by the noun it starts with."""
        cast, noun = self.cast, pattern.split("/", 1)[0]
        if key == "number" and "limits" in pattern:
            return str(self.limit.pk)
        known: dict[tuple[str, str], Any] = {
            ("patients", "uid"): cast.ines.uid,
            ("episodes", "uid"): cast.episode.uid,
            ("visits", "uid"): self.visit.uid,
            ("visits", "name"): Shell(
                rows=("effusion",), last=(), knees=(Limb.LEFT,), short=True, mark=""
            ).name,
            ("referrers", "uid"): cast.surgeon.uid,
            ("tablets", "uid"): self.tablet.uid,
            ("letters", "uid"): self.letter.uid,
            ("events", "uid"): self.event.uid,
            ("line-reading", "uid"): self.round.uid,
            ("readings", "ident"): self.reading.pk,
            ("invitations", "ident"): self.link.pk,
            ("invitations", "token"): LINK,
            ("clinic", "ident"): self.held.pk,
            ("clinic", "code"): self.own if "measures" in pattern else cast.harbour.code,
            ("visits", "code"): "sane",
            ("visits", "row"): "pelvic_drop_lateral_heel_touch",
            ("visits", "limb"): "right",
            ("questionnaires", "uid"): self.form.uid,
            ("pictures", "uid"): self.picture.uid,
            ("patients", "picture"): self.picture.uid,
            ("patients", "code"): "koos-pain-rule_2012-right-as_scored",
            ("episodes", "code"): "running" if "milestones" in pattern else "knee_flexion",
            ("episodes", "number"): cast.surgery.pk if "surger" in pattern else self.decision.pk,
            ("protocols", "code"): CODE if "drafts" in pattern else "composite",
            ("protocols", "version"): 1,
            ("protocols", "milestone"): "running",
            ("protocols", "number"): 0,
            ("accounts", "pk"): 1,
        }
        if (noun, key) not in known:
            pytest.fail(f"{pattern}: say in Rows._value which row stands for {noun}, {key}")
        return str(known[noun, key])


@pytest.fixture
def rows(db: None) -> Iterator[Rows]:
    """The cast with a row of everything that an address can lead to."""
    cache.clear()
    with clock.held_at(MOMENT):
        yield Rows(make_cast())


def _ask(rows: Rows, who: str, row: Row, address: str) -> str:
    """The answer's code, or ``in`` for the sign-in page; what a POST did is undone."""
    (name, method), client = row, rows.clients[who]
    cookies = deepcopy(client.cookies)
    if method == "GET":
        answer = client.get(address)
    else:
        with transaction.atomic():
            answer = client.post(address, BODIES.get(name, {"nothing": "useful"}))
            transaction.set_rollback(True)
    client.cookies = cookies
    to_sign_in = answer.headers.get("Location", "").startswith("/accounts/login/")
    return "in" if to_sign_in and who == "nobody" else str(answer.status_code)


def test_every_address_is_in_the_table_and_every_line_is_an_address() -> None:
    mounted, listed = dict(routes()), {name for name, _ in table()}
    missing = [f"{name}  ({mounted[name]})" for name in mounted if name not in listed]
    assert missing == [], (
        "Add a line for each of these to TABLE in tests/site_table.py: name, GET or POST, and "
        "what front desk, clinician, lead, outsider and nobody get"
    )
    assert sorted(listed - set(mounted)) == []
    assert len(table()) == len(TABLE.strip().splitlines())


def test_everybody_gets_what_the_table_says_and_reading_changes_nothing(rows: Rows) -> None:
    before, written = _kept(), AuditEntry.objects.count()
    with transaction.atomic():
        wrong = _wrong(rows, "GET")
        assert AuditEntry.objects.count() > written
        assert _kept() == before
        transaction.set_rollback(True)  # what reading did to the sessions
    assert wrong + _wrong(rows, "POST") == []


def _wrong(rows: Rows, method: str) -> list[str]:
    """Where somebody gets something else than the table says; what locks the screen comes last."""
    mounted, found = dict(routes()), []
    asked = [(row, expected) for row, expected in table().items() if row[1] == method]
    for row, expected in sorted(asked, key=lambda one: one[0][0] == "lock"):
        address = rows.address(mounted[row[0]])
        got = [_ask(rows, who, row, address) for who in PEOPLE]
        if got != expected:
            found.append(f"{row[0]} {method} {address}: expected {expected}, got {got}")
    return found


def _kept() -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table but the audit trail and the sessions."""
    return {
        model._meta.label: list(model._default_manager.order_by("pk").values_list())
        for model in apps.get_models()
        if model is not AuditEntry and model._meta.app_label != "sessions"
    }


def test_what_is_not_posted_to_does_not_take_a_post(rows: Rows) -> None:
    listed, taken = table(), []
    for name, pattern in dict(routes()).items():
        if (name, "POST") not in listed:
            got = _ask(rows, "clinician", (name, "POST"), rows.address(pattern))
            if got not in ("405", "403", listed.get((name, "GET"), [""] * 5)[1]):
                taken.append(f"{name}: {got}")
    assert taken == []
