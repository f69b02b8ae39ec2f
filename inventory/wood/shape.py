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

from inventory.wood import outline
from inventory.wood.outline import WidthAt

Floats = npt.NDArray[np.float64]

STATIONS = 101
"""Widths are kept at so many even places from end to end, both ends included."""
EDGE_STEP_MM = 10.0
PROFILE_STEP_MM = 10.0
CAPACITY_STEP_MM = 100.0
ASIDE_MM = 1e-6
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
    (STATIONS,) y of the middle of the wood there; `profile_mm` (n, 2) the least upper and greatest
    lower edge's y over each PROFILE_STEP_MM of length: [lower, upper] between which all is wood,
    holes not counted; `upper_mm` and `lower_mm` (k, 2) the edges as chains of EDGE_STEP_MM from
    first end to last; `capacity_mm` (m,) the widest rectangle of length CAPACITY_STEP_MM × (1…m);
    `circle` the largest circle in the wood: x, y, diameter.
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
    profile = _profile(wood)
    widths, centre = _across(wood)
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
        profile_mm=profile,
        upper_mm=chain(upper),
        lower_mm=chain(lower),
        capacity_mm=_capacity(profile),
        doubles_back=_runs_back(upper) or _runs_back(lower),
        is_approximate=is_approximate,
    )


def edges_of(wood: Polygon) -> tuple[Floats, Floats]:
    """The upper and the lower edge, (k, 2) each, from the first end to the last.

    The ring is parted at the middle of the wood's two ends: the end cuts go half to either edge.
    """
    ring = np.asarray(wood.exterior.coords)[:-1]
    if not wood.exterior.is_ccw:
        ring = ring[::-1]
    first, last = int(ring[:, 0].argmin()), int(ring[:, 0].argmax())
    turned = np.roll(ring, -first, axis=0)
    cut = (last - first) % len(ring)
    lower = turned[: cut + 1]
    upper = np.vstack([turned[cut:], turned[:1]])[::-1]
    return upper, lower


def chain(edge_mm: Floats, step_mm: float = EDGE_STEP_MM) -> Floats:
    """An edge at even steps of its own run, both ends kept; (k, 2)."""
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(edge_mm, axis=0).T))])
    count = max(2, int(np.ceil(run[-1] / step_mm)) + 1)
    at = np.linspace(0.0, run[-1], count)
    return np.column_stack([np.interp(at, run, edge_mm[:, 0]), np.interp(at, run, edge_mm[:, 1])])


def _runs_back(edge_mm: Floats) -> bool:
    return bool((np.maximum.accumulate(edge_mm[:, 0]) - edge_mm[:, 0]).max() > BACK_MM)


def _across(wood: Polygon) -> tuple[Floats, Floats]:
    """Wood across the slab at STATIONS even places, and the middle of its outermost points."""
    low_x, low_y, high_x, high_y = wood.bounds
    inset = 1e-6 * (high_x - low_x)
    places = np.linspace(low_x + inset, high_x - inset, STATIONS)
    ends = np.array([[(x, low_y - 1.0), (x, high_y + 1.0)] for x in places])
    cuts = shapely.intersection(shapely.linestrings(ends), wood)
    bounds = shapely.bounds(cuts)
    middle = (bounds[:, 1] + bounds[:, 3]) / 2.0
    return np.asarray(shapely.length(cuts)), np.where(np.isfinite(middle), middle, 0.0)


def _largest_circle(wood: Polygon) -> tuple[float, float, float]:
    radius = shapely.maximum_inscribed_circle(wood, tolerance=0.5)
    (x, y), _ = np.asarray(radius.coords)
    return float(x), float(y), 2.0 * float(radius.length)


def _profile(wood: Polygon) -> Floats:
    """See Shape: exact, since an edge of straight pieces is least at a corner or a bin's border."""
    low_x, _, high_x, _ = wood.bounds
    count = max(1, int(np.floor((high_x - low_x) / PROFILE_STEP_MM)))
    borders = low_x + PROFILE_STEP_MM * np.arange(count + 1)
    corners = shapely.get_coordinates(wood.exterior)[:, 0]
    # Looked at from either side, so that a square end does not count as an edge.
    either = np.concatenate([borders - ASIDE_MM, borders + ASIDE_MM])
    either = np.concatenate([either, corners - ASIDE_MM, corners + ASIDE_MM])
    places = np.unique(either[(either > low_x) & (either < borders[-1])])
    low, high = _outermost(shapely.get_coordinates(wood.exterior), places)
    firsts = np.searchsorted(places, borders[:-1])
    lower, upper = np.maximum.reduceat(low, firsts), np.minimum.reduceat(high, firsts)
    return np.column_stack([lower, upper])


def _outermost(ring: Floats, places: Floats) -> tuple[Floats, Floats]:
    """The least and the greatest y of a closed ring at places along x that it passes."""
    (x0, y0), (x1, y1) = ring[:-1].T, ring[1:].T
    x0, y0, x1, y1 = (side[None, :] for side in (x0, y0, x1, y1))
    x = places[:, None]
    passes = (np.minimum(x0, x1) <= x) & (x <= np.maximum(x0, x1)) & (x0 != x1)
    share = (x - x0) / np.where(x0 == x1, 1.0, x1 - x0)
    y = y0 + share * (y1 - y0)
    low = np.where(passes, y, np.inf).min(axis=1)
    return np.asarray(low), np.asarray(np.where(passes, y, -np.inf).max(axis=1))


def _capacity(profile: Floats) -> Floats:
    """Along the slab's length: a rectangle turned a few degrees may be a little wider."""
    steps = int(CAPACITY_STEP_MM / PROFILE_STEP_MM)
    found = []
    for count in range(steps, len(profile) + 1, steps):
        windows = np.lib.stride_tricks.sliding_window_view
        high = windows(profile[:, 1], count).min(axis=1)
        low = windows(profile[:, 0], count).max(axis=1)
        found.append(max(0.0, float((high - low).max())))
    return np.array(found)
