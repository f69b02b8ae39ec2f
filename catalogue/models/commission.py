"""Commissions: a piece somebody wants, and the wood promised to it."""

from datetime import date
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.urls import reverse

from catalogue.models.client import Client
from inventory.models import AppendOnly, AppendOnlyQuerySet, Hold


class TopShape(models.TextChoices):
    RECTANGLE = "rectangle", "Rectangle"
    ROUNDED = "rounded", "Rectangle with rounded corners"
    ROUND = "round", "Round"
    OVAL = "oval", "Oval"
    BOAT = "boat", "Boat"
    LIVE_EDGE = "live_edge", "Live edge, straight ends"


class HowMade(models.TextChoices):
    ONE_SLAB = "one_slab", "One slab"
    BOOKMATCHED = "bookmatched", "Bookmatched pair"
    RESIN_PAIR = "resin_pair", "Pair joined by resin"
    RESIN_SIDES = "resin_sides", "One slab with resin along it"


class KeptEdges(models.TextChoices):
    """Which live edges a live-edge top keeps."""

    BOTH = "both", "Both"
    ONE = "one", "One; the other is cut straight"


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
    corner_mm = models.FloatField("corner radius", null=True, blank=True)
    end_width_mm = models.FloatField("width at the ends", null=True, blank=True)
    kept_edges = models.CharField(
        "live edges kept", max_length=4, choices=KeptEdges.choices, default=KeptEdges.BOTH
    )
    finished_thickness_mm = models.FloatField()
    margin_mm = models.FloatField(
        "spare wood all round", default=0.0, help_text="Kept between the top and the wood's edge"
    )
    wane_mm = models.FloatField(
        "wane", default=0.0, help_text="Taken off every live edge: wane, sapwood, soft edge"
    )
    plates = models.JSONField(
        "base plates", default=list, blank=True, help_text="See catalogue/layout/fastening.py"
    )
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


class LaidTopQuerySet(AppendOnlyQuerySet["LaidTop"]):
    def unsuperseded(self) -> "LaidTopQuerySet":
        """Not superseded; among them those that only say a layout was taken back."""
        return self.filter(superseded_by__isnull=True)

    def current(self) -> "LaidTopQuerySet":
        return self.unsuperseded().exclude(placed=[])


class LaidTop(AppendOnly):
    """A top laid by hand (or taken from a candidate) and kept with its commission.

    `placed` is one record a slab, in their order, as catalogue/layout/placed.py writes it, with
    the slab's code and the outline it was laid on; `top` the top as it was asked then. `figures`
    are those shown when it was kept. A row with nothing placed takes back the one it supersedes.
    """

    commission = models.ForeignKey(Commission, models.PROTECT, related_name="laid_tops")
    supersedes = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="superseded_by"
    )
    slabs = models.ManyToManyField("inventory.Slab", related_name="laid_tops")
    how_made = models.CharField(max_length=12, choices=HowMade.choices)
    top = models.JSONField(default=dict)
    placed = models.JSONField(default=list)
    plates = models.JSONField(default=list)
    figures = models.JSONField(default=dict)
    note = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True)
    at = models.DateTimeField()

    objects = LaidTopQuerySet.as_manager()

    class Meta(AppendOnly.Meta):
        ordering = ["commission", "pk"]

    def __str__(self) -> str:
        return f"Laid top {self.pk} of {self.commission_id}"

    @property
    def is_withdrawn(self) -> bool:
        return not self.placed


class CommissionHold(models.Model):
    """Ties a hold of the inventory to the commission it serves."""

    commission = models.ForeignKey(Commission, models.PROTECT, related_name="promises")
    hold = models.OneToOneField(Hold, models.PROTECT, related_name="commission_link")

    def __str__(self) -> str:
        return f"{self.commission_id} / {self.hold_id}"
