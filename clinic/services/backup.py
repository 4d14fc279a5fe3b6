"""Copies of the database and putting one back, on both engines; a copy is checked before it counts.

SQLite is copied by its backup API, never as a file, so that a running clinic may be copied.
PostgreSQL is copied by its own pg_dump; point-in-time recovery is the server's affair.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
from contextlib import closing
from pathlib import Path
from typing import Any
from urllib.parse import quote

from django.contrib.sessions.models import Session
from django.core.management import call_command
from django.db import connection

from clinic.http import Unprocessable
from clinic.models.places import Organisation

_FOLDERS = ("/usr/lib/postgresql/*/bin", "/opt/homebrew/opt/postgresql@*/bin", "/usr/pgsql-*/bin")
_OURS = "clinic_organisation"


def backup(*, file: Path) -> int:
    """Write a checked copy of the whole database and give its size in bytes.

    Raises ``Unprocessable`` when the file exists, and when the copy is not whole.
    """
    if file.exists():
        raise Unprocessable(f"{file} exists already: choose another name.")
    part = file.with_name(f"{file.name}.part")
    part.unlink(missing_ok=True)
    part.touch(mode=0o600)
    try:
        (_dump if connection.vendor == "postgresql" else _copy)(part)
        check(file=part)
        os.replace(part, file)
    finally:
        part.unlink(missing_ok=True)
    return file.stat().st_size


def restore(*, file: Path, replace: bool) -> None:
    """Put a checked copy in place of the database, bring it up to date and end every session.

    Raises ``Unprocessable`` when the file is no whole copy of this engine, and when the database
    holds a clinic and ``replace`` was not said.
    """
    check(file=file)
    has_clinic = _OURS in connection.introspection.table_names() and Organisation.objects.exists()
    if has_clinic and not replace:
        raise Unprocessable("This database holds a clinic. Nothing was changed; --replace does it.")
    (_load if connection.vendor == "postgresql" else _copy_back)(file)
    call_command("migrate", verbosity=0)
    Session.objects.all().delete()


def check(*, file: Path) -> None:
    """Read a copy to its last byte; raises ``Unprocessable`` when it is not whole."""
    if not file.is_file():
        raise Unprocessable(f"There is no file {file}.")
    if connection.vendor == "postgresql":
        _call("pg_restore", "--file", os.devnull, str(file))
        return
    try:
        with closing(sqlite3.connect(f"file:{quote(str(file))}?mode=ro", uri=True)) as copy:
            wrong = [row[0] for row in copy.execute("PRAGMA integrity_check") if row[0] != "ok"]
            wrong += [f"{row[0]} {row[1]}" for row in copy.execute("PRAGMA foreign_key_check")]
            names = copy.execute("SELECT 1 FROM sqlite_master WHERE name = ?", [_OURS]).fetchall()
    except sqlite3.DatabaseError as error:
        raise Unprocessable(f"{file} is no copy of a database: {error}.") from error
    if wrong or not names:
        raise Unprocessable(f"{file} is not a whole copy: {'; '.join(wrong[:5]) or 'no clinic'}.")


def _sqlite() -> sqlite3.Connection:
    connection.ensure_connection()
    raw: sqlite3.Connection = connection.connection
    return raw


def _copy(part: Path) -> None:
    with closing(sqlite3.connect(part)) as target:
        _sqlite().backup(target)
        target.execute("PRAGMA journal_mode=DELETE")


def _copy_back(file: Path) -> None:
    with closing(sqlite3.connect(f"file:{quote(str(file))}?mode=ro", uri=True)) as source:
        try:
            source.backup(_sqlite())
        except sqlite3.OperationalError as error:
            raise Unprocessable("The database is in use: stop Kneeledger first.") from error


def _dump(part: Path) -> None:
    name = str(connection.settings_dict["NAME"])
    _call("pg_dump", "--format=custom", "--no-owner", "--no-acl", "--file", str(part), name)


def _load(file: Path) -> None:
    name = str(connection.settings_dict["NAME"])
    connection.close()
    options = ("--clean", "--if-exists", "--no-owner", "--no-acl", "--single-transaction")
    _call("pg_restore", *options, "--dbname", name, str(file))


def _call(program: str, *arguments: str) -> None:
    """Run a program of PostgreSQL; the password goes by the environment, never by a list."""
    settings: dict[str, Any] = connection.settings_dict
    said = {
        "PGHOST": settings.get("HOST"),
        "PGPORT": settings.get("PORT"),
        "PGUSER": settings.get("USER"),
        "PGPASSWORD": settings.get("PASSWORD"),
    }
    environment = {**os.environ, **{name: str(value) for name, value in said.items() if value}}
    done = subprocess.run(  # noqa: S603  a program found by name, arguments of our own
        [_program(program), *arguments],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise Unprocessable(f"{program} failed: {done.stderr.strip() or 'it did not say why'}")


def _program(name: str) -> str:
    """The program on the PATH, else the newest in the usual places."""
    found = [p for pattern in _FOLDERS for p in Path("/").glob(f"{pattern[1:]}/{name}")]
    newest = max(found, key=lambda p: int("".join(filter(str.isdigit, str(p))) or 0), default=None)
    path = shutil.which(name) or (str(newest) if newest else "")
    if not path:
        raise Unprocessable(f"{name} was not found: install PostgreSQL's client programs.")
    return path
