"""When a slab will be dry: derived, and made anew whenever a fact it follows from changes."""

from datetime import date, timedelta
from typing import Any, ClassVar, Self

from django.db import models
from django.db.models import F, Q


class ForecastState(models.TextChoices):
    DRY_NOW = "dry_now", "Dry enough already"
    WILL_ARRIVE = "will_arrive", "On its way"
    NEVER = "never", "Not in this air"
    BEYOND = "beyond", "Further off than can be seen"
    NO_CHECKS = "no_checks", "Too few checks"
    NO_AIR = "no_air", "Air not known"
    NO_PLACE = "no_place", "Not put anywhere"


class SlabForecastQuerySet(models.QuerySet["SlabForecast"]):
    def stale(self, *, on: date) -> Self:
        """Made too long ago, or before the slab's last check or its last move."""
        return self.exclude(
            Q(made_on__gte=on - timedelta(days=SlabForecast.GOOD_FOR_DAYS))
            & _same("check_id", "slab__latest_check_id")
            & _same("place_id", "slab__place_id")
        )


def _same(name: str, other: str) -> Q:
    """Equal, or both null."""
    return Q(**{name: F(other)}) | Q(**{f"{name}__isnull": True, f"{other}__isnull": True})


class SlabForecast(models.Model):
    """Written by inventory/forecasting.py alone; one a slab in stock, for interior furniture.

    Made from the facts of the beginning of `made_on`, for the place it then lay in. Dates are the
    10, 50 and 90 % points of when its mean comes down to `target_high_pct`, null where they lie
    beyond `horizon_on`. `arrival_days`: days from `made_on` by which it is there with probability
    5, 10 … 95 %, null beyond. `curve`: [days, low, middle, high] of its mean in % MC. `moved_…`:
    for one that will not get there, the same dates had it been moved on `made_on` to the place
    named. `marks` and `air_marks` digest the facts it followed from.
    """

    GOOD_FOR_DAYS: ClassVar[int] = 7

    slab = models.OneToOneField("inventory.Slab", models.CASCADE, related_name="forecast")
    target_low_pct = models.FloatField()
    target_high_pct = models.FloatField()
    made_on = models.DateField()
    horizon_on = models.DateField()
    state = models.CharField(max_length=11, choices=ForecastState.choices)
    place = models.ForeignKey(
        "inventory.Place", models.CASCADE, null=True, blank=True, related_name="+"
    )
    check_id = models.BigIntegerField(null=True, help_text="Its latest check then")
    checks = models.PositiveIntegerField(default=0, help_text="Days it was checked on")
    now_pct = models.FloatField(null=True)
    low_on = models.DateField(null=True)
    median_on = models.DateField(null=True)
    high_on = models.DateField(null=True)
    emc_in_the_way_pct = models.FloatField(null=True)
    arrival_days = models.JSONField(default=list)
    curve = models.JSONField(default=list)
    moved_place = models.ForeignKey(
        "inventory.Place", models.CASCADE, null=True, blank=True, related_name="+"
    )
    moved_low_on = models.DateField(null=True)
    moved_median_on = models.DateField(null=True)
    moved_high_on = models.DateField(null=True)
    marks = models.CharField(max_length=16)
    air_marks = models.CharField(max_length=16, blank=True)

    figures: ClassVar[tuple[str, ...]] = (
        "target_low_pct",
        "target_high_pct",
        "made_on",
        "horizon_on",
        "state",
        "place_id",
        "check_id",
        "checks",
        "now_pct",
        "low_on",
        "median_on",
        "high_on",
        "emc_in_the_way_pct",
        "arrival_days",
        "curve",
        "moved_place_id",
        "moved_low_on",
        "moved_median_on",
        "moved_high_on",
        "marks",
        "air_marks",
    )

    objects = SlabForecastQuerySet.as_manager()

    class Meta:
        default_permissions = ("view",)
        indexes = [
            models.Index(fields=["median_on"], name="forecast_median"),
            models.Index(fields=["made_on"], name="forecast_made"),
        ]

    def __str__(self) -> str:
        return f"{self.slab_id}: {self.state}, made on {self.made_on}"

    def values(self) -> dict[str, Any]:
        """What follows from the facts, to compare and to store."""
        return {name: getattr(self, name) for name in self.figures}

    def is_of(self, latest_check_id: int | None, place_id: int | None, on: date) -> bool:
        """Whether it still tells of the slab: made lately, after its last check, where it lies."""
        young = self.made_on <= on <= self.made_on + timedelta(days=self.GOOD_FOR_DAYS)
        return young and (self.check_id, self.place_id) == (latest_check_id, place_id)
