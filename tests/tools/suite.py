"""Everything that must hold before a change lands, in order; `./run test` calls this.

Each step prints one line with its seconds. A step that fails prints what it said, and the rest run
all the same; one that does not end in time is ended and has failed. A step that cannot run here
says why; where CI=true that is a failure, and so is a skipped test.
"""

import os
import re
import secrets
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Mapping, Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass, field
from pathlib import Path

from tests.tools import programs
from tests.tools.cluster import cluster

CI = os.environ.get("CI") == "true"
BIN = Path(sys.executable).parent
MEMORY = "sqlite://:memory:"
LIMIT = 25 * 60  # seconds for one step
_CLOSING = re.compile(r"\d+ (passed|failed|error|errors|skipped|deselected)\b.* in [\d.]+s")


@dataclass(frozen=True, kw_only=True)
class Step:
    """One thing that must hold: a command, what its environment adds, why it cannot run here."""

    name: str
    command: Sequence[str]
    environment: Mapping[str, str] = field(default_factory=dict)
    missing: str = ""


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """How a step went; ``closing`` is the test runner's own last line, if it is one."""

    name: str
    word: str
    closing: str = ""


def lint_steps() -> list[Step]:
    """Format, lint, types and import contract."""
    return [
        Step(name="format", command=[f"{BIN}/ruff", "format", "--check", "."]),
        Step(name="lint", command=[f"{BIN}/ruff", "check", "."]),
        Step(name="types", command=[f"{BIN}/mypy"]),
        Step(name="import contract", command=[f"{BIN}/lint-imports"]),
    ]


def _manage(name: str, *arguments: str, **environment: str) -> Step:
    command = [sys.executable, "manage.py", *arguments]
    return Step(name=name, command=command, environment=environment)


def _tests(name: str, *arguments: str, url: str, missing: str = "") -> Step:
    command = [sys.executable, "-m", "pytest", "--create-db", "--durations=5", *arguments]
    return Step(name=name, command=command, environment={"DATABASE_URL": url}, missing=missing)


def all_steps(*, postgresql: str) -> list[Step]:
    """The whole list; ``postgresql`` is a running server's address, empty when there is none.

    What asks for no database runs once, with SQLite.
    """
    workers = ("-n", "auto", "--max-worker-restart=0")
    again = (*workers, "-m", "database and not journey")
    screens = (*workers, "--dist", "loadfile", "-m", "journey")
    no_server = "" if postgresql else "PostgreSQL's server programs were not found"
    no_browser = "" if programs.chromium() else "Chromium was not found"
    return [
        *lint_steps(),
        _manage(
            "missing migrations", "makemigrations", "--check", "--dry-run", DATABASE_URL=MEMORY
        ),
        _manage(
            "deployment check",
            *("check", "--deploy", "--fail-level", "WARNING"),
            KNEELEDGER_PROFILE="production",
            SECRET_KEY=secrets.token_urlsafe(60),
            ALLOWED_HOSTS="clinic.example",
            DATABASE_URL="postgres://kneeledger@localhost/kneeledger",
        ),
        _tests("unit tests on SQLite", *workers, url=MEMORY),
        _tests("unit tests on PostgreSQL", *again, url=postgresql, missing=no_server),
        _tests("browser journeys", *screens, url=postgresql or MEMORY, missing=no_browser),
    ]


def run(step: Step) -> Outcome:
    """Run one step, print its line, and what it said if it failed."""
    print(f"{step.name:<26}", end="", flush=True)
    if step.missing:
        word = "FAILED" if CI else "skipped"
        print(f"{word}: {step.missing}", flush=True)
        return Outcome(name=step.name, word=word)
    started = time.monotonic()
    code, said = _call(step)
    closing = next((line for line in reversed(said) if _CLOSING.search(line)), "")
    skipped = CI and re.search(r"\d+ skipped", closing)
    word = "FAILED" if code or skipped else "ok"
    print(f"{word:<8}{time.monotonic() - started:7.1f} s", flush=True)
    if word == "FAILED":
        print("".join(said), flush=True)
    return Outcome(name=step.name, word=word, closing=closing.strip())


def _call(step: Step) -> tuple[int, list[str]]:
    """Its exit code and what it said; after the limit it is ended with all that it started."""
    environment = {**os.environ, "KNEELEDGER_PROFILE": "local", **step.environment}
    said = []
    with subprocess.Popen(
        step.command,
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
        start_new_session=True,
    ) as process:
        end = threading.Timer(LIMIT, _end, [process.pid])
        end.start()
        try:
            assert process.stdout is not None
            for line in process.stdout:
                said.append(line)
                if sys.stdout.isatty():
                    print(".", end="", flush=True)
        except BaseException:
            _end(process.pid)
            raise
        finally:
            end.cancel()
    return process.returncode, said


def _end(group: int) -> None:
    with suppress(ProcessLookupError):
        os.killpg(group, signal.SIGKILL)


def main(arguments: Sequence[str]) -> int:
    """Run ``lint`` alone or everything; the exit code is the number of steps that failed."""
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
    started = time.monotonic()
    with ExitStack() as stack:
        folder = "" if "lint" in arguments else programs.postgresql()
        postgresql = stack.enter_context(cluster(programs=folder)) if folder else ""
        steps = lint_steps() if "lint" in arguments else all_steps(postgresql=postgresql)
        outcomes = [run(step) for step in steps]
    failed = [outcome.name for outcome in outcomes if outcome.word == "FAILED"]
    skipped = [outcome.name for outcome in outcomes if outcome.word == "skipped"]
    print(f"\n{len(outcomes)} steps in {time.monotonic() - started:.0f} s", end="")
    print(f"; skipped: {', '.join(skipped)}" if skipped else "", end="")
    print(f"; FAILED: {', '.join(failed)}" if failed else "; nothing failed")
    for outcome in outcomes:
        if outcome.closing:
            print(f"{outcome.name}:\n{outcome.closing}")
    return len(failed)


if __name__ == "__main__":
    try:
        sys.exit(main(sys.argv[1:]))
    except KeyboardInterrupt:
        sys.exit(130)
