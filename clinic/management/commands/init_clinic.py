"""A real, empty clinic: organisation, first site, and the first lead's one-time link."""

import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from clinic.forms.staff import OpenForm
from clinic.http import Unprocessable
from clinic.services.sites import open_clinic
from clinic.services.staff import address_of

QUESTIONS = {
    "organisation": "Name of the organisation",
    "site": "Name of the first site",
    "zone": "Its time zone, such as Europe/Lisbon",
    "lead": "Full name of the first clinic lead",
}


class Command(BaseCommand):
    """``manage.py init_clinic --organisation … --site … --zone … --lead …``, or asked for."""

    help = "Begin a real, empty clinic. Refuses when there is one."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """The four facts; on a terminal those not given are asked for."""
        for name, question in QUESTIONS.items():
            parser.add_argument(f"--{name}", default="", help=question)

    def handle(self, *args: Any, **options: Any) -> None:
        """Make it and print the link."""
        facts = {name: options[name] or self._ask(name) for name in QUESTIONS}
        form = OpenForm(facts)
        if not form.is_valid():
            told = form.errors.get_json_data()
            lines = [f"--{name}: {said[0]['message']}" for name, said in told.items()]
            raise CommandError("\n".join(lines))
        try:
            secret = open_clinic(**form.cleaned_data)
        except Unprocessable as fault:
            raise CommandError(fault.what_to_do) from fault
        self.stdout.write(
            f"{facts['organisation']} is there. {facts['lead']} opens this link within 72 hours; "
            "it works once:"
        )
        self.stdout.write(f"{address_of(secret)}")

    def _ask(self, name: str) -> str:
        if not sys.stdin.isatty():
            return ""
        return input(f"{QUESTIONS[name]}: ").strip()
