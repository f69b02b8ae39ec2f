"""Commissions: a piece somebody wants, and the wood promised to it."""

from datetime import date
from typing import Self

from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.urls import reverse

from catalogue.models.client import Client
from inventory.models import Hold


class TopShape(models.TextChoices):
    RECTANGLE = "rectangle", "Rectangle"
    ROUND = "round", "Round"
    OVAL = "oval", "Oval"


class HowMade(models.TextChoices):
    ONE_SLAB = "one_slab", "One slab"
    BOOKMATCHED = "bookmatched", "Bookmatched pair"
    RESIN_PAIR = "resin_pair", "Pair joined by resin"


class Use(models.TextChoices):
    INTERIOR = "interior", "Interior furniture"
    RESIN = "resin", "Resin work"
    OUTDOOR = "outdoor", "Outdoor"


class Stage(models.TextChoices):
    OPEN = "open", "Open"
    DONE = "done", "Done"
    DROPPED = "dropped", "Dropped"


class CommissionQuerySet(models.QuerySet["Commission"]):
    def open(self) -> Self:
        """Still to be made, soonest start first (without a date last)."""
        return self.filter(stage=Stage.OPEN).order_by(
            models.F("start_on").asc(nulls_last=True), "pk"
        )

    def without_wood(self) -> Self:
        """Open, with no slab held or allotted."""
        active = CommissionHold.objects.filter(
            commission=OuterRef("pk"), hold__ended_at__isnull=True
        )
        return self.open().filter(~Exists(active))

    def starting_by(self, on: date) -> Self:
        return self.open().filter(start_on__lte=on)


class Commission(models.Model):
    """Sizes in mm; a round top has length = width = its diameter. Home air in °C and % RH."""

    title = models.CharField(max_length=80)
    client = models.ForeignKey(Client, models.PROTECT, related_name="commissions")
    stage = models.CharField(max_length=8, choices=Stage.choices, default=Stage.OPEN)
    top_shape = models.CharField(max_length=10, choices=TopShape.choices)
    top_length_mm = models.FloatField()
    top_width_mm = models.FloatField()
    finished_thickness_mm = models.FloatField()
    how_made = models.CharField(max_length=12, choices=HowMade.choices)
    use = models.CharField(max_length=8, choices=Use.choices, default=Use.INTERIOR)
    species = models.ManyToManyField(
        "inventory.Species", verbose_name="species wished", blank=True, related_name="+"
    )
    budget = models.DecimalField(
        "budget for wood", max_digits=12, decimal_places=2, null=True, blank=True
    )
    start_on = models.DateField("start date", null=True, blank=True)
    home_temp_c = models.FloatField("home temperature, °C", null=True, blank=True)
    home_rh_pct = models.FloatField("home humidity, % RH", null=True, blank=True)
    target_low_pct = models.FloatField("moisture from, %", null=True, blank=True)
    target_high_pct = models.FloatField("moisture to, %", null=True, blank=True)
    note = models.TextField("note for the house", blank=True)
    made_at = models.DateTimeField(auto_now_add=True)

    objects = CommissionQuerySet.as_manager()

    class Meta:
        ordering = ["start_on", "pk"]
        permissions = [("keep_commission", "May keep clients and commissions")]
        constraints = [
            models.CheckConstraint(
                condition=Q(top_length_mm__gt=0, top_width_mm__gt=0, finished_thickness_mm__gt=0),
                name="commission_top_has_size",
            ),
            models.CheckConstraint(
                condition=Q(target_low_pct__isnull=True)
                | Q(target_high_pct__isnull=True)
                | Q(target_low_pct__lt=models.F("target_high_pct")),
                name="commission_target_in_order",
                violation_error_message="The lower moisture must be below the upper.",
            ),
        ]

    def __str__(self) -> str:
        return self.title

    def get_absolute_url(self) -> str:
        return reverse("catalogue:commission", args=[self.pk])

    @property
    def promised_to(self) -> str:
        """What a hold's label says; staff read it on the slab."""
        return f"{self.client.name}: {self.title}"


class CommissionHold(models.Model):
    """Ties a hold of the inventory to the commission it serves."""

    commission = models.ForeignKey(Commission, models.PROTECT, related_name="promises")
    hold = models.OneToOneField(Hold, models.PROTECT, related_name="commission_link")

    def __str__(self) -> str:
        return f"{self.commission_id} / {self.hold_id}"
