"""Runs every check of our arithmetic against outside numbers and prints how each came out."""

import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from outcomes.queries.verify import as_json, verified


class Command(BaseCommand):
    """A table, or with ``--json`` a list; no database is opened."""

    help = "Our arithmetic against published numbers, standards and reference libraries."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        """Everything is optional."""
        parser.add_argument("--json", action="store_true", help="a list instead of a table")

    def handle(self, *args: Any, **options: Any) -> None:
        """Exit 1 if a check fails."""
        found = verified()
        if options["json"]:
            self.stdout.write(as_json())
        else:
            self._table()
        sys.exit(0 if all(check.ok for check in found) else 1)

    def _table(self) -> None:
        line = "{:<7} {:<18} {:<28} {:<18} {:>22} {:>30}"
        self.stdout.write(line.format("", "topic", "check", "kind", "expected", "computed"))
        for check in verified():
            word = "ok" if check.ok else "FAILED"
            word += "" if check.trust else " *"
            cells = (check.topic, check.id, check.kind, check.expected[:22], check.computed[:30])
            self.stdout.write(line.format(word, *cells).rstrip())
        failed = sum(not check.ok for check in verified())
        self.stdout.write(f"{len(verified())} checks, {failed} failed. "
                          "* wrong in print: ok when ours differs.")  # fmt: skip
