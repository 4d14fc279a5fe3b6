"""How fast it is: pages, signing and letters against bare baselines, on a clinic of its own."""

import json
import os
import subprocess
import sys
from argparse import SUPPRESS
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.test.utils import override_settings

from outcomes.management.bench import baselines
from outcomes.management.bench.cases import CASES, Bench
from outcomes.management.bench.measuring import FEWEST_ROUNDS, MOST_ROUNDS, Figure
from outcomes.management.bench.tablet import Absent

FILE = "bench.sqlite3"


class Command(BaseCommand):
    """Measures in a process of its own, on a temporary SQLite file with the usual settings."""

    help = "How fast it is, against bare baselines. A few minutes; nothing is kept."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        """Everything is optional."""
        parser.add_argument("--json", action="store_true", help="a list instead of a table")
        parser.add_argument("--rounds", type=int, default=40, help="30 to 150; 40 if not said")
        parser.add_argument("--only", nargs="+", choices=list(CASES), default=list(CASES))
        parser.add_argument("--inside", type=Path, help=SUPPRESS)

    def handle(self, *args: Any, **options: Any) -> None:
        """Measure here when this is the process of its own, else start it."""
        if not FEWEST_ROUNDS <= options["rounds"] <= MOST_ROUNDS:
            raise CommandError(f"Between {FEWEST_ROUNDS} and {MOST_ROUNDS} rounds.")
        if options["inside"] is None:
            self._apart(options)
            return
        if Path(settings.DATABASES["default"]["NAME"]) != options["inside"] / FILE:
            raise CommandError("--inside is for the bench itself.")
        figures = self._measured(Bench(rounds=options["rounds"]), options["only"])
        write = self._json if options["json"] else self._table
        write(figures)

    def _apart(self, options: dict[str, Any]) -> None:
        """The same command on an empty file in a folder that is thrown away."""
        with TemporaryDirectory(prefix="bench-") as folder:
            environment = {
                **os.environ,
                "KNEELEDGER_PROFILE": "local",
                "SECOND_FACTOR_DEMANDED": "false",
                "DATABASE_URL": f"sqlite:///{folder}/{FILE}",
            }
            command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "bench"]
            command += ["--inside", folder, "--rounds", str(options["rounds"])]
            command += [*(["--json"] if options["json"] else []), "--only", *options["only"]]
            done = subprocess.run(command, env=environment, check=False)  # noqa: S603  ourselves
        if done.returncode:
            raise CommandError("The bench did not finish.")

    def _measured(self, bench: Bench, names: list[str]) -> list[Figure]:
        call_command("migrate", verbosity=0)
        figures: list[Figure] = []
        with override_settings(ROOT_URLCONF=baselines.__name__):
            for name in names:
                self.stderr.write(f"{name} ...")
                try:
                    figures += CASES[name](bench)
                except Absent as why:
                    self.stderr.write(f"{name} is left out: {why}")
        return figures

    def _json(self, figures: list[Figure]) -> None:
        self.stdout.write(json.dumps([figure.as_json() for figure in figures], indent=1))

    def _table(self, figures: list[Figure]) -> None:
        line = "{:<26} {:>10} {:>22} {:<28} {:>5} {}"
        self.stdout.write(line.format("", "median", "95 % interval", "unit", "aim", ""))
        for one in figures:
            span = "" if one.low == one.high else f"{one.low:.2f} to {one.high:.2f}"
            aim = "" if one.aim is None else f"{one.aim:g}"
            word = "" if one.aim is None else "ok" if one.ok else "NOT OK"
            self.stdout.write(
                line.format(one.name, f"{one.value:.2f}", span, one.unit, aim, word).rstrip()
            )
