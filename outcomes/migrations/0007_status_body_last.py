"""``body`` becomes the last column of status today: SQLite reads a row up to what it is asked for.

What was kept is thrown away; every list and page judges again what it does not find.
"""

from django.db import migrations, models


def throw_away(apps, editor):
    apps.get_model("outcomes", "EpisodeStatus").objects.all().delete()


class Migration(migrations.Migration):
    dependencies = [
        ("outcomes", "0006_status_criteria_counts"),
    ]

    operations = [
        migrations.RunPython(throw_away, migrations.RunPython.noop),
        migrations.RemoveField(model_name="episodestatus", name="body"),
        migrations.AddField(
            model_name="episodestatus",
            name="body",
            field=models.JSONField(default=dict),
            preserve_default=False,
        ),
        migrations.RunPython(migrations.RunPython.noop, throw_away),
    ]
