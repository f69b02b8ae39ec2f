"""Where wood came from: parcels bought, their costs, and the logs in them."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q

from inventory.models.history import AppendOnly, AppendOnlyQuerySet


class SplitBasis(models.TextChoices):
    VOLUME = "volume", "Volume"
    AREA = "area", "Face area"
    ASKING = "asking", "Asking price"
    EQUAL = "equal", "The same for each"


class Parcel(models.Model):
    """A lot of wood bought at one time; its landed cost is split over its slabs."""

    name = models.CharField(max_length=80, unique=True)
    supplier = models.CharField(max_length=80)
    bought_on = models.DateField()
    split_basis = models.CharField(
        "cost split by", max_length=8, choices=SplitBasis.choices, default=SplitBasis.VOLUME
    )
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["-bought_on", "name"]

    def __str__(self) -> str:
        return self.name


class CostKind(models.TextChoices):
    TIMBER = "timber", "Timber"
    SAWING = "sawing", "Sawing"
    HAULAGE = "haulage", "Haulage"
    DRYING = "drying", "Drying"
    OTHER = "other", "Other"


class ParcelCostQuerySet(AppendOnlyQuerySet["ParcelCost"]):
    def current(self) -> Self:
        """Costs no correction has superseded, oldest first."""
        return self.filter(superseded_by__isnull=True).order_by("on", "pk")


class ParcelCost(AppendOnly):
    """One bill in shop currency; a wrong one is superseded by a new row."""

    parcel = models.ForeignKey(Parcel, models.PROTECT, related_name="costs")
    kind = models.CharField(max_length=8, choices=CostKind.choices)
    amount = models.DecimalField(max_digits=12, decimal_places=2)
    on = models.DateField()
    note = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True)
    at = models.DateTimeField(auto_now_add=True)
    supersedes = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="superseded_by"
    )

    objects = ParcelCostQuerySet.as_manager()

    class Meta(AppendOnly.Meta):
        abstract = False
        constraints = [
            models.CheckConstraint(
                condition=Q(amount__gte=0),
                name="cost_not_negative",
                violation_error_message="A cost cannot be below nothing.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.amount}"


class Log(models.Model):
    """A log or boule: the slabs sawn from it match and are numbered in sawn order."""

    number = models.CharField(max_length=20, unique=True)
    parcel = models.ForeignKey(Parcel, models.PROTECT, null=True, blank=True, related_name="logs")
    species = models.ForeignKey("inventory.Species", models.PROTECT, related_name="logs")
    length_mm = models.FloatField(null=True, blank=True)
    diameter_mm = models.FloatField("small-end diameter", null=True, blank=True)
    felled_on = models.DateField(null=True, blank=True)
    sawn_on = models.DateField(null=True, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["number"]

    def __str__(self) -> str:
        return self.number
