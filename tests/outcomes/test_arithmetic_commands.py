"""``compute`` and ``verify`` as an auditor runs them: without a database, by their exit codes."""

import json
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
NOWHERE = {"DATABASE_URL": "postgres://nobody@nowhere:1/none", "PATH": ""}


def ran(*arguments: str, sent: str = "") -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "manage.py", *arguments], cwd=ROOT, check=False, capture_output=True,
        input=sent.encode("utf-8", errors="surrogateescape"), env=NOWHERE,
    )  # fmt: skip


def test_compute_answers_line_by_line_and_its_exit_code_says_whether_all_were_ok() -> None:
    good = json.dumps({"calc": "jump_height", "flight_time_s": 0.4})
    for sent, answers, code in (
        (f"{good}\n{good}\n", [True, True], 0),
        (f"{good}\n\n\udcff\n{good}", [True, False, False, True], 1),
    ):
        done = ran("compute", sent=sent)
        found = [json.loads(line)["ok"] for line in done.stdout.decode().splitlines()]
        assert (found, done.returncode, done.stderr) == (answers, code, b"")


def test_verify_lists_every_check() -> None:
    done = ran("verify", "--json")
    found = json.loads(done.stdout)
    assert (done.returncode, done.stderr, [row["id"] for row in found if not row["ok"]]) == (
        0, b"", [],
    )  # fmt: skip
    named = {"id", "topic", "function", "source", "kind", "expected", "computed", "tolerance", "ok"}
    assert [row for row in found if not named <= set(row)] == []
