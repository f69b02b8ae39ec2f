"""The true shape of a slab in plan: its traced outline, and the figures that follow from it.

x runs along the slab from 0 at its first end to its length, y across it; all in mm. The upper edge
is the one of greater y. What was traced is the *ring*; *wood* is what is left of it without holes,
and without bark where the bark lies inside the line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from inventory.wood import capacity, outline, sections
from inventory.wood.capacity import Bins
from inventory.wood.outline import WidthAt

Floats = npt.NDArray[np.float64]
Rings = tuple[Floats, ...]

STATIONS = 101
"""Widths are kept at so many even places from end to end, both ends included."""
EDGE_STEP_MM = 10.0
PROFILE_STEP_MM = 10.0
CAPACITY_STEP_MM = capacity.STEP_MM
END_SHARE = 0.15
"""An end's cut is looked for in so much of the length."""
CUT_STRAYS_MM, CUT_STRAYS_SHARE = 8.0, 0.06
"""A cut's points lie within either of them (the share is of its width) of the straight line."""
BACK_MM = 5.0
"""An edge running back along the slab by more than this doubles back; hands tremble by less."""


@dataclass(frozen=True, eq=False)
class Face:
    """One face as it was traced.

    `ring_mm` (n, 2), not closed; `holes_mm` the same for each hole; `bark_mm` the thickness of
    bark inside the line, 0 where the line runs inside the bark.
    """

    ring_mm: Floats
    holes_mm: tuple[Floats, ...] = ()
    bark_mm: float = 0.0

    @cached_property
    def outer(self) -> Polygon:
        """What the line encloses, holes and all."""
        return Polygon(self.ring_mm)

    @cached_property
    def wood(self) -> Polygon:
        """The largest piece of wood, without bark and holes; empty where nothing is left."""
        within: BaseGeometry = self.outer
        if self.bark_mm > 0:
            within = within.buffer(-self.bark_mm)
        for hole in self.holes_mm:
            within = within.difference(Polygon(hole))
        pieces = [part for part in shapely.get_parts(within) if part.geom_type == "Polygon"]
        return max(pieces, key=lambda piece: float(piece.area), default=Polygon())


def face_of_widths(length_mm: float, stations: Sequence[WidthAt]) -> Face:
    """A face from widths at stations, symmetric about a straight centre line: an approximation."""
    return Face(np.array(outline.silhouette(length_mm, stations)[:-1], dtype=np.float64))


@dataclass(frozen=True, eq=False)
class Shape:
    """A face's figures, stored once for each slab (inventory/models/outline.py: SlabShape).

    `wood` in the slab's own mm; `widths_mm` (STATIONS,) wood across at even places; `centre_mm`
    (STATIONS,) y of the middle of the wood there, from outermost to outermost where it forks;
    `profile_mm` (n, 2) the least upper and greatest lower edge's y over each PROFILE_STEP_MM of
    length: [lower, upper] between which all is wood, holes not counted; `upper_mm` and `lower_mm`
    (k, 2) the edges as chains of EDGE_STEP_MM from first end to last, without the end cuts (see
    edges_of); `capacity_mm` (m,) the widest rectangle of length CAPACITY_STEP_MM × (1…m), turned
    by a few degrees at most and clear of holes (capacity.py); `circle` the largest circle in the
    wood: x, y, diameter, to 0.5 mm.
    """

    wood: Polygon
    length_mm: float
    area_mm2: float
    wood_mm2: float
    mean_width_mm: float
    least_width_mm: float
    greatest_width_mm: float
    circle: tuple[float, float, float]
    widths_mm: Floats
    centre_mm: Floats
    profile_mm: Floats
    upper_mm: Floats
    lower_mm: Floats
    capacity_mm: Floats
    doubles_back: bool
    is_approximate: bool = False


def shape_of(face: Face, *, is_approximate: bool = False) -> Shape:
    """Every figure of a face. Raises ValueError when no wood is left inside the line."""
    wood = face.wood
    if wood.is_empty:
        raise ValueError("No wood is left inside the line.")
    low_x, _, high_x, _ = wood.bounds
    length = float(high_x - low_x)
    upper, lower = edges_of(wood)
    rings = tuple(shapely.get_coordinates(r) for r in (wood.exterior, *wood.interiors))
    bins = _bins(rings)
    widths, centre = _across(rings)
    # Ends are often cut out of square: widths are compared between them.
    inner = widths[3:-3]
    return Shape(
        wood=wood,
        length_mm=length,
        area_mm2=float(face.outer.area),
        wood_mm2=float(wood.area),
        mean_width_mm=float(wood.area) / length,
        least_width_mm=float(inner.min()),
        greatest_width_mm=float(inner.max()),
        circle=_largest_circle(wood),
        widths_mm=widths,
        centre_mm=centre,
        profile_mm=np.column_stack([bins.low_mm, bins.high_mm]),
        upper_mm=chain(upper),
        lower_mm=chain(lower),
        capacity_mm=capacity.widest(bins),
        doubles_back=_runs_back(upper) or _runs_back(lower),
        is_approximate=is_approximate,
    )


def edges_of(wood: Polygon) -> tuple[Floats, Floats]:
    """The upper and the lower edge, (k, 2) each, from the first end to the last.

    An edge is what lies between the end cuts: of a square or an oblique end it begins at the
    corner. An end that is no straight cut (round, pointed, a cleft) parts them at its tip.
    """
    ring = np.asarray(wood.exterior.coords)[:-1]
    if not wood.exterior.is_ccw:
        ring = ring[::-1]
    (upper_first, lower_first), (lower_last, upper_last) = _end(ring, -1), _end(ring, 1)
    round_from_first = [(at - lower_first) % len(ring) for at in (lower_last, upper_last)]
    back = (upper_first - lower_first) % len(ring) or len(ring)
    if not round_from_first[0] <= round_from_first[1] <= back:
        lower_first = upper_first = int(ring[:, 0].argmin())
        lower_last = upper_last = int(ring[:, 0].argmax())
    return _run(ring, upper_last, upper_first)[::-1], _run(ring, lower_first, lower_last)


def _end(ring: Floats, sense: int) -> tuple[int, int]:
    """Where along a counter-clockwise ring an end's cut begins and ends; its tip twice if none.

    `sense` is −1 for the first end and 1 for the last. A corner lies farthest out at 45°.
    """
    x, y = sense * ring[:, 0], ring[:, 1]
    near = x >= x.max() - END_SHARE * np.ptp(x)
    upper = int(np.where(near, x + y, -np.inf).argmax())
    lower = int(np.where(near, x - y, -np.inf).argmax())
    begins, ends = (lower, upper) if sense > 0 else (upper, lower)
    cut = _run(ring, begins, ends)
    across = cut[-1] - cut[0]
    width = float(np.hypot(*across))
    if width > 0.0:
        off = np.abs((cut - cut[0]) @ np.array([-across[1], across[0]])) / width
        if off.max() <= max(CUT_STRAYS_MM, CUT_STRAYS_SHARE * width):
            return begins, ends
    tip = int(x.argmax())
    return tip, tip


def _run(ring: Floats, begins: int, ends: int) -> Floats:
    """A ring's points from one on to another, round its start where need be."""
    turned = np.roll(ring, -begins, axis=0)
    count = (ends - begins) % len(ring) + 1
    return np.asarray(turned[:count])


def chain(edge_mm: Floats, step_mm: float = EDGE_STEP_MM) -> Floats:
    """An edge at even steps of its own run, both ends kept; (k, 2)."""
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(edge_mm, axis=0).T))])
    count = max(2, int(np.ceil(run[-1] / step_mm)) + 1)
    at = np.linspace(0.0, run[-1], count)
    return np.column_stack([np.interp(at, run, edge_mm[:, 0]), np.interp(at, run, edge_mm[:, 1])])


def _runs_back(edge_mm: Floats) -> bool:
    return bool((np.maximum.accumulate(edge_mm[:, 0]) - edge_mm[:, 0]).max() > BACK_MM)


def _across(rings: Rings) -> tuple[Floats, Floats]:
    """Wood across the slab at STATIONS even places, and the middle of its outermost points."""
    x = rings[0][:, 0]
    low_x, high_x = float(x.min()), float(x.max())
    inset = 1e-6 * (high_x - low_x)
    places = np.linspace(low_x + inset, high_x - inset, STATIONS)
    low, high = sections.outermost(rings[:1], places)
    return sections.inside(rings, places), (low + high) / 2.0


def _largest_circle(wood: Polygon) -> tuple[float, float, float]:
    radius = shapely.maximum_inscribed_circle(wood, tolerance=0.5)
    (x, y), _ = np.asarray(radius.coords)
    return float(x), float(y), 2.0 * float(radius.length)


def _bins(rings: Rings) -> Bins:
    """The wood and its holes over each PROFILE_STEP_MM of length: exact."""
    x = rings[0][:, 0]
    borders = sections.borders(float(x.min()), float(x.max()), PROFILE_STEP_MM)
    places, firsts = sections.telling_places(rings, borders)
    low, high = sections.outermost(rings[:1], places)
    holes = [sections.outermost([hole], places) for hole in rings[1:]]
    nowhere = np.empty((0, len(firsts)))
    return Bins(
        PROFILE_STEP_MM,
        np.maximum.reduceat(low, firsts),
        np.minimum.reduceat(high, firsts),
        np.array([np.minimum.reduceat(lower, firsts) for lower, _ in holes] or nowhere),
        np.array([np.maximum.reduceat(upper, firsts) for _, upper in holes] or nowhere),
    )
