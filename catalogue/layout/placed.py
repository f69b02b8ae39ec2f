"""A slab put down in a top's frame."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from shapely import Polygon, affinity

from catalogue.layout.tops import Floats
from inventory.wood.shape import Shape


@dataclass(frozen=True, eq=False)
class Placed:
    """Where a slab lies under a top, whose centre is the origin.

    From the slab's own mm: turned over about its length when `is_flipped` (y → −y), turned by
    `turn_deg` counter-clockwise about its origin (first end, y = 0), then moved by x, y.
    `wane_mm` is taken off all round before a top may touch it.
    """

    shape: Shape
    x_mm: float
    y_mm: float
    turn_deg: float = 0.0
    is_flipped: bool = False
    wane_mm: float = 0.0

    @property
    def matrix(self) -> tuple[float, float, float, float, float, float]:
        """The six numbers of shapely.affinity.affine_transform."""
        turn = np.radians(self.turn_deg)
        cos, sin = float(np.cos(turn)), float(np.sin(turn))
        sense = -1.0 if self.is_flipped else 1.0
        return (cos, -sin * sense, sin, cos * sense, self.x_mm, self.y_mm)

    def carry(self, points_mm: Floats) -> Floats:
        """(n, 2) points of the slab in the top's frame."""
        a, b, d, e, x, y = self.matrix
        return np.asarray(points_mm @ np.array([[a, d], [b, e]]) + np.array([x, y]))

    @cached_property
    def slab(self) -> Polygon:
        """All of the slab's wood, wane and all."""
        moved = affinity.affine_transform(self.shape.wood, list(self.matrix))
        assert isinstance(moved, Polygon)
        return moved

    @cached_property
    def polygon(self) -> Polygon:
        """The wood a top may use: without the wane; the largest piece where that parts it."""
        if self.wane_mm <= 0:
            return self.slab
        inner = self.slab.buffer(-self.wane_mm)
        pieces = getattr(inner, "geoms", [inner])
        largest = max(pieces, key=lambda piece: float(piece.area), default=Polygon())
        assert isinstance(largest, Polygon)
        return largest

    def record(self) -> dict[str, Any]:
        """Where it lies, for a JSON field; the shape itself is kept with the slab."""
        return {
            "x_mm": round(self.x_mm, 3),
            "y_mm": round(self.y_mm, 3),
            "turn_deg": round(self.turn_deg, 5),
            "is_flipped": self.is_flipped,
            "wane_mm": self.wane_mm,
        }

    @classmethod
    def from_record(cls, shape: Shape, record: Mapping[str, Any]) -> Placed:
        names = ("x_mm", "y_mm", "turn_deg", "is_flipped", "wane_mm")
        return cls(shape, **{name: record[name] for name in names if name in record})
