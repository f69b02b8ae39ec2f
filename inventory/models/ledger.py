"""The ledger: what happened to each slab. Appended only."""

from typing import Self

from django.conf import settings
from django.db import models

from inventory.models.history import AppendOnly, AppendOnlyQuerySet


class LedgerKind(models.TextChoices):
    RECEIVED = "received", "Received"
    MEASURED = "measured", "Measured"
    MOVED = "moved", "Moved"
    STAGE = "stage", "Stage changed"
    PRICED = "priced", "Priced"
    HELD = "held", "Held"
    RELEASED = "released", "Released"
    ALLOTTED = "allotted", "Allotted"
    SOLD = "sold", "Sold"
    USED = "used", "Used"
    WRITTEN_OFF = "written_off", "Written off"
    CORRECTED = "corrected", "Corrected"
    OUTLINED = "outlined", "Outline traced"
    UNTRACED = "untraced", "Outline taken back"


# Entries whose before and after are money; only those who see cost may read them.
MONEY_KINDS = (LedgerKind.PRICED,)


class LedgerQuerySet(AppendOnlyQuerySet["LedgerEntry"]):
    def newest_first(self) -> Self:
        return self.select_related("by").order_by("-at", "-pk")


class LedgerEntry(AppendOnly):
    """`before` and `after` are words as a person reads them; sizes are written in mm."""

    slab = models.ForeignKey("inventory.Slab", models.PROTECT, related_name="ledger")
    kind = models.CharField(max_length=11, choices=LedgerKind.choices)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True)
    before = models.CharField("from", max_length=300, blank=True)
    after = models.CharField("to", max_length=300, blank=True)
    note = models.CharField(max_length=300, blank=True)

    objects = LedgerQuerySet.as_manager()

    class Meta(AppendOnly.Meta):
        abstract = False
        ordering = ["-at", "-pk"]
        verbose_name_plural = "ledger entries"
        indexes = [models.Index(fields=["slab", "-at"], name="ledger_slab_latest")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.at:%Y-%m-%d}"
