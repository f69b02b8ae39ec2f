"""What comes in of a place's air beside typed records, and what follows from all of them:
loggers' files, sensors' tokens, the means of days, the typical year.
"""

import uuid
from datetime import timedelta
from typing import Any, Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from inventory.models.people import Person
from inventory.models.place import Place


def new_token() -> str:
    return uuid.uuid4().hex


class ImportState(models.TextChoices):
    SHOWN = "shown", "Waiting to be looked at"
    RUNNING = "running", "Being read in"
    STOPPED = "stopped", "Stopped half-way"
    DONE = "done", "Read in"
    DROPPED = "dropped", "Dropped"


class AirImportQuerySet(models.QuerySet["AirImport"]):
    def open_to(self, person: Person) -> Self:
        """Their own files that are not finished with, the latest first."""
        over = (ImportState.DONE, ImportState.DROPPED)
        return self.filter(by=person).exclude(state__in=over).order_by("-uploaded_at")


class AirImport(models.Model):
    """One file of a logger, from its upload until its rows are in or it is dropped.

    `token` names the kept file; `layout` says how it is read (air_table.Layout); `bad` holds
    [line, text, reason] of the first rows that could not be taken. `run` tells one attempt from
    the next: an attempt that was overtaken writes nothing more.
    """

    place = models.ForeignKey(Place, models.PROTECT, related_name="air_imports")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="air_imports")
    uploaded_at = models.DateTimeField(default=timezone.now)
    uploaded_name = models.CharField(max_length=200)
    token = models.CharField(max_length=32, unique=True, default=new_token, editable=False)
    encoding = models.CharField(max_length=12, default="utf-8-sig")
    layout = models.JSONField(default=dict)
    state = models.CharField(max_length=7, choices=ImportState.choices, default=ImportState.SHOWN)
    run = models.PositiveIntegerField(default=0)
    rows_total = models.PositiveIntegerField(default=0)
    rows_done = models.PositiveIntegerField(default=0)
    added = models.PositiveIntegerField(default=0)
    known = models.PositiveIntegerField(default=0)
    differing = models.PositiveIntegerField(default=0)
    bad_total = models.PositiveIntegerField(default=0)
    bad = models.JSONField(default=list)
    started_at = models.DateTimeField(null=True, blank=True)
    beat_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)

    objects = AirImportQuerySet.as_manager()

    class Meta:
        ordering = ["-uploaded_at"]
        default_permissions = ("view",)

    def __str__(self) -> str:
        return self.uploaded_name


class SensorQuerySet(models.QuerySet["SensorToken"]):
    def live(self) -> Self:
        """Tokens that open the door, by place and name."""
        return self.filter(revoked_at__isnull=True).order_by("place__position", "name")


class SensorToken(models.Model):
    """A sensor that may send the air of one place. The token itself is never kept, only its
    SHA-256; `minute_at` and `minute_count` count its requests of one minute.
    """

    place = models.ForeignKey(Place, models.PROTECT, related_name="sensors")
    name = models.CharField(max_length=60)
    token_hash = models.CharField(max_length=64, unique=True, editable=False)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    last_seen_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    minute_at = models.DateTimeField(null=True, blank=True, editable=False)
    minute_count = models.PositiveIntegerField(default=0, editable=False)

    objects = SensorQuerySet.as_manager()

    class Meta:
        ordering = ["place__position", "name", "pk"]
        default_permissions = ("view",)
        constraints = [
            models.UniqueConstraint(
                fields=["place", "name"],
                condition=Q(revoked_at__isnull=True),
                name="sensor_name_once_in_place",
                violation_error_message="This place has a sensor of that name already.",
            )
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_live(self) -> bool:
        return self.revoked_at is None


class AirDayMean(models.Model):
    """Plain means of one local day's records in one place: derived, written by air_days.py alone.

    Temperature in °C, humidity in % RH, EMC in % of oven-dry mass; `records` counts them.
    """

    place = models.ForeignKey(Place, models.CASCADE, related_name="air_days")
    on = models.DateField()
    temp_c = models.FloatField()
    rh_pct = models.FloatField()
    emc_pct = models.FloatField()
    records = models.PositiveIntegerField()

    class Meta:
        ordering = ["place", "on"]
        default_permissions = ("view",)
        constraints = [
            models.UniqueConstraint(fields=["place", "on"], name="air_day_once_in_place")
        ]

    def __str__(self) -> str:
        return f"{self.place_id} on {self.on}"


class TypicalYear(models.Model):
    """What a place's days say of its year: derived, written by air_days.py alone.

    `coefficients` are rows of [EMC %, °C]: the mean, then cosine and sine of each harmonic of the
    year (inventory/wood/climate.py); one row is a flat mean. `spread_pct` is how far, either way,
    the EMC of four days in five lies from it.
    """

    place = models.OneToOneField(Place, models.CASCADE, related_name="typical_year")
    coefficients = models.JSONField()
    days_on_record = models.PositiveIntegerField()
    first_on = models.DateField()
    last_on = models.DateField()
    spread_pct = models.FloatField()
    derived_at = models.DateTimeField(default=timezone.now)

    class Meta:
        default_permissions = ("view",)

    def __str__(self) -> str:
        return f"{self.place_id}: {self.days_on_record} days"

    @property
    def has_curve(self) -> bool:
        return len(self.coefficients) > 1

    @property
    def span(self) -> timedelta:
        return self.last_on - self.first_on + timedelta(days=1)

    def figures(self) -> dict[str, Any]:
        """What follows from the days, to compare and to store."""
        names = ("coefficients", "days_on_record", "first_on", "last_on", "spread_pct")
        return {name: getattr(self, name) for name in names}
