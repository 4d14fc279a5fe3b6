"""Put a copy in place of the database."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from clinic.http import Unprocessable
from clinic.services.backup import restore


class Command(BaseCommand):
    """``manage.py restore FILE``."""

    help = "Put a copy in place of the database. Stop Kneeledger first."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """The file, and that what is there may go."""
        parser.add_argument("file", type=Path)
        parser.add_argument(
            "--replace", action="store_true", help="a clinic is there, and it may be overwritten"
        )

    def handle(self, *args: Any, file: Path, replace: bool, **options: Any) -> None:
        """Check, put back, bring up to date."""
        try:
            restore(file=file, replace=replace)
        except Unprocessable as fault:
            raise CommandError(fault.what_to_do) from fault
        self.stdout.write(f"{file} is in place. Everybody signs in afresh.")
