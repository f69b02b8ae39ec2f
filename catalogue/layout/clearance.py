"""How far a top lies from the edge of the wood: exact distances, in mm.

Positive: the least distance from the top's edge to where the wood ends, at its edge or at a hole.
Negative: about how far the top reaches over, the farther of what sticks out and what cuts in.
"""

from __future__ import annotations

from functools import cached_property, lru_cache

import numpy as np
import shapely
from shapely import Polygon, affinity

from catalogue.layout.tops import CURVED, Floats, Top

ROUGH_POINTS = 72


class Wood:
    """A slab's wood made ready to be asked many times; in the slab's own mm."""

    def __init__(self, polygon: Polygon) -> None:
        self.polygon = polygon
        self.edge = polygon.boundary
        shapely.prepare(self.polygon)
        shapely.prepare(self.edge)

    @cached_property
    def corners(self) -> Floats:
        return np.asarray(shapely.get_coordinates(self.edge))

    def clearance_mm(self, top: Polygon) -> float:
        """Of a top where it lies; see the module."""
        if self.polygon.contains(top):
            return float(shapely.distance(self.edge, top.exterior))
        out = shapely.points(shapely.get_coordinates(top.exterior))
        reach = float(shapely.distance(self.polygon, out).max())
        shapely.prepare(top)
        inside = self.corners[shapely.contains_xy(top, self.corners)]
        cut = 0.0
        if len(inside):
            cut = float(shapely.distance(top.exterior, shapely.points(inside)).max())
        # Crossing with no corner of either inside the other: a hair's breadth.
        return -max(reach, cut, 1e-3)


@lru_cache(maxsize=256)
def outer_polygon(top: Top, points: int = 0) -> Polygon:
    """The top by a polygon that holds all of it, so that what is said to fit does.

    A curve by as many straight lines as its own polygon has, or by `points` of them, drawn
    outside it.
    """
    if top.shape in CURVED:
        count = points or 360
        turn = np.linspace(0.0, 2 * np.pi, count, endpoint=False)
        out = 1.0 / float(np.cos(np.pi / count))
        half = np.array([top.length_mm / 2 * out, top.width_mm / 2 * out])
        return Polygon(np.column_stack([np.cos(turn), np.sin(turn)]) * half)
    if top.shape in ("boat", "rounded") and top.polygon.area > 0:
        simple = top.polygon if not points else top.polygon.simplify(0.3)
        assert isinstance(simple, Polygon)
        # Between two of its points the curve rises above the chord by less than this.
        grown = simple.buffer(_rise_mm(top) + (0.3 if points else 0.0), join_style="mitre")
        cut = grown.intersection(shapely.box(*top.polygon.bounds))
        assert isinstance(cut, Polygon)
        return cut
    return top.polygon


def _rise_mm(top: Top) -> float:
    """How far a boat's or a rounded corner's arc rises above the chords of its polygon."""
    if top.shape == "rounded":
        return top.corner_mm * (1.0 - float(np.cos(np.pi / 720)))
    sagitta = (top.width_mm - top.end_width_mm) / 2
    if sagitta <= 0:
        return 0.0
    radius = ((top.length_mm / 2) ** 2 + sagitta**2) / (2 * sagitta)
    return (top.length_mm / 180) ** 2 / (8 * radius)


def put(polygon: Polygon, x_mm: float, y_mm: float, turn_deg: float) -> Polygon:
    """A top's polygon in the slab's own frame: turned counter-clockwise, its centre at x, y."""
    turn = np.radians(turn_deg)
    cos, sin = float(np.cos(turn)), float(np.sin(turn))
    moved = affinity.affine_transform(polygon, [cos, -sin, sin, cos, x_mm, y_mm])
    assert isinstance(moved, Polygon)
    return moved
