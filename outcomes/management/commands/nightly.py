"""What cron runs each night: judge again what a new day changes, and throw away old keys."""

from typing import Any

from django.core.management.base import BaseCommand

from clinic.queries import staff
from clinic.services.upkeep import prune
from outcomes.services import status


class Command(BaseCommand):
    """``manage.py nightly``: run it after midnight of the westernmost site; twice does no harm."""

    help = "Judge again what a new day changes, and prune what has had its time."

    def handle(self, *args: Any, **options: Any) -> None:
        """One line each."""
        judged = status.rejudge_due(site_ids=staff.all_site_ids())
        pruned = prune()
        self.stdout.write(f"judged again: {judged}")
        self.stdout.write(
            f"thrown away: {pruned.intents} keys, {pruned.sessions} sessions, "
            f"{pruned.tries} sign-in tries"
        )
