"""Where a draft's edge hardly showed is kept with the outline that came of it."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inventory", "0003_true_shape")]

    operations = [
        migrations.AddField(
            model_name="outline",
            name="doubtful",
            field=models.JSONField(default=list),
        ),
    ]
