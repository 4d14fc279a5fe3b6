"""The table of the shared cache: codes used once and tries counted."""

from typing import Any

from django.core.management import call_command
from django.db import migrations


def make_table(apps: Any, editor: Any) -> None:
    """Create it unless it is there."""
    call_command("createcachetable", verbosity=0, database=editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("clinic", "0003_pin_misses_and_renewal")]
    operations = [migrations.RunPython(make_table, migrations.RunPython.noop)]
