"""The door of letters: who reads, who writes, what a refusal gives away, and two at once."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from uuid import uuid4

import pytest
from django.db import connection

from clinic import clock
from clinic.http import Conflict
from clinic.models.audit import AuditEntry
from outcomes.letters.content import Edited, Typed
from outcomes.models.letters import Document, Letter
from outcomes.services import letters as service
from tests.cast import MOMENT, make_cast
from tests.outcomes.letters.desk import acting, drafted, form_of
from tests.web import signed_in, words_of

BYTES = b"%PDF-1.7 about Ines Marlow"


@pytest.fixture
def secret(cast):
    """A letter that was signed, with words that must not leak."""
    letter = drafted(cast)
    letter.question, letter.state, letter.signed_by = "Fractured?", "signed", cast.clinician
    letter.signed_at = MOMENT
    letter.document = Document.objects.create(content=BYTES, sha256="f" * 64, created_at=MOMENT)
    letter.save()
    return letter


@pytest.mark.parametrize(("who", "status"), [("desk", 403), ("outsider", 404)])
def test_a_refusal_gives_nothing_away_and_is_noted(cast, secret, who, status):
    client = signed_in(getattr(cast, who))
    before = AuditEntry.objects.count()
    answers = [
        client.get(f"/letters/{secret.uid}/"),
        client.get(f"/letters/{secret.uid}/pdf"),
        client.post(f"/letters/{secret.uid}/sign", form_of(secret)),
        client.post(f"/letters/{secret.uid}/replace", {"key": str(uuid4())}),
        client.post(f"/episodes/{cast.episode.uid}/letters", {"key": str(uuid4())}),
    ]
    for answer in answers:
        assert answer.status_code == status
        assert [
            w for w in ("Marlow", "Fractured", "H-0412", "%PDF") if w in str(answer.content)
        ] == []
    rows = AuditEntry.objects.order_by("id")[before:]
    assert [row.outcome for row in rows] == ["refused"] * 5
    assert (Letter.objects.count(), Document.objects.count()) == (1, 1)


def test_the_lead_reads_and_does_not_write(cast, secret):
    client = signed_in(cast.lead)
    assert client.get(f"/letters/{secret.uid}/pdf").content == BYTES
    page = words_of(client.get(f"/letters/{secret.uid}/"))
    assert ("Fractured?" in page, "Write a letter that replaces" in page) == (True, False)
    assert client.post(f"/letters/{secret.uid}/replace", {"key": str(uuid4())}).status_code == 403
    draft = Letter.objects.create(
        **{
            field.name: getattr(secret, field.name)
            for field in Letter._meta.concrete_fields
            if field.name not in ("id", "uid", "state", "signed_at", "signed_by", "document")
        },
        state="draft",
    )
    page = words_of(client.get(f"/letters/{draft.uid}/"))
    assert ("Fractured?" in page, "Save and preview" in page) == (True, False)
    assert "Write a letter" not in words_of(client.get(f"/patients/{cast.ines.uid}/"))


def test_each_page_and_print_writes_its_rows(cast, secret):
    before, client = AuditEntry.objects.count(), signed_in(cast.colleague)
    client.get(f"/letters/{secret.uid}/")
    client.get(f"/letters/{secret.uid}/pdf")
    rows = AuditEntry.objects.order_by("id")[before:]
    assert [(row.act, row.subject, row.subject_ids) for row in rows] == [
        ("read_letter", "episode", [cast.episode.pk]),
        ("read_letter", "episode", [cast.episode.pk]),
        ("print_letter", "letter", [secret.pk]),
    ]


def test_an_address_that_nobody_has_is_not_there(cast):
    answer = signed_in(cast.clinician).get(f"/letters/{uuid4()}/")
    assert answer.status_code == 404
    row = AuditEntry.objects.latest("id")
    assert (row.subject, row.outcome, row.note) == ("letter", "refused", "unknown address")


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_two_signatures_at_once_have_one_effect():
    with clock.held_at(MOMENT):
        cast = make_cast()
        letter, barrier = drafted(cast), Barrier(2)
        typed = Typed(bottom_line="A", question="", plan="B", next_test_on=None)
        edited = Edited(recipient_id=cast.surgeon.pk, copies=(), typed=typed, spellings={})

        def one(person):
            try:
                with clock.held_at(MOMENT):
                    mine = Letter.objects.select_related("episode__site").get(pk=letter.pk)
                    barrier.wait(timeout=20)
                    service.sign(
                        actor=acting(person, cast.harbour), key=uuid4(), letter=mine, seen=1,
                        edited=edited, as_it_stood=False,
                    )  # fmt: skip
            finally:
                connection.close()

        with ThreadPoolExecutor(max_workers=2) as pool:
            done = [pool.submit(one, person) for person in (cast.clinician, cast.colleague)]
        failed = [type(one.exception()) for one in done if one.exception()]
        assert failed == [Conflict]
        assert Document.objects.count() == 1
        letter.refresh_from_db()
        assert (letter.state, letter.version) == ("signed", 2)
