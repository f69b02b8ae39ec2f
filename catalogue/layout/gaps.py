"""The resin between two slabs, by exact geometry: how wide, how even, and what falls short."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import shapely
from shapely import Polygon, box
from shapely.geometry.base import BaseGeometry

from catalogue.layout.halves import doubles_back, sections
from catalogue.layout.laid import FAR_MM, Layout
from catalogue.layout.placed import Placed
from catalogue.layout.tops import Floats, Top

BESIDE_MM = 1e-6
TOUCHING_MM = 0.05
"""So little short of an edge is rounding."""
EVEN_PLACES = 101


def gap_of(layout: Layout) -> tuple[float, float, float]:
    """Least, mean and greatest width (mm) of resin between the layout's two slabs.

    Least is the least distance between the two woods within the top; mean is the area of the resin
    over the top's length; greatest is measured straight across the top. Voids in a slab do not
    count as gap.
    """
    first, second = layout.wood
    mean = float(between(layout).area) / layout.top.length_mm
    least = 0.0 if first.is_empty or second.is_empty else float(first.distance(second))
    return least, mean, float(bare_across(layout).max())


def uneven_mm(layout: Layout) -> float:
    """Standard deviation of the width of resin across the top, at even places along it."""
    low, _, high, _ = layout.finished.bounds
    inset = BESIDE_MM * (high - low)
    return float(_bare_at(layout, np.linspace(low + inset, high - inset, EVEN_PLACES)).std())


def between(layout: Layout) -> BaseGeometry:
    """The top that no slab's outer line encloses: the resin without what fills voids."""
    filled = [Polygon(placed.polygon.exterior) for placed in layout.placed]
    return layout.finished.difference(shapely.union_all(filled))


def apart_mm(top: Top, first: Placed, second: Placed) -> float:
    """Least distance between two slabs crosscut to the top's length; negative where they overlap.

    An overlap is measured straight across, by the outer lines.
    """
    strip = box(-top.length_mm / 2, -FAR_MM, top.length_mm / 2, FAR_MM)
    cut = [placed.polygon.intersection(strip) for placed in (first, second)]
    if not cut[0].intersects(cut[1]):
        return float(cut[0].distance(cut[1]))
    low, _ = _runs(first)
    _, high = _runs(second)
    x = _within(top, np.concatenate([low[:, 0], high[:, 0]]))
    return min(0.0, float((np.interp(x, *low.T) - np.interp(x, *high.T)).min()))


def short_mm(top: Top, placed: Placed, margin_mm: float = 0.0) -> float:
    """By how much the slab at the side of greater y falls short of the top's outer edge there.

    The edge is grown by the margin. Negative: by how much it lies beyond. What the slab does not
    reach at the top's ends is not looked at (see `short_along_mm`).
    """
    _, high = _runs(placed)
    if not len(high):
        return top.width_mm / 2 + margin_mm
    edge = _upper_edge(top, margin_mm)
    low_x, high_x = max(high[0, 0], edge[0, 0]), min(high[-1, 0], edge[-1, 0])
    x = np.clip(np.concatenate([edge[:, 0], high[:, 0]]), low_x, max(low_x, high_x))
    return float((np.interp(x, *edge.T) - np.interp(x, *high.T)).max())


def short_along_mm(top: Top, placed: Placed, margin_mm: float = 0.0) -> float:
    """By how much the slab does not reach an end of the top, the worse of the two; or negative."""
    low, _, high, _ = placed.polygon.bounds
    end = top.length_mm / 2 + margin_mm
    return max(low + end, end - high) if np.isfinite(low) else end


def lowest_mm(top: Top, placed: Placed, margin_mm: float = 0.0) -> float:
    """The greatest y of the slab's lower edge along the top: all above it is wood there."""
    low, _ = _runs(placed)
    end = top.length_mm / 2 + margin_mm
    within = low[np.abs(low[:, 0]) < end, 1]
    ends = np.interp([-end, end], *low.T)
    return float(np.concatenate([within, ends]).max())


def bare_across(layout: Layout) -> Floats:
    """The width of resin across the top beside every break of an edge: its extremes are there."""
    return _bare_at(layout, _breaks(layout))


def _bare_at(layout: Layout, x: Floats) -> Floats:
    rings = _rings(layout)
    if any(doubles_back(ring) for ring in rings):
        return _across(between(layout), x)
    (under, over), *slabs = (_heights(ring, x) for ring in rings)
    covered: list[tuple[Floats, Floats]] = [
        (np.clip(low, under, over), np.clip(high, under, over)) for low, high in slabs
    ]
    bare = (over - under) - sum(high - low for low, high in covered)
    if len(covered) == 2:
        (low, high), (other_low, other_high) = covered
        bare += np.clip(np.minimum(high, other_high) - np.maximum(low, other_low), 0.0, None)
    return np.asarray(bare)


def _rings(layout: Layout) -> list[Floats]:
    """The outer lines of the top and of each slab's usable wood, not closed."""
    lines = [layout.finished.exterior, *(placed.polygon.exterior for placed in layout.placed)]
    return [np.asarray(line.coords)[:-1] for line in lines if not line.is_empty]


def _heights(ring: Floats, x: Floats) -> tuple[Floats, Floats]:
    """y of a ring's lower and upper edge at x; both 0 where it does not reach."""
    low, high = sections(ring)
    reached = (x >= low[0, 0]) & (x <= low[-1, 0])
    return np.interp(x, *low.T) * reached, np.interp(x, *high.T) * reached


def _upper_edge(top: Top, margin_mm: float) -> Floats:
    grown = top.polygon.buffer(margin_mm, join_style="mitre") if margin_mm else top.polygon
    assert isinstance(grown, Polygon)
    return sections(np.asarray(grown.exterior.coords)[:-1])[1]


def _runs(placed: Placed) -> tuple[Floats, Floats]:
    ring = np.asarray(placed.polygon.exterior.coords)[:-1]
    return sections(ring) if len(ring) else (np.zeros((0, 2)), np.zeros((0, 2)))


def _breaks(layout: Layout) -> Floats:
    """Just beside every x at which an edge of the top or of a slab breaks, or two edges cross."""
    rings = _rings(layout)
    x = _within(layout.top, np.concatenate([ring[:, 0] for ring in rings]))
    x = np.unique(np.concatenate([x - BESIDE_MM, x + BESIDE_MM]))
    x = x[np.abs(x) < layout.top.length_mm / 2]
    edges = [edge for ring in rings for edge in _heights(ring, x)]
    return np.unique(np.concatenate([x, *(_crossings(x, *two) for two in combinations(edges, 2))]))


def _crossings(x: Floats, one: Floats, other: Floats) -> Floats:
    """Where two lines of straight pieces between the x cross."""
    above = one - other
    at = np.flatnonzero(above[:-1] * above[1:] < 0)
    share = above[at] / (above[at] - above[at + 1])
    return np.asarray(x[at] + share * (x[at + 1] - x[at]))


def _within(top: Top, x: Floats) -> Floats:
    end = top.length_mm / 2
    return np.unique(np.concatenate([[-end, end], x[np.abs(x) < end]]))


def _across(shape: BaseGeometry, x: Floats) -> Floats:
    """The length of straight lines across at x that lies within the shape."""
    ends = np.stack([np.full(len(x), -FAR_MM), np.full(len(x), FAR_MM)], axis=1)
    lines = shapely.linestrings(np.stack([np.repeat(x[:, None], 2, axis=1), ends], axis=2))
    shapely.prepare(shape)
    return np.asarray(shapely.length(shapely.intersection(lines, shape)))
