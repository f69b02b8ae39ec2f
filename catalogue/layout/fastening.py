"""Where a base is screwed to a top: plates and inserts, and the ground under each.

A plate is a record of a JSON list (Commission.plates): {"kind": "plate" or "insert", "x_mm",
"y_mm" from the top's middle, "length_mm", "width_mm", "turn_deg"}; an insert is round, its width
its diameter.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np
import shapely
from shapely import Point, Polygon, affinity, box
from shapely.geometry.base import BaseGeometry

from catalogue.layout.laid import Layout

MARGIN_MM = 15.0
"""Common practice: screws and inserts keep this far from resin, voids and edges."""
MOST_SHIFT_MM = 200.0
COARSE_MM, FINE_MM = 10.0, 1.0


class Lies(StrEnum):
    WOOD = "wood"
    RESIN = "resin"
    VOID = "void"
    NEAR = "near"
    OUTSIDE = "outside"


@dataclass(frozen=True)
class Plate:
    kind: str
    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float
    turn_deg: float = 0.0

    @classmethod
    def from_record(cls, record: Mapping[str, Any]) -> Plate:
        names = cls.__dataclass_fields__
        return cls(**{name: record[name] for name in names if name in record})

    def record(self) -> dict[str, Any]:
        return {name: getattr(self, name) for name in self.__dataclass_fields__}

    @property
    def polygon(self) -> Polygon:
        if self.kind == "insert":
            circle = Point(self.x_mm, self.y_mm).buffer(self.width_mm / 2, quad_segs=16)
            assert isinstance(circle, Polygon)
            return circle
        half = self.length_mm / 2, self.width_mm / 2
        turned = affinity.rotate(
            box(-half[0], -half[1], half[0], half[1]), self.turn_deg, origin=(0, 0)
        )
        moved = affinity.translate(turned, self.x_mm, self.y_mm)
        assert isinstance(moved, Polygon)
        return moved


@dataclass(frozen=True)
class Ground:
    """What a plate lands on: wood with its margin, or the first thing in the way."""

    plate: Plate
    lies: Lies

    @property
    def holds(self) -> bool:
        return self.lies == Lies.WOOD


def grounds(laid: Layout, plates: Sequence[Plate], margin_mm: float = MARGIN_MM) -> list[Ground]:
    """The ground under each plate of a base laid under the top as it lies."""
    wood = _solid(laid)
    return [Ground(plate, _lies(laid, wood, plate, margin_mm)) for plate in plates]


def _solid(laid: Layout) -> BaseGeometry:
    """All of the top's wood; pieces glued edge to edge are one."""
    return shapely.union_all([part.buffer(0.01) for part in laid.wood])


def _lies(laid: Layout, wood: BaseGeometry, plate: Plate, margin_mm: float) -> Lies:
    shape = plate.polygon
    if wood.covers(shape.buffer(margin_mm)):
        return Lies.WOOD
    if not laid.finished.covers(shape):
        return Lies.OUTSIDE
    if wood.covers(shape):
        return Lies.NEAR
    return Lies.RESIN if laid.has_resin else Lies.VOID


def proposed_shift(
    laid: Layout,
    plates: Sequence[Plate],
    margin_mm: float = MARGIN_MM,
    most_mm: float = MOST_SHIFT_MM,
) -> tuple[float, float] | None:
    """The least shift of the whole base (mm along and across) that lands every plate in wood.

    (0, 0) where it does already; None where no shift up to `most_mm` does. Tried every 10 mm, then
    every millimetre round the best; each proved by exact containment.
    """
    if not plates:
        return (0.0, 0.0)
    wood = _solid(laid)
    shapely.prepare(wood)
    needed = [plate.polygon.buffer(margin_mm) for plate in plates]
    if all(wood.covers(shape) for shape in needed):
        return (0.0, 0.0)
    coarse = _least(wood, needed, _around((0.0, 0.0), most_mm, COARSE_MM), most_mm)
    if coarse is None:
        return None
    fine = _least(wood, needed, _around(coarse, COARSE_MM, FINE_MM), most_mm)
    return fine or coarse


Shift = tuple[float, float]


def _around(middle: Shift, reach_mm: float, step_mm: float) -> list[Shift]:
    """Shifts about one, those nearest to none first."""
    steps = np.arange(-reach_mm, reach_mm + step_mm / 2, step_mm)
    every = [(middle[0] + float(x), middle[1] + float(y)) for x in steps for y in steps]
    return sorted(every, key=lambda shift: (round(float(np.hypot(*shift)), 6), shift))


def _least(
    wood: BaseGeometry, needed: Sequence[BaseGeometry], tried: Sequence[Shift], most_mm: float
) -> Shift | None:
    left = np.array([shift for shift in tried if np.hypot(*shift) <= most_mm + 1e-9])
    for shape in needed:
        if not len(left):
            return None
        ring = shapely.get_coordinates(shape)
        moved = shapely.polygons(left[:, None, :] + ring[None, :, :])
        left = left[shapely.covers(wood, moved)]
    return (float(left[0][0]), float(left[0][1])) if len(left) else None
