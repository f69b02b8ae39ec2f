"""The outlines traced of a slab's faces, and the figures kept of its true shape."""

from typing import ClassVar

import numpy as np
import shapely
from django.conf import settings
from django.db import models

from inventory.models.history import AppendOnly, AppendOnlyQuerySet
from inventory.models.slab import Slab
from inventory.wood.shape import Face, Floats, Shape


class FaceSide(models.TextChoices):
    UPPER = "upper", "Upper face"
    LOWER = "lower", "Lower face"


class ShapeBasis(models.TextChoices):
    """What a slab's shape was taken from."""

    TRACED = "traced", "Traced from a photograph"
    WIDTHS = "widths", "From widths along it"
    THREE = "three", "From least, middle and greatest width"
    NONE = "", "Not measured"


class OutlineQuerySet(AppendOnlyQuerySet["Outline"]):
    def current(self) -> "OutlineQuerySet":
        """Those that no later outline supersedes; withdrawn ones are among them (`ring` empty)."""
        return self.filter(superseded_by__isnull=True)


class Outline(AppendOnly):
    """One face traced from a photograph: how it was measured, and what came of it.

    In the slab's mm: `ring` [[x, y], …] not closed, and `holes` of it. In the straightened
    picture's mm: `clicks`, `traced` with `traced_holes` as the person left them, and `doubtful`,
    the places [[x, y], …] where the draft's edge hardly showed and nobody moved the line (see
    photos/doubts.py); `to_slab` is the (2, 3) step from there to the slab's mm. `scale` is what
    photos.scale.Scale.record gives.
    A row with an empty ring withdraws the one it supersedes: the slab is back to its widths.
    """

    slab = models.ForeignKey(Slab, models.PROTECT, related_name="outlines")
    side = models.CharField(max_length=5, choices=FaceSide.choices, default=FaceSide.UPPER)
    supersedes = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="superseded_by"
    )
    photo = models.ForeignKey(
        "inventory.Photo", models.PROTECT, null=True, blank=True, related_name="outlines"
    )
    scale = models.JSONField(default=dict)
    raised_mm = models.FloatField(
        default=0.0, help_text="How far the traced face lies above the sheets, in mm"
    )
    clicks = models.JSONField(default=list)
    traced = models.JSONField(default=list)
    traced_holes = models.JSONField(default=list)
    doubtful = models.JSONField(default=list)
    to_slab = models.JSONField(default=list)
    ring = models.JSONField(default=list)
    holes = models.JSONField(default=list)
    is_bark_inside = models.BooleanField(default=False)
    bark_mm = models.FloatField(default=0.0, help_text="Thickness of the bark inside the line")
    corrected_points = models.PositiveIntegerField(
        default=0, help_text="How many points of the draft the person moved, added or took away"
    )
    cautions = models.JSONField(default=list, help_text="What was said of it when it was kept")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True)
    at = models.DateTimeField()

    objects = OutlineQuerySet.as_manager()

    class Meta(AppendOnly.Meta):
        ordering = ["slab", "pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(bark_mm__gte=0), name="outline_bark_known"),
        ]

    def __str__(self) -> str:
        return f"{self.get_side_display()} of {self.slab_id}"

    @property
    def is_withdrawn(self) -> bool:
        return not self.ring

    @property
    def face(self) -> Face:
        """As wood/shape.py takes it. A withdrawn outline has none (ValueError from shape_of)."""
        holes = tuple(np.array(hole, dtype=np.float64) for hole in self.holes)
        return Face(np.array(self.ring, dtype=np.float64).reshape(-1, 2), holes, self.bark_mm)


def packed(array: Floats) -> bytes:
    """An array as little-endian doubles, as SlabShape keeps it."""
    return np.ascontiguousarray(array, dtype="<f8").tobytes()


def unpacked(kept: bytes, columns: int = 1) -> Floats:
    """The array that `packed` kept: (n,), or (n, columns)."""
    flat = np.frombuffer(kept, dtype="<f8")
    return np.asarray(flat if columns == 1 else flat.reshape(-1, columns), dtype=np.float64)


class SlabShape(models.Model):
    """A slab's shape as everything that lays a top on it reads it: derived, one row a slab.

    Written by inventory/shapes.py alone, with the slab's other derived figures; arrays as
    `packed`, the wood as WKB. See wood/shape.py for what each figure is.
    """

    slab = models.OneToOneField(Slab, models.CASCADE, primary_key=True, related_name="shape_row")
    outline = models.ForeignKey(Outline, models.PROTECT, null=True, related_name="+")
    lower_outline = models.ForeignKey(Outline, models.PROTECT, null=True, related_name="+")
    basis = models.CharField(max_length=6, choices=ShapeBasis.choices)
    wood = models.BinaryField()
    length_mm = models.FloatField()
    area_mm2 = models.FloatField()
    wood_mm2 = models.FloatField()
    lower_area_mm2 = models.FloatField(null=True)
    lower_wood_mm2 = models.FloatField(null=True)
    mean_width_mm = models.FloatField()
    least_width_mm = models.FloatField()
    greatest_width_mm = models.FloatField()
    circle_x_mm = models.FloatField()
    circle_y_mm = models.FloatField()
    circle_mm = models.FloatField("diameter of the largest circle")
    widths_mm = models.BinaryField()
    centre_mm = models.BinaryField()
    profile_mm = models.BinaryField()
    upper_mm = models.BinaryField()
    lower_mm = models.BinaryField()
    capacity_mm = models.BinaryField()
    doubles_back = models.BooleanField(default=False)

    array_columns: ClassVar[dict[str, int]] = {
        "widths_mm": 1,
        "centre_mm": 1,
        "profile_mm": 2,
        "upper_mm": 2,
        "lower_mm": 2,
        "capacity_mm": 1,
    }

    def __str__(self) -> str:
        return f"Shape of {self.slab_id}"

    @property
    def is_approximate(self) -> bool:
        """Drawn from a few widths, not traced: said wherever it is used."""
        return self.basis != ShapeBasis.TRACED

    @property
    def shape(self) -> Shape:
        """The row as the geometry takes it."""
        arrays = {
            name: unpacked(bytes(getattr(self, name)), columns)
            for name, columns in self.array_columns.items()
        }
        wood = shapely.from_wkb(bytes(self.wood))
        assert isinstance(wood, shapely.Polygon)
        return Shape(
            wood=wood,
            length_mm=self.length_mm,
            area_mm2=self.area_mm2,
            wood_mm2=self.wood_mm2,
            mean_width_mm=self.mean_width_mm,
            least_width_mm=self.least_width_mm,
            greatest_width_mm=self.greatest_width_mm,
            circle=(self.circle_x_mm, self.circle_y_mm, self.circle_mm),
            doubles_back=self.doubles_back,
            is_approximate=self.is_approximate,
            **arrays,
        )
