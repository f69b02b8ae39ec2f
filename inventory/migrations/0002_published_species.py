"""Put the published species table into a new yard; going back takes out the unused rows."""

from django.db import migrations

from inventory import species_table


def load(apps, schema_editor):
    species_table.load(apps.get_model("inventory", "Species"))


def unload(apps, schema_editor):
    species = apps.get_model("inventory", "Species")
    species.objects.filter(is_published=True, slabs__isnull=True, logs__isnull=True).delete()


class Migration(migrations.Migration):
    dependencies = [("inventory", "0001_initial")]

    operations = [migrations.RunPython(load, unload)]
