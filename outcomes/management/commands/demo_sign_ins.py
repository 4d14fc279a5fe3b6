"""Print one sign-in for each role of the demo clinic."""

from typing import Any

from django.core.management.base import BaseCommand

from outcomes.management.demo.loader import PASSWORD

ROLES = (("front desk", "dora"), ("clinician", "tess"), ("clinic lead", "lena"))


class Command(BaseCommand):
    """One sign-in for each role of the demo clinic."""

    help = __doc__ or ""

    def handle(self, *args: Any, **options: Any) -> None:
        """Print role, sign-in name and password."""
        for role, username in ROLES:
            self.stdout.write(f"  {role:<12} {username:<6} {PASSWORD}")
