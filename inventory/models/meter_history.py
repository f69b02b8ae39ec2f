"""What happened to a meter: tests against a reference block, and the shop's own tables."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q

from inventory.models.history import AppendOnly, AppendOnlyQuerySet
from inventory.models.moisture import Meter


class MeterTest(AppendOnly):
    """One look at a block of known value: what it should show and what the meter showed, %."""

    meter = models.ForeignKey(Meter, models.PROTECT, related_name="tests")
    on = models.DateField()
    at = models.DateTimeField(help_text="When it was entered")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True)
    block_pct = models.FloatField("the block's value, %")
    read_pct = models.FloatField("what the meter showed, %")
    next_due_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=300, blank=True)

    objects = AppendOnlyQuerySet.as_manager()

    class Meta(AppendOnly.Meta):
        abstract = False
        ordering = ["-on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(block_pct__gte=0, read_pct__gte=0), name="meter_test_possible"
            )
        ]

    def __str__(self) -> str:
        return f"{self.meter_id} on {self.on}: {self.read_pct} for {self.block_pct}"

    @property
    def offset_pct(self) -> float:
        """How far the meter reads above the block."""
        return self.read_pct - self.block_pct


class TableQuerySet(AppendOnlyQuerySet["MeterTable"]):
    def latest_first(self) -> Self:
        return self.order_by("-at", "-pk")


class MeterTable(AppendOnly):
    """The shop's own species table of a meter, as taken on a day; the latest holds.

    One without rows says that the meter goes by the published table again.
    """

    meter = models.ForeignKey(Meter, models.PROTECT, related_name="tables")
    at = models.DateTimeField(help_text="When it was entered")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True)
    note = models.CharField(max_length=300, blank=True)

    objects = TableQuerySet.as_manager()

    class Meta(AppendOnly.Meta):
        abstract = False
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"Table of {self.meter_id}, {self.at:%Y-%m-%d}"


class MeterCorrection(AppendOnly):
    """One row of a table: at this reading (at the meter's own temperature), this moisture content.

    Without a species it holds for every species that has no rows of its own.
    """

    table = models.ForeignKey(MeterTable, models.PROTECT, related_name="rows")
    species = models.ForeignKey("inventory.Species", models.PROTECT, null=True, blank=True)
    reading_pct = models.FloatField()
    corrected_pct = models.FloatField()

    objects = AppendOnlyQuerySet.as_manager()

    class Meta(AppendOnly.Meta):
        abstract = False
        ordering = ["table", "species", "reading_pct"]
        constraints = [
            models.UniqueConstraint(
                fields=["table", "species", "reading_pct"], name="meter_correction_once"
            ),
            models.UniqueConstraint(
                fields=["table", "reading_pct"],
                condition=Q(species__isnull=True),
                name="meter_correction_any_once",
            ),
            models.CheckConstraint(
                condition=Q(
                    reading_pct__gte=0,
                    reading_pct__lte=300,
                    corrected_pct__gte=0,
                    corrected_pct__lte=300,
                ),
                name="meter_correction_possible",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.reading_pct} → {self.corrected_pct}"
