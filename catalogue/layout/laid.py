"""A top on its slab or slabs: what is wood, what is resin, what is left; exact geometry.

Whatever found the placement (the fit, a pair's search, a hand on the screen), its figures are read
here and nowhere else.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from catalogue.layout import offcuts
from catalogue.layout.offcuts import Offcut
from catalogue.layout.placed import Placed
from catalogue.layout.rules import ALLOWANCES
from catalogue.layout.tops import Top

TOUCHING_MM2 = 0.5
"""So little of a top outside the wood is rounding, not a miss."""
FAR_MM = 1e5


@dataclass(frozen=True, eq=False)
class Layout:
    """A top laid on slabs, the top's centre the origin.

    `how` is a value of catalogue.models.HowMade. `margin_mm` is spare wood beyond what was asked,
    negative by what is missing (see the function that made the layout for what could grow).
    `cuts` are the straight lines along which slabs are ripped before they are glued or cast: the
    i-th slab keeps the side on which `keeps` says it lies (a polygon, or None to keep all).
    `gap_mm` is least, mean and greatest width of resin between two slabs.
    `finished` is the top's own edge: for a live-edge top it follows the slab.
    """

    top: Top
    placed: tuple[Placed, ...]
    how: str
    margin_mm: float
    finished: Polygon
    keeps: tuple[Polygon | None, ...] = ()
    cuts: tuple[LineString, ...] = ()
    gap_mm: tuple[float, float, float] | None = None

    @property
    def has_resin(self) -> bool:
        return self.how in ("resin_pair", "resin_sides")

    @cached_property
    def wood(self) -> tuple[BaseGeometry, ...]:
        """The part of the finished top that each slab gives; where two overlap, the first."""
        given: list[BaseGeometry] = []
        for at, placed in enumerate(self.placed):
            covers = placed.polygon.covers(self.finished)
            part: BaseGeometry = (
                self.finished if covers else self.finished.intersection(placed.polygon)
            )
            keep = self.keeps[at] if at < len(self.keeps) else None
            if keep is not None:
                part = part.intersection(keep)
            for other in given:
                part = part.difference(other)
            given.append(part)
        return tuple(given)

    @cached_property
    def bare(self) -> BaseGeometry:
        """Top with no wood under it: resin where the method pours it, a miss where it does not."""
        if any(part is self.finished for part in self.wood):
            return Polygon()
        return self.finished.difference(shapely.union_all(list(self.wood)))

    @property
    def resin_mm2(self) -> float:
        return float(self.bare.area) if self.has_resin else 0.0

    @property
    def missing_mm2(self) -> float:
        return 0.0 if self.has_resin else float(self.bare.area)

    @property
    def fits(self) -> bool:
        return self.margin_mm >= -1e-6 and self.missing_mm2 <= TOUCHING_MM2

    def kerf(self, kerf_mm: float = ALLOWANCES.kerf_mm) -> tuple[BaseGeometry, ...]:
        """What the saw takes of each slab, outside the wood that is used."""
        return tuple(
            used.buffer(kerf_mm).intersection(placed.slab).difference(used)
            for used, placed in zip(self.wood, self.placed, strict=True)
        )

    def left_over(self, kerf_mm: float = ALLOWANCES.kerf_mm) -> tuple[BaseGeometry, ...]:
        """What is left of each slab: used + kerf + left over = the slab's wood."""
        return tuple(
            placed.slab.difference(shapely.union(used, kerf))
            for used, kerf, placed in zip(self.wood, self.kerf(kerf_mm), self.placed, strict=True)
        )

    @cached_property
    def left(self) -> tuple[BaseGeometry, ...]:
        """What is left of each slab at the usual kerf."""
        return self.left_over()

    def left_over_mm2(self) -> list[float]:
        """Face of each slab that neither the top nor the saw takes."""
        return [float(left.area) for left in self.left]

    @cached_property
    def offcuts(self) -> tuple[Offcut, ...]:
        """The pieces worth keeping of what is left of all its slabs."""
        return tuple(piece for left in self.left for piece in offcuts.offcuts(left))

    def with_margin(self, margin_mm: float) -> Layout:
        return replace(self, margin_mm=margin_mm)
