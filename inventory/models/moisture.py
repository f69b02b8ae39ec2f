"""Meters, moisture checks and their readings."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q

from inventory.models.history import AppendOnly, AppendOnlyQuerySet
from inventory.wood.moisture import CALIBRATION_C, CALIBRATION_WOOD, is_calibration_wood


class Method(models.TextChoices):
    PIN = "pin", "Pins (resistance)"
    PINLESS = "pinless", "Without pins (capacitance)"
    WEIGHING = "weighing", "Weighing"


class Meter(models.Model):
    """`calibrated_on` and `calibrated_at_c`: the wood and its temperature at which it reads true.

    `tested_on` and `test_due_on` follow from its latest test (inventory/meter_tests.py).
    """

    name = models.CharField(max_length=60, unique=True)
    method = models.CharField(max_length=8, choices=Method.choices, default=Method.PIN)
    calibrated_on = models.CharField(
        "calibrated on", max_length=60, default=CALIBRATION_WOOD, blank=True
    )
    calibrated_at_c = models.FloatField("calibrated at, °C", default=CALIBRATION_C)
    corrects_temperature = models.BooleanField(
        "corrects for wood temperature itself", default=False
    )
    corrects_species = models.BooleanField(
        "is set to the species by hand or by itself", default=False
    )
    note = models.TextField(blank=True)
    is_retired = models.BooleanField(default=False)
    tested_on = models.DateField("last tested on", null=True, editable=False)
    test_due_on = models.DateField("next test due on", null=True, editable=False)

    class Meta:
        ordering = ["is_retired", "name"]

    def __str__(self) -> str:
        return self.name

    @property
    def knows_our_table(self) -> bool:
        """Whether the published species table, made for meters set to Douglas-fir, fits it."""
        return is_calibration_wood(self.calibrated_on)


class Zone(models.TextChoices):
    SHELL = "shell", "Shell"
    BETWEEN = "between", "Between"
    CORE = "core", "Core"
    UNKNOWN = "", "Depth not said"


class CheckQuerySet(AppendOnlyQuerySet["MoistureCheck"]):
    def current(self) -> Self:
        """Checks no correction has superseded, latest first."""
        return self.filter(superseded_by__isnull=True).order_by("-on", "-at", "-pk")


class MoistureCheck(AppendOnly):
    """One visit to a slab with a meter, or a weighing; figures (% MC) follow from its readings."""

    derived_fields = frozenset(
        {
            "mean_pct",
            "max_pct",
            "min_pct",
            "shell_pct",
            "core_pct",
            "gradient_pct",
            "spread_pct",
            "places",
            "is_trusted",
        }
    )

    slab = models.ForeignKey("inventory.Slab", models.PROTECT, related_name="checks")
    on = models.DateField()
    at = models.DateTimeField(help_text="When it was entered")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True)
    meter = models.ForeignKey(Meter, models.PROTECT, null=True, blank=True)
    own_table = models.ForeignKey(
        "inventory.MeterTable",
        models.PROTECT,
        null=True,
        blank=True,
        help_text="The shop's own table that corrected for species",
    )
    weighing = models.OneToOneField(
        "inventory.Weighing",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="moisture_check",
        help_text="The weighing of the whole slab that this check tells of",
    )
    wood_temp_c = models.FloatField("wood temperature, °C", null=True, blank=True)
    note = models.CharField(max_length=300, blank=True)
    entry_key = models.CharField(
        max_length=40, null=True, blank=True, unique=True, help_text="So a resent form adds nothing"
    )
    supersedes = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="superseded_by"
    )

    mean_pct = models.FloatField(null=True, editable=False)
    max_pct = models.FloatField(null=True, editable=False)
    min_pct = models.FloatField(null=True, editable=False)
    shell_pct = models.FloatField(null=True, editable=False)
    core_pct = models.FloatField(null=True, editable=False)
    gradient_pct = models.FloatField(null=True, editable=False)
    spread_pct = models.FloatField(null=True, editable=False)
    places = models.PositiveSmallIntegerField(default=0, editable=False)
    is_trusted = models.BooleanField(
        default=False, editable=False, help_text="Every reading corrected and within meter range"
    )

    expected_pct = models.FloatField(
        null=True, editable=False, help_text="What the forecast that stood before it said, % MC"
    )
    expected_sd_pct = models.FloatField(null=True, editable=False, help_text="And its spread")

    objects = CheckQuerySet.as_manager()

    class Meta(AppendOnly.Meta):
        abstract = False
        indexes = [models.Index(fields=["slab", "-on", "-at"], name="check_slab_latest")]

    def __str__(self) -> str:
        return f"{self.slab_id} on {self.on}"


class RangeFlag(models.TextChoices):
    INSIDE = "", "Within the meter's range"
    BELOW = "below", "Below the meter's range"
    ABOVE = "above", "Above the meter's range"


class Reading(AppendOnly):
    """One number from the meter, as read and as corrected, with the correction used."""

    derived_fields = frozenset(
        {"corrected_pct", "temperature_step_pct", "species_step_pct", "is_corrected", "range_flag"}
    )

    moisture_check = models.ForeignKey(MoistureCheck, models.PROTECT, related_name="readings")
    position = models.PositiveSmallIntegerField()
    along = models.FloatField(null=True, blank=True, help_text="0 at the left end, 1 at the right")
    across = models.FloatField(null=True, blank=True, help_text="0 at the near edge, 1 at the far")
    depth_mm = models.FloatField(null=True, blank=True)
    zone = models.CharField(max_length=8, choices=Zone.choices, blank=True, default=Zone.UNKNOWN)
    raw_pct = models.FloatField()
    corrected_pct = models.FloatField()
    temperature_step_pct = models.FloatField(default=0)
    species_step_pct = models.FloatField(default=0)
    is_corrected = models.BooleanField(default=False)
    range_flag = models.CharField(max_length=5, choices=RangeFlag.choices, blank=True, default="")
    correction = models.CharField(max_length=300, blank=True)

    objects = AppendOnlyQuerySet.as_manager()

    class Meta(AppendOnly.Meta):
        abstract = False
        ordering = ["moisture_check", "position"]
        constraints = [
            models.UniqueConstraint(
                fields=["moisture_check", "position"], name="reading_position_once"
            ),
            models.CheckConstraint(
                condition=Q(along__isnull=True) | Q(along__gte=0, along__lte=1),
                name="reading_along_0_to_1",
            ),
            models.CheckConstraint(
                condition=Q(raw_pct__gte=0, raw_pct__lte=300), name="reading_raw_possible"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.raw_pct} % raw, {self.corrected_pct} %"
