"""Drying stages: what a slab has been through, where, from when to when."""

from django.db import models
from django.db.models import F, Q


class StageKind(models.TextChoices):
    AIR = "air", "Air drying"
    KILN = "kiln", "Kiln drying"
    CONDITIONING = "conditioning", "Conditioning"
    SHOP = "shop", "Resting in the shop"


class DryingStage(models.Model):
    """Written by inventory/moves.py alone; the open stage (no end) is where the slab is now."""

    slab = models.ForeignKey("inventory.Slab", models.PROTECT, related_name="stages")
    kind = models.CharField(max_length=12, choices=StageKind.choices)
    place = models.ForeignKey("inventory.Place", models.PROTECT, null=True, blank=True)
    started_on = models.DateField()
    ended_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["slab", "started_on", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["slab"], condition=Q(ended_on__isnull=True), name="stage_one_open"
            ),
            models.CheckConstraint(
                condition=Q(ended_on__isnull=True) | Q(ended_on__gte=F("started_on")),
                name="stage_ends_after_start",
                violation_error_message="A stage cannot end before it began.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} from {self.started_on}"
