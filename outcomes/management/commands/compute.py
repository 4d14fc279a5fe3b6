"""Answers JSON lines from standard input with exact numbers: for an auditor or another program."""

import os
import sys
from typing import Any

from django.core.management.base import BaseCommand

from outcomes.queries.compute import answer_bytes


class Command(BaseCommand):
    """Reads one JSON object a line and writes one a line, in order; no database is opened."""

    help = 'One JSON object a line in, one a line out: {"calc": "symmetry", ...}.'
    requires_system_checks = []

    def handle(self, *args: Any, **options: Any) -> None:
        """Exit 0 if every line could be answered, else 1: also when the reader went away."""
        every = True
        try:
            for raw in sys.stdin.buffer:
                line, ok = answer_bytes(line=raw)
                every &= ok
                self.stdout.write(line)
                self.stdout.flush()
        except BrokenPipeError:
            every = False
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0 if every else 1)
