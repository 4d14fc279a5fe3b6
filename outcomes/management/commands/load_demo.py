"""Load the invented demo clinic into an empty database."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from clinic.models.places import Organisation
from outcomes.management.demo.loader import Loader


class Command(BaseCommand):
    """Load the invented demo clinic; refuses a database that holds a clinic already."""

    help = __doc__ or ""

    def handle(self, *args: Any, **options: Any) -> None:
        """Load everybody, with a line of progress for every ten patients."""
        if Organisation.objects.exists():
            raise CommandError("This database holds a clinic already; nothing was loaded.")
        with _unsynced():
            Loader(say=self.stdout.write).load()


@contextmanager
def _unsynced() -> Iterator[None]:
    """SQLite need not wait for the disk: a load that is cut off is started over anyway."""
    if connection.vendor != "sqlite":
        yield
        return
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA synchronous=OFF")
        try:
            yield
        finally:
            cursor.execute("PRAGMA synchronous=FULL")
