"""Backup and restore as a drill: copy, lose things, put back, compare, sign in."""

import hashlib
import stat
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.contrib.sessions.models import Session
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction
from django.test import Client

from clinic import clock
from clinic.models.places import Site
from outcomes.models.letters import Document
from tests.cast import MOMENT, PASSWORD, make_cast
from tests.web import signed_in

LETTER = b"%PDF-1.7 the bytes as they were signed \x00\xff"


def _counts() -> dict[str, int]:
    return {
        model._meta.label: model._default_manager.count()
        for model in apps.get_models()
        if model is not Session
    }


def _run(*arguments: str, **options: Any) -> str:
    said = StringIO()
    call_command(*arguments, stdout=said, **options)
    return said.getvalue()


@pytest.mark.django_db(transaction=True)
def test_the_drill_brings_everything_back(tmp_path: Path) -> None:
    file = tmp_path / "copy #1?.kneeledger"
    with clock.held_at(MOMENT):
        cast = make_cast()
    sha256 = hashlib.sha256(LETTER).hexdigest()
    Document.objects.create(content=LETTER, sha256=sha256, created_at=MOMENT)
    before = _counts()
    assert before["clinic.Patient"] == 1
    assert before["outcomes.MeasureVersion"] > 0

    assert "checked" in _run("backup", str(file))
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert sorted(path.name for path in tmp_path.iterdir()) == [file.name]

    Site.objects.create(organisation_id=1, code="later", name="Made after the copy")
    cast.ines.name = "Overwritten by mistake"
    cast.ines.save()
    client = signed_in(cast.lead)
    with pytest.raises(CommandError, match="--replace"):
        _run("restore", str(file))
    cast.ines.refresh_from_db()
    assert cast.ines.name == "Overwritten by mistake"

    _run("restore", str(file), replace=True)
    assert _counts() == before
    cast.ines.refresh_from_db()
    assert cast.ines.name == "Ines Marlow"
    document = Document.objects.get()
    assert hashlib.sha256(bytes(document.content)).hexdigest() == document.sha256 == sha256
    with pytest.raises(DatabaseError), transaction.atomic():
        Document.objects.all().delete()
    assert client.get("/me/").headers["Location"] == "/accounts/login/?next=/me/"
    answer = Client().post("/accounts/login/", {"login": "lead", "password": PASSWORD})
    assert (answer.status_code, answer.headers["Location"]) == (302, "/")


@pytest.mark.django_db
def test_a_backup_overwrites_nothing(tmp_path: Path) -> None:
    file = tmp_path / "copy"
    file.write_text("last week's copy")
    with pytest.raises(CommandError, match="exists already"):
        _run("backup", str(file))
    assert file.read_text() == "last week's copy"


@pytest.mark.django_db
@pytest.mark.parametrize("content", [None, b"", b"not a database at all", b"PGDMP" + b"\0" * 400])
def test_what_is_no_whole_copy_is_refused_before_anything_is_changed(
    tmp_path: Path, content: bytes | None
) -> None:
    make_cast()
    file = tmp_path / "copy"
    if content is not None:
        file.write_bytes(content)
    with pytest.raises(CommandError):
        _run("restore", str(file), replace=True)
    assert Site.objects.count() == 2


@pytest.mark.django_db(transaction=True)
def test_a_damaged_copy_is_refused(tmp_path: Path) -> None:
    make_cast()
    file = tmp_path / "copy"
    _run("backup", str(file))
    whole = file.read_bytes()
    if connection.vendor == "postgresql":
        file.write_bytes(whole[: len(whole) // 2])
    else:
        file.write_bytes(whole[:8192] + b"\xaa" * 60_000 + whole[68_192:])
    with pytest.raises(CommandError):
        _run("restore", str(file), replace=True)
    assert Site.objects.count() == 2
