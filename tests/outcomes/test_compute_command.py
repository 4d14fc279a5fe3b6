"""``compute`` and ``verify`` as an auditor runs them: no database, a status that tells."""

import json
import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

ROOT = Path(__file__).parents[2]
JUMP = b'{"calc":"jump_height","flight_time_s":0.4}\n'
NOWHERE = {"DATABASE_URL": "postgres://nobody@nowhere:1/none", "PATH": ""}
UNOPENED = {**os.environ, "DATABASE_URL": "sqlite:////nowhere/at/all.sqlite3"}


def started(
    *arguments: str, sent: bytes = b"", env: Mapping[str, str] = NOWHERE
) -> subprocess.CompletedProcess[bytes]:
    """The command in an environment whose database cannot be opened."""
    command = [sys.executable, "manage.py", *arguments]
    return subprocess.run(command, cwd=ROOT, env=env, input=sent, capture_output=True, check=False)


def test_compute_answers_each_line_in_order_and_ends_with_1_if_one_was_refused():
    done = started("compute", sent=JUMP + b"\n\xff\n" + JUMP.rstrip())
    answers = [json.loads(line) for line in done.stdout.splitlines()]
    assert [answer["ok"] for answer in answers] == [True, False, False, True]
    assert [answer.get("centimetres") for answer in answers] == [19.6133, None, None, 19.6133]
    assert (done.returncode, done.stderr) == (1, b"")


def test_compute_ends_with_0_when_all_were_ok_and_says_nothing_when_the_reader_goes_away():
    done = started("compute", sent=JUMP * 2, env=UNOPENED)
    assert [json.loads(line)["ok"] for line in done.stdout.splitlines()] == [True, True]
    assert (done.returncode, done.stderr) == (0, b"")
    command = f"yes '{JUMP.decode().strip()}' | {sys.executable} manage.py compute | head -n 1"
    cut = subprocess.run(command, shell=True, cwd=ROOT, capture_output=True, check=False)
    assert (json.loads(cut.stdout), cut.stderr) == ({"ok": True, "centimetres": 19.6133}, b"")


def test_verify_prints_what_its_list_holds():
    table, listed = started("verify", env=UNOPENED), started("verify", "--json")
    checks = json.loads(listed.stdout)
    said = table.stdout.decode()
    assert (table.returncode, listed.returncode, table.stderr, listed.stderr) == (0, 0, b"", b"")
    assert [check["id"] for check in checks if not check["ok"]] == []
    assert [check["id"] for check in checks if check["id"] not in said] == []
    asked_for = {
        "id", "topic", "function", "source", "kind", "expected", "computed", "tolerance", "ok",
    }  # fmt: skip
    assert {frozenset(check) for check in checks} == {frozenset(asked_for | {"trust", "wrong"})}
