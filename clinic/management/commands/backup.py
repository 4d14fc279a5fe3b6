"""A checked copy of the database."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from clinic.http import Unprocessable
from clinic.services.backup import backup


class Command(BaseCommand):
    """``manage.py backup FILE``."""

    help = "Write a checked copy of the whole database; the clinic may be open meanwhile."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """The file to write."""
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, file: Path, **options: Any) -> None:
        """Copy and say how large it is."""
        try:
            size = backup(file=file)
        except Unprocessable as fault:
            raise CommandError(fault.what_to_do) from fault
        self.stdout.write(f"{file}: {size / 1_000_000:.1f} MB, checked. Keep a copy elsewhere.")
