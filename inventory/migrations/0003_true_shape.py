"""True shapes: outlines traced and what follows from them, in the ledger too; what a check was
expected to read. Slabs on the record keep the wood of their widths until `rederive`.
"""

import django.db.models.deletion
from django.apps.registry import Apps
from django.conf import settings
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor


def from_widths(apps: Apps, schema: BaseDatabaseSchemaEditor) -> None:
    """Costs split by area go by the wood, so it may not be nothing until `rederive` is run."""
    slabs = apps.get_model("inventory", "Slab").objects.filter(area_mm2__gt=0, shape_basis="")
    slabs.update(wood_mm2=models.F("area_mm2"), shape_basis="widths")


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0002_published_species"),
    ]

    operations = [
        migrations.AddField(
            model_name="slab",
            name="are_widths_unplaced",
            field=models.BooleanField(
                default=False,
                help_text="Only least, middle and greatest width were taken, not where along the slab",
            ),
        ),
        migrations.AddField(
            model_name="slab",
            name="circle_mm",
            field=models.FloatField(default=0, editable=False, verbose_name="largest circle"),
        ),
        migrations.AddField(
            model_name="slab",
            name="shape_basis",
            field=models.CharField(blank=True, default="", editable=False, max_length=6),
        ),
        migrations.AddField(
            model_name="slab",
            name="wood_mm2",
            field=models.FloatField(default=0, editable=False),
        ),
        migrations.CreateModel(
            name="Outline",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "side",
                    models.CharField(
                        choices=[("upper", "Upper face"), ("lower", "Lower face")],
                        default="upper",
                        max_length=5,
                    ),
                ),
                ("scale", models.JSONField(default=dict)),
                (
                    "raised_mm",
                    models.FloatField(
                        default=0.0,
                        help_text="How far the traced face lies above the sheets, in mm",
                    ),
                ),
                ("clicks", models.JSONField(default=list)),
                ("traced", models.JSONField(default=list)),
                ("traced_holes", models.JSONField(default=list)),
                ("to_slab", models.JSONField(default=list)),
                ("ring", models.JSONField(default=list)),
                ("holes", models.JSONField(default=list)),
                ("is_bark_inside", models.BooleanField(default=False)),
                (
                    "bark_mm",
                    models.FloatField(
                        default=0.0, help_text="Thickness of the bark inside the line"
                    ),
                ),
                (
                    "corrected_points",
                    models.PositiveIntegerField(
                        default=0,
                        help_text="How many points of the draft the person moved, added or took away",
                    ),
                ),
                (
                    "cautions",
                    models.JSONField(
                        default=list, help_text="What was said of it when it was kept"
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "photo",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="outlines",
                        to="inventory.photo",
                    ),
                ),
                (
                    "slab",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="outlines",
                        to="inventory.slab",
                    ),
                ),
                (
                    "supersedes",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="superseded_by",
                        to="inventory.outline",
                    ),
                ),
            ],
            options={
                "ordering": ["slab", "pk"],
                "abstract": False,
                "default_permissions": ("add", "view"),
            },
        ),
        migrations.CreateModel(
            name="SlabShape",
            fields=[
                (
                    "slab",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="shape_row",
                        serialize=False,
                        to="inventory.slab",
                    ),
                ),
                (
                    "basis",
                    models.CharField(
                        choices=[
                            ("traced", "Traced from a photograph"),
                            ("widths", "From widths along it"),
                            ("three", "From least, middle and greatest width"),
                            ("", "Not measured"),
                        ],
                        max_length=6,
                    ),
                ),
                ("wood", models.BinaryField()),
                ("length_mm", models.FloatField()),
                ("area_mm2", models.FloatField()),
                ("wood_mm2", models.FloatField()),
                ("lower_area_mm2", models.FloatField(null=True)),
                ("lower_wood_mm2", models.FloatField(null=True)),
                ("mean_width_mm", models.FloatField()),
                ("least_width_mm", models.FloatField()),
                ("greatest_width_mm", models.FloatField()),
                ("circle_x_mm", models.FloatField()),
                ("circle_y_mm", models.FloatField()),
                ("circle_mm", models.FloatField(verbose_name="diameter of the largest circle")),
                ("widths_mm", models.BinaryField()),
                ("centre_mm", models.BinaryField()),
                ("profile_mm", models.BinaryField()),
                ("upper_mm", models.BinaryField()),
                ("lower_mm", models.BinaryField()),
                ("capacity_mm", models.BinaryField()),
                ("doubles_back", models.BooleanField(default=False)),
                (
                    "lower_outline",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="inventory.outline",
                    ),
                ),
                (
                    "outline",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="inventory.outline",
                    ),
                ),
            ],
        ),
        migrations.AddConstraint(
            model_name="outline",
            constraint=models.CheckConstraint(
                condition=models.Q(("bark_mm__gte", 0)), name="outline_bark_known"
            ),
        ),
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
        migrations.AddField(
            model_name="moisturecheck",
            name="expected_pct",
            field=models.FloatField(
                editable=False,
                help_text="What the forecast that stood before it said, % MC",
                null=True,
            ),
        ),
        migrations.AddField(
            model_name="moisturecheck",
            name="expected_sd_pct",
            field=models.FloatField(editable=False, help_text="And its spread", null=True),
        ),
        migrations.RunPython(from_widths, migrations.RunPython.noop),
    ]
