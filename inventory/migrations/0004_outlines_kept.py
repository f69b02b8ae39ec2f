"""Outlines in the ledger; slabs on the record keep the wood of their widths until `rederive`."""

from django.apps.registry import Apps
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor


def from_widths(apps: Apps, schema: BaseDatabaseSchemaEditor) -> None:
    """Costs split by area go by the wood, so it may not be nothing until `rederive` is run."""
    slabs = apps.get_model("inventory", "Slab").objects.filter(area_mm2__gt=0, shape_basis="")
    slabs.update(wood_mm2=models.F("area_mm2"), shape_basis="widths")


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0003_true_shape"),
    ]

    operations = [
        migrations.AlterField(
            model_name="ledgerentry",
            name="kind",
            field=models.CharField(
                choices=[
                    ("received", "Received"),
                    ("measured", "Measured"),
                    ("moved", "Moved"),
                    ("stage", "Stage changed"),
                    ("priced", "Priced"),
                    ("held", "Held"),
                    ("released", "Released"),
                    ("allotted", "Allotted"),
                    ("sold", "Sold"),
                    ("used", "Used"),
                    ("written_off", "Written off"),
                    ("corrected", "Corrected"),
                    ("outlined", "Outline traced"),
                    ("untraced", "Outline taken back"),
                ],
                max_length=11,
            ),
        ),
        migrations.RunPython(from_widths, migrations.RunPython.noop),
    ]
