"""A one-time link for someone who forgot the password and whom no lead can give one."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from clinic.http import Unprocessable
from clinic.services.staff import address_of, renew_from_console


class Command(BaseCommand):
    """``manage.py one_time_link USERNAME``."""

    help = "Print a link by which a person chooses a new password; second factors stay."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Whose password."""
        parser.add_argument("username")

    def handle(self, *args: Any, username: str, **options: Any) -> None:
        """Print the link."""
        try:
            secret = renew_from_console(username=username)
        except Unprocessable as fault:
            raise CommandError(fault.what_to_do) from fault
        self.stdout.write(address_of(secret))
