"""Promises: a slab kept for somebody until a date, or allotted to a commission."""

from datetime import date
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q


class HoldKind(models.TextChoices):
    HOLD = "hold", "Hold"
    ALLOTMENT = "allotment", "Allotment"


class HoldEnd(models.TextChoices):
    RELEASED = "released", "Released"
    LAPSED = "lapsed", "Lapsed"
    ALLOTTED = "allotted", "Became an allotment"
    GONE = "gone", "The slab went"


class HoldQuerySet(models.QuerySet["Hold"]):
    def active(self) -> Self:
        return self.filter(ended_at__isnull=True)

    def lapsed_by(self, on: date) -> Self:
        """Active holds whose last day is before `on`."""
        return self.active().filter(kind=HoldKind.HOLD, until__lt=on)

    def lapsing_by(self, on: date) -> Self:
        """Active holds whose last day is on or before `on`, soonest first."""
        return self.active().filter(kind=HoldKind.HOLD, until__lte=on).order_by("until")


class Hold(models.Model):
    """Written by inventory/holds.py alone. The database itself refuses a second active promise."""

    slab = models.ForeignKey("inventory.Slab", models.PROTECT, related_name="holds")
    kind = models.CharField(max_length=9, choices=HoldKind.choices, default=HoldKind.HOLD)
    label = models.CharField("kept for", max_length=160)
    until = models.DateField("last day", null=True, blank=True)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )
    made_at = models.DateTimeField()
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_how = models.CharField(max_length=8, choices=HoldEnd.choices, blank=True, default="")

    objects = HoldQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["slab"],
                condition=Q(ended_at__isnull=True),
                name="slab_promised_once",
                violation_error_message="This slab is promised already.",
            ),
            models.CheckConstraint(
                condition=Q(kind="allotment") | Q(until__isnull=False), name="hold_has_last_day"
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, ended_how="")
                | (Q(ended_at__isnull=False) & ~Q(ended_how="")),
                name="hold_end_says_how",
            ),
        ]
        indexes = [models.Index(fields=["ended_at", "until"], name="hold_lapsing")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} for {self.label}"
