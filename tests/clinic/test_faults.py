"""What is told when something fails: a busy or full database, a refusal, a bug; and the log."""

import contextlib
import json
import logging
import os
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from io import StringIO
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from django.db import DEFAULT_DB_ALIAS, OperationalError, connection, connections
from django.test import Client

from clinic import clock
from clinic.http import JsonLines
from clinic.models.audit import AuditEntry
from clinic.models.places import StaffMember
from clinic.services import own
from clinic.services.backup import backup
from tests.cast import MOMENT, Cast, make_cast
from tests.web import signed_in, words_of

FORM = {"credential": "Physiotherapist, knees", "contact": "Harbour Street", "password": "secret"}
HTMX = {"HX-Request": "true"}


@pytest.fixture
def on_disk(transactional_db: None, tmp_path: Path) -> Iterator[Cast]:
    """The cast in an SQLite file of its own, as a clinic has it, that gives up waiting at once."""
    with clock.held_at(MOMENT):
        cast = make_cast()
        file = tmp_path / "clinic.sqlite3"
        backup(file=file)
        settings = {**connection.settings_dict, "NAME": str(file)}
        settings["OPTIONS"] = {**settings["OPTIONS"], "timeout": 0.05}
        in_memory = connections[DEFAULT_DB_ALIAS]
        connections[DEFAULT_DB_ALIAS] = type(in_memory)(settings, DEFAULT_DB_ALIAS)
        try:
            yield cast
        finally:
            connections[DEFAULT_DB_ALIAS].close()
            connections[DEFAULT_DB_ALIAS] = in_memory


def _credential() -> str:
    return StaffMember.objects.get(username="clinician").credential


def _holds_the_form(answer: Any) -> bool:
    html = answer.content.decode()
    hidden = 'name="credential" value="Physiotherapist, knees"' in html
    return hidden and 'name="contact" value="Harbour Street"' in html


@pytest.mark.sqlite
def test_a_busy_database_saves_nothing_and_keeps_the_form(on_disk: Cast) -> None:
    client = signed_in(on_disk.clinician)
    with closing(sqlite3.connect(connection.settings_dict["NAME"])) as other:
        other.execute("BEGIN IMMEDIATE")
        answer = client.post("/me/printed", FORM)
        assert answer.status_code == 503
        assert "NOT saved" in words_of(answer)
        assert _holds_the_form(answer)
        assert "secret" not in answer.content.decode()
        fragment = client.post("/me/printed", FORM, headers=HTMX)
        assert (fragment.status_code, fragment.headers["HX-Retarget"]) == (503, "#alert")
        assert "NOT saved" in words_of(fragment)
        assert "<html" not in fragment.content.decode()
        page = client.get("/me/")
        assert (page.status_code, "Not available at the moment" in words_of(page)) == (503, True)
        other.rollback()
    assert _credential() == "Physiotherapist"
    assert client.post("/me/printed", FORM).status_code == 302
    assert _credential() == "Physiotherapist, knees"


@pytest.mark.sqlite
def test_a_database_that_is_busy_before_any_view_runs_says_the_same(on_disk: Cast) -> None:
    client = signed_in(on_disk.clinician)
    with closing(sqlite3.connect(connection.settings_dict["NAME"])) as other:
        other.execute("BEGIN IMMEDIATE")
        with clock.held_at(MOMENT.replace(minute=2)):
            answer = client.post("/me/printed", FORM)
        assert (answer.status_code, _holds_the_form(answer)) == (503, True)
        other.rollback()


def _fill_up(note: str) -> None:
    """Add rows until the database says that it is full."""
    row = {"at": MOMENT, "request_id": UUID(int=0), "act": "", "subject": "", "note": note}
    with contextlib.suppress(OperationalError):
        for _ in range(100_000):
            AuditEntry.objects.create(**row)


@pytest.mark.sqlite
def test_a_full_disk_saves_nothing_and_keeps_the_form(on_disk: Cast) -> None:
    client = signed_in(on_disk.clinician)
    with connection.cursor() as cursor:
        pages = cursor.execute("PRAGMA page_count").fetchone()[0]
        cursor.execute(f"PRAGMA max_page_count = {pages}")
    _fill_up("x" * 200)
    _fill_up("")
    answer = client.post("/me/printed", FORM)
    assert (answer.status_code, "NOT saved" in words_of(answer)) == (503, True)
    assert _holds_the_form(answer)
    assert _credential() == "Physiotherapist"
    with connection.cursor() as cursor:
        assert cursor.execute("PRAGMA integrity_check").fetchone() == ("ok",)


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_a_lost_connection_saves_nothing_and_the_next_request_works() -> None:
    with clock.held_at(MOMENT):
        client = signed_in(make_cast().clinician, raise_request_exception=False)
        connection.ensure_connection()
        doomed = connection.connection.info.backend_pid
        other = connection.copy()
        with other.cursor() as cursor:
            cursor.execute("SELECT pg_terminate_backend(%s)", [doomed])
        other.close()
        answer = client.post("/me/printed", FORM)
        assert (answer.status_code, "NOT saved" in words_of(answer)) == (503, True)
        connection.close()
        assert _credential() == "Physiotherapist"
        assert client.post("/me/printed", FORM).status_code == 302


@pytest.fixture
def log() -> Iterator[Callable[[], list[dict[str, Any]]]]:
    """The lines that the program's own handler has written since the test began."""
    (handler,) = [h for h in logging.getLogger().handlers if isinstance(h.formatter, JsonLines)]
    assert isinstance(handler, logging.StreamHandler)
    written = StringIO()
    before = handler.setStream(written)
    yield lambda: [json.loads(line) for line in written.getvalue().splitlines()]
    handler.setStream(before)


def test_a_bug_shows_a_page_and_logs_no_value(
    cast: Cast, monkeypatch: pytest.MonkeyPatch, log: Callable[[], list[dict[str, Any]]]
) -> None:
    def fail(**kwargs: Any) -> None:
        patient = cast.ines.name
        raise RuntimeError(f"could not handle {patient} in {kwargs}")

    monkeypatch.setattr(own, "describe_self", fail)
    client = signed_in(cast.clinician, raise_request_exception=False)
    answer = client.post("/me/printed?who=Marlow", {**FORM, "contact": "Ines Marlow"})
    assert (answer.status_code, "This did not work" in words_of(answer)) == (500, True)
    assert "Marlow" not in answer.content.decode()
    lines = log()
    (line,) = [line for line in lines if line["level"] == "ERROR"]
    assert (line["route"], line["status"], line["exception"]) == ("me_printed", 500, "RuntimeError")
    assert [where for where in line["where"] if where.endswith(" fail")] != []
    assert "Marlow" not in json.dumps(lines)
    assert "knees" not in json.dumps(lines)


def test_refusals_are_pages_and_fragments(cast: Cast) -> None:
    desk = signed_in(cast.desk)
    for address, status, title in (
        ("/clinic/", 403, "Not part of your role"),
        ("/clinic/sites/millbank/", 404, "Not found here"),
        ("/nowhere/", 404, "Not found here"),
    ):
        page, fragment = desk.get(address), desk.get(address, headers=HTMX)
        assert (page.status_code, fragment.status_code) == (status, status)
        assert title in words_of(page)
        assert title in words_of(fragment)
        assert "<html" in page.content.decode()
        assert "<html" not in fragment.content.decode()


def test_a_form_without_its_token_changes_nothing(cast: Cast) -> None:
    client = signed_in(cast.clinician, enforce_csrf_checks=True)
    answer = client.post("/me/printed", FORM)
    assert (answer.status_code, "open too long" in words_of(answer)) == (403, True)
    assert _credential() == "Physiotherapist"


def test_health_is_told_without_a_sign_in(db: None) -> None:
    answer = Client().get("/healthz")
    assert (answer.status_code, answer.headers["Content-Type"]) == (200, "application/json")
    assert answer.json() == {"status": "ok", "version": "0.1.0", "database": "ok"}


def test_health_is_503_while_the_database_is_away() -> None:
    ask = (
        "import django; django.setup(); from django.test import Client; c = Client(); "
        "c.cookies['sessionid'] = 'any'; a = c.get('/healthz', headers={'host': 'localhost'}); "
        "print(a.status_code, a.content)"
    )
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "clinic.settings",
        "DATABASE_URL": "postgres://nobody@127.0.0.1:9/none",
    }
    done = subprocess.run(
        [sys.executable, "-c", ask],
        env=environment,
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.startswith("503 ")
    assert '"status": "failing"' in done.stdout
    assert '"database": "not reached"' in done.stdout
