"""The resin between two slabs, by exact geometry: how wide, how even, and what falls short."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon, box
from shapely.geometry.base import BaseGeometry

from catalogue.layout.halves import sections
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
    length = layout.top.length_mm
    if first.is_empty or second.is_empty:
        return 0.0, between(layout).area / length, layout.top.width_mm
    return (
        float(first.distance(second)),
        float(between(layout).area) / length,
        float(bare_across(layout).max()),
    )


def uneven_mm(layout: Layout) -> float:
    """Standard deviation of the width of resin across the top, at even places along it."""
    low, _, high, _ = layout.finished.bounds
    inset = BESIDE_MM * (high - low)
    places = np.linspace(low + inset, high - inset, EVEN_PLACES)
    return float(_across(between(layout), places).std())


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
    return _across(between(layout), _breaks(layout))


def _upper_edge(top: Top, margin_mm: float) -> Floats:
    grown = top.polygon.buffer(margin_mm, join_style="mitre") if margin_mm else top.polygon
    assert isinstance(grown, Polygon)
    return sections(np.asarray(grown.exterior.coords)[:-1])[1]


def _runs(placed: Placed) -> tuple[Floats, Floats]:
    ring = np.asarray(placed.polygon.exterior.coords)[:-1]
    return sections(ring) if len(ring) else (np.zeros((0, 2)), np.zeros((0, 2)))


def _breaks(layout: Layout) -> Floats:
    """Just beside every x at which an edge of the top or of a slab breaks."""
    rings = [layout.finished.exterior, *(placed.polygon.exterior for placed in layout.placed)]
    x = _within(layout.top, np.concatenate([np.asarray(ring.coords)[:, 0] for ring in rings]))
    beside = np.concatenate([x - BESIDE_MM, x + BESIDE_MM])
    return np.unique(beside[np.abs(beside) < layout.top.length_mm / 2])


def _within(top: Top, x: Floats) -> Floats:
    end = top.length_mm / 2
    return np.unique(np.concatenate([[-end, end], x[np.abs(x) < end]]))


def _across(shape: BaseGeometry, x: Floats) -> Floats:
    """The length of straight lines across at x that lies within the shape."""
    ends = np.stack([np.full(len(x), -FAR_MM), np.full(len(x), FAR_MM)], axis=1)
    lines = shapely.linestrings(np.stack([np.repeat(x[:, None], 2, axis=1), ends], axis=2))
    shapely.prepare(shape)
    return np.asarray(shapely.length(shapely.intersection(lines, shape)))
