"""Places where slabs lie, their bays, and the air in them."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q

from inventory.models.history import AppendOnly, AppendOnlyQuerySet


class PlaceKind(models.TextChoices):
    YARD = "yard", "Yard"
    SHED = "shed", "Shed"
    KILN = "kiln", "Kiln"
    CONDITIONING = "conditioning", "Conditioning room"
    SHOP = "shop", "Shop"
    SHOWROOM = "showroom", "Showroom"


SHOP_AIR = (PlaceKind.CONDITIONING, PlaceKind.SHOP, PlaceKind.SHOWROOM)


class Place(models.Model):
    name = models.CharField(max_length=60, unique=True)
    kind = models.CharField(max_length=12, choices=PlaceKind.choices)
    position = models.PositiveSmallIntegerField(default=0)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["position", "name"]

    def __str__(self) -> str:
        return self.name

    @property
    def has_shop_air(self) -> bool:
        return self.kind in SHOP_AIR


class Bay(models.Model):
    place = models.ForeignKey(Place, models.PROTECT, related_name="bays")
    name = models.CharField(max_length=30)
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["place__position", "position", "name"]
        constraints = [
            models.UniqueConstraint(
                fields=["place", "name"],
                name="bay_name_once_in_place",
                violation_error_message="This place has a bay of that name already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.place.name}, {self.name}"


class AirGiven(models.TextChoices):
    RH = "rh", "Relative humidity"
    WET_BULB = "wet_bulb", "Wet bulb"
    DEW_POINT = "dew_point", "Dew point"


class AirSource(models.TextChoices):
    TYPED = "typed", "Typed"
    PASTED = "pasted", "Pasted"
    FILE = "file", "File"
    SENSOR = "sensor", "Sensor"


class AirQuerySet(AppendOnlyQuerySet["AirRecord"]):
    def current(self) -> Self:
        """Records no correction has superseded, latest first."""
        return self.filter(superseded_by__isnull=True).order_by("-at")


class AirRecord(AppendOnly):
    """The air of a place at a moment; `emc_pct` follows from temperature and humidity."""

    derived_fields = frozenset({"emc_pct"})

    place = models.ForeignKey(Place, models.PROTECT, related_name="air")
    at = models.DateTimeField()
    temp_c = models.FloatField()
    rh_pct = models.FloatField()
    emc_pct = models.FloatField()
    given = models.CharField(max_length=10, choices=AirGiven.choices, default=AirGiven.RH)
    given_value = models.FloatField(help_text="% RH, or °C for wet bulb and dew point")
    source = models.CharField(max_length=8, choices=AirSource.choices, default=AirSource.TYPED)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True)
    sensor = models.ForeignKey(
        "SensorToken", models.PROTECT, null=True, blank=True, related_name="records"
    )
    supersedes = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="superseded_by"
    )

    objects = AirQuerySet.as_manager()

    class Meta(AppendOnly.Meta):
        abstract = False
        indexes = [models.Index(fields=["place", "-at"], name="air_place_latest")]
        constraints = [
            models.UniqueConstraint(
                fields=["place", "at"],
                condition=Q(supersedes__isnull=True),
                name="air_once_a_moment",
                violation_error_message="This place has a record of that moment already.",
            ),
            models.CheckConstraint(
                condition=Q(rh_pct__gte=0, rh_pct__lte=100), name="air_rh_0_to_100"
            ),
            models.CheckConstraint(
                condition=Q(temp_c__gte=-40, temp_c__lte=120), name="air_temp_possible"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.place_id} at {self.at:%Y-%m-%d %H:%M}"
