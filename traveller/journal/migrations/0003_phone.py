"""Which phone told it: nothing for all that was told before."""

from __future__ import annotations

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("journal", "0002_format")]

    operations = [
        migrations.AddField(
            model_name="event",
            name="phone",
            field=models.CharField(blank=True, default="", max_length=16),
        ),
    ]
