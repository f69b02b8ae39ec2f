"""The finished top in plan: its centre at the origin, its length along x; mm and mm²."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
from shapely import Polygon, box

Floats = npt.NDArray[np.float64]
CURVED = ("round", "oval")
CURVE_POINTS = 360


@dataclass(frozen=True)
class Top:
    """A top as it is asked: `shape` is a value of catalogue.models.TopShape.

    A round's length and width are its diameter. `corner_mm`: radius of a rounded rectangle's
    corners. `end_width_mm`: a boat's width at its ends; its sides are arcs of circles that are
    `width_mm` apart in the middle. A live-edge top's `width_mm` is the least it may measure across
    anywhere between its straight ends; `kept_edges` is "both" or "one".
    """

    shape: str
    length_mm: float
    width_mm: float
    corner_mm: float = 0.0
    end_width_mm: float = 0.0
    kept_edges: str = "both"

    @property
    def is_live_edge(self) -> bool:
        return self.shape == "live_edge"

    @cached_property
    def polygon(self) -> Polygon:
        """The top's edge; a curve by points on it, so the polygon lies just inside the curve.

        For a live-edge top the least rectangle it must hold; its own edge comes with the slab.
        """
        length, width = self.length_mm / 2, self.width_mm / 2
        if self.shape in CURVED:
            turn = np.linspace(0.0, 2 * np.pi, CURVE_POINTS, endpoint=False)
            return Polygon(np.column_stack([length * np.cos(turn), width * np.sin(turn)]))
        if self.shape == "boat":
            x = np.linspace(-length, length, CURVE_POINTS // 2 + 1)
            half = self.half_width_at(x / length)
            upper = np.column_stack([x, half])
            return Polygon(np.vstack([upper, (upper * (1, -1))[::-1]]))
        if self.shape == "rounded" and self.corner_mm > 0:
            radius = min(self.corner_mm, length, width)
            inner = box(-length + radius, -width + radius, length - radius, width - radius)
            grown = inner.buffer(radius, quad_segs=CURVE_POINTS // 4)
            assert isinstance(grown, Polygon)
            return grown
        return box(-length, -width, length, width)

    def half_width_at(self, place: Floats) -> Floats:
        """Half the width (mm) at places from −1 (one end) to 1 (the other)."""
        if self.shape in CURVED:
            return np.asarray(self.width_mm / 2 * np.sqrt(np.clip(1 - place**2, 0, None)))
        if self.shape == "boat":
            return self._boat_half(place)
        if self.shape == "rounded" and self.corner_mm > 0:
            radius = min(self.corner_mm, self.length_mm / 2, self.width_mm / 2)
            into = np.clip(
                np.abs(place) * self.length_mm / 2 - (self.length_mm / 2 - radius), 0, radius
            )
            # At the very end rounding may leave a hair less than nothing.
            rise = np.sqrt(np.clip(radius**2 - into**2, 0.0, None))
            return np.asarray(self.width_mm / 2 - radius + rise)
        return np.full_like(place, self.width_mm / 2)

    def _boat_half(self, place: Floats) -> Floats:
        """Each side an arc through the two ends and the middle: sagitta s over half chord c."""
        sagitta = (self.width_mm - self.end_width_mm) / 2
        if sagitta <= 0:
            return np.full_like(place, self.width_mm / 2)
        chord = self.length_mm / 2
        radius = (chord**2 + sagitta**2) / (2 * sagitta)
        rise = np.sqrt(np.clip(radius**2 - (place * chord) ** 2, 0, None)) - (radius - sagitta)
        return np.asarray(self.end_width_mm / 2 + rise)

    @property
    def area_mm2(self) -> float:
        """Exact for rectangles, rounds and ovals; of the many-sided polygon for the others."""
        if self.shape in CURVED:
            return self.length_mm * self.width_mm * float(np.pi) / 4
        return float(self.polygon.area)

    def scaled(self, by: float) -> Top:
        """The same top larger or smaller in every measure."""
        return Top(
            self.shape,
            self.length_mm * by,
            self.width_mm * by,
            self.corner_mm * by,
            self.end_width_mm * by,
            self.kept_edges,
        )

    def record(self) -> dict[str, float | str]:
        """For a JSON field; `Top(**record)` gives it back."""
        return {name: getattr(self, name) for name in self.__dataclass_fields__}
