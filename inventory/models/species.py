"""Species of wood: published rows (read-only) and a shop's own rows beside them."""

from typing import Self

from django.db import models
from django.db.models.functions import Lower


class SpeciesQuerySet(models.QuerySet["Species"]):
    def by_name(self) -> Self:
        return self.order_by(Lower("common_name"))

    def in_stock(self) -> Self:
        """Species of at least one slab, whatever its standing."""
        return self.filter(slabs__isnull=False).distinct()


class Species(models.Model):
    """Shrinkage in % of green dimension, cr and ct in fraction per 1 % MC, sg relative to water."""

    common_name = models.CharField(max_length=80)
    botanical_name = models.CharField(max_length=80, blank=True)
    other_names = models.CharField(max_length=200, blank=True)
    wood_group = models.CharField("group", max_length=40, blank=True)
    sg_green = models.FloatField("specific gravity, green volume", null=True, blank=True)
    sg_12 = models.FloatField("specific gravity at 12 %", null=True, blank=True)
    shrink_radial_pct = models.FloatField("radial shrinkage, %", null=True, blank=True)
    shrink_tangential_pct = models.FloatField("tangential shrinkage, %", null=True, blank=True)
    shrink_volumetric_pct = models.FloatField("volumetric shrinkage, %", null=True, blank=True)
    cr = models.FloatField("radial change per 1 % MC", null=True, blank=True)
    ct = models.FloatField("tangential change per 1 % MC", null=True, blank=True)
    caution = models.TextField("hazard or trade note", blank=True)
    source = models.TextField(blank=True)
    is_published = models.BooleanField(default=False, editable=False)

    objects = SpeciesQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "species"
        constraints = [
            models.UniqueConstraint(
                Lower("common_name"),
                "is_published",
                name="species_name_once",
                violation_error_message="There is a species of that name already.",
            ),
            models.CheckConstraint(
                condition=models.Q(sg_green__isnull=True)
                | models.Q(sg_green__gt=0.05, sg_green__lt=1.5),
                name="species_sg_green_is_wood",
                violation_error_message="Specific gravity of wood lies between 0.05 and 1.5.",
            ),
        ]

    def __str__(self) -> str:
        return self.common_name
