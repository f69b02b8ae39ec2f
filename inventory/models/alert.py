"""Warnings: what the facts say is going wrong with a slab, a place or a meter."""

from datetime import date
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.db.models.functions import Coalesce, TruncDate

from inventory.models.moisture import Meter
from inventory.models.place import Place
from inventory.models.slab import Slab, Standing


class AlertKind(models.TextChoices):
    TOO_FAST = "too_fast", "Drying too fast"
    REGAINING = "regaining", "Taking up moisture"
    STALLED = "stalled", "No longer drying"
    OFF_CURVE = "off_curve", "A check out of line"
    DAMP_AIR = "damp_air", "Air too damp for ready wood"
    SILENT = "silent", "No word of the air"
    METER_DUE = "meter_due", "Meter past its test"


class AlertQuerySet(models.QuerySet["Alert"]):
    def standing(self) -> Self:
        """Whose facts still stand, set aside or not."""
        return self.filter(resolved_on__isnull=True)

    def open(self) -> Self:
        """Standing and not set aside; wood that is gone and meters laid by warn of nothing."""
        gone = Q(slab__standing=Standing.GONE) | Q(meter__is_retired=True)
        return self.standing().filter(set_aside_at__isnull=True).exclude(gone)

    def settled_since(self, day: date) -> Self:
        """Set aside, or resolved on or after that day; the latest first."""
        resolved = Q(resolved_on__gte=day)
        aside = Q(resolved_on__isnull=True, set_aside_at__isnull=False)
        settled = Coalesce("resolved_on", TruncDate("set_aside_at"))
        return self.filter(resolved | aside).order_by(settled.desc(), "-pk")

    def with_subjects(self) -> Self:
        """With what a list names, so that no row asks the database again."""
        return self.select_related(
            "slab__species", "slab__place", "slab__bay", "place", "meter", "set_aside_by"
        )


class Alert(models.Model):
    """One warning about one subject, from the day it was raised until its facts are gone.

    Written by inventory/watch.py alone. `stands_on` names the facts it rests on: set aside, it is
    not raised again while those stand. `facts` holds the numbers of its sentence.
    """

    slab = models.ForeignKey(Slab, models.PROTECT, null=True, blank=True, related_name="alerts")
    place = models.ForeignKey(Place, models.PROTECT, null=True, blank=True, related_name="alerts")
    meter = models.ForeignKey(Meter, models.PROTECT, null=True, blank=True, related_name="alerts")
    kind = models.CharField(max_length=9, choices=AlertKind.choices)
    sentence = models.CharField(max_length=300)
    stands_on = models.CharField(max_length=60)
    facts = models.JSONField(default=dict)
    raised_on = models.DateField()
    resolved_on = models.DateField(null=True, blank=True)
    set_aside_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    set_aside_at = models.DateTimeField(null=True, blank=True)
    set_aside_reason = models.CharField(max_length=200, blank=True, default="")

    objects = AlertQuerySet.as_manager()

    class Meta:
        ordering = ["-raised_on", "-pk"]
        verbose_name = "warning"
        constraints = [
            models.CheckConstraint(
                condition=(
                    Q(slab__isnull=False, place__isnull=True, meter__isnull=True)
                    | Q(slab__isnull=True, place__isnull=False, meter__isnull=True)
                    | Q(slab__isnull=True, place__isnull=True, meter__isnull=False)
                ),
                name="alert_of_one_thing",
                violation_error_message="A warning is about a slab, a place or a meter.",
            ),
            models.CheckConstraint(
                condition=Q(set_aside_at__isnull=True, set_aside_reason="")
                | (Q(set_aside_at__isnull=False) & ~Q(set_aside_reason="")),
                name="alert_set_aside_says_why",
            ),
            *(
                models.UniqueConstraint(
                    fields=[subject, "kind"],
                    condition=Q(resolved_on__isnull=True),
                    name=f"alert_once_a_{subject}",
                )
                for subject in ("slab", "place", "meter")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.sentence}"

    @property
    def is_set_aside(self) -> bool:
        return self.set_aside_at is not None

    @property
    def subject(self) -> Slab | Place | Meter:
        found = self.slab or self.place or self.meter
        assert found is not None
        return found

    @property
    def needs(self) -> str:
        """Codename of the permission to set it aside: whoever tends its subject."""
        return "log_moisture" if self.slab_id else "keep_yard"
