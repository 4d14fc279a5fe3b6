"""New episodes follow the second version of the starter protocol; old ones keep theirs."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("clinic", "0001_initial"),
    ]

    operations = [
        migrations.AlterField(
            model_name="episode",
            name="protocol",
            field=models.CharField(default="starter@2", max_length=40),
        ),
    ]
