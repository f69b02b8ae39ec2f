"""Charges of a kiln or a conditioning room, what went in them, and logs of core temperature."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from inventory.models.history import AppendOnly, AppendOnlyQuerySet


class ChargeQuerySet(models.QuerySet["Charge"]):
    def running(self) -> Self:
        return self.filter(ended_on__isnull=True)

    def latest_first(self) -> Self:
        """Those running first, then by the day they began, latest first."""
        return self.order_by(F("ended_on").desc(nulls_first=True), "-started_on", "-pk")


class Charge(models.Model):
    """Several slabs in one place together. Written by inventory/charges.py alone."""

    name = models.CharField(max_length=60, unique=True)
    place = models.ForeignKey("inventory.Place", models.PROTECT, related_name="charges")
    started_on = models.DateField()
    ended_on = models.DateField(null=True, blank=True)
    note = models.TextField(blank=True)
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = ChargeQuerySet.as_manager()

    class Meta:
        ordering = ["-started_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(ended_on__isnull=True) | Q(ended_on__gte=F("started_on")),
                name="charge_ends_after_start",
                violation_error_message="A charge cannot end before it began.",
            )
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("inventory:charge", args=[self.pk])

    @property
    def is_running(self) -> bool:
        return self.ended_on is None


class ChargeSlab(models.Model):
    """A slab's stay in a charge. inventory/moves.py writes `left_on` when the slab is moved out.

    Its moisture in and out follows from its checks (see inventory/charges.py) and is not stored.
    """

    charge = models.ForeignKey(Charge, models.PROTECT, related_name="stays")
    slab = models.ForeignKey("inventory.Slab", models.PROTECT, related_name="charge_stays")
    entered_on = models.DateField()
    left_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["charge", "entered_on", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["slab"], condition=Q(left_on__isnull=True), name="slab_in_one_charge"
            ),
            models.CheckConstraint(
                condition=Q(left_on__isnull=True) | Q(left_on__gte=F("entered_on")),
                name="stay_ends_after_start",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.slab_id} in {self.charge_id}"


class CoreLogQuerySet(models.QuerySet["CoreLog"]):
    def counted(self) -> Self:
        """Those not set aside."""
        return self.filter(set_aside_at__isnull=True)


class CoreLog(models.Model):
    """One log of core temperatures as it was taken in; a wrong one is set aside, never removed."""

    charge = models.ForeignKey(Charge, models.PROTECT, related_name="core_logs")
    at = models.DateTimeField(help_text="When it was entered")
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    read_as = models.CharField(max_length=300, blank=True)
    set_aside_at = models.DateTimeField(null=True, blank=True)
    set_aside_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    set_aside_why = models.CharField(max_length=200, blank=True)

    objects = CoreLogQuerySet.as_manager()

    class Meta:
        ordering = ["at", "pk"]
        default_permissions = ("add", "view")
        constraints = [
            models.CheckConstraint(
                condition=Q(set_aside_at__isnull=True) | ~Q(set_aside_why=""),
                name="core_log_set_aside_says_why",
            )
        ]

    def __str__(self) -> str:
        return f"Core log of {self.at:%Y-%m-%d %H:%M}"


class CoreTemperature(AppendOnly):
    """What one probe in the core of a piece read at a moment."""

    log = models.ForeignKey(CoreLog, models.PROTECT, related_name="temperatures")
    charge = models.ForeignKey(Charge, models.PROTECT, related_name="core_temperatures")
    at = models.DateTimeField()
    probe = models.CharField(max_length=24)
    temp_c = models.FloatField()

    objects = AppendOnlyQuerySet.as_manager()

    class Meta(AppendOnly.Meta):
        abstract = False
        ordering = ["at", "probe"]
        indexes = [models.Index(fields=["charge", "at"], name="core_charge_at")]
        constraints = [
            models.UniqueConstraint(fields=["log", "probe", "at"], name="core_once_a_moment"),
            models.CheckConstraint(
                condition=Q(temp_c__gte=-40, temp_c__lte=150), name="core_temp_possible"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.probe} at {self.at:%Y-%m-%d %H:%M}"
