"""Where the wood of a shape begins and ends across it: what marks on a drawing are set by."""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, Polygon

from inventory.seen_shapes import SeenShape
from inventory.wood.shape import Floats

INSET_MM = 1e-3


@dataclass(frozen=True)
class Across:
    """At `x` (mm from the first end) the wood lies from `low` to `high` (y up), `width_mm` of it:
    less than high − low where there is a hole, or the slab forks.
    """

    x: float
    low: float
    high: float
    width_mm: float


def across(shape: SeenShape, along: float) -> Across:
    """The wood across the slab at a place along it, 0 at its first end to 1."""
    left, low, right, high = shape.wood.bounds
    x = min(max(left + along * (right - left), left + INSET_MM), right - INSET_MM)
    cut = shapely.intersection(LineString([(x, low - 1.0), (x, high + 1.0)]), shape.wood)
    if cut.is_empty:
        middle = (low + high) / 2
        return Across(x, middle, middle, 0.0)
    _, foot, _, top = cut.bounds
    return Across(x, foot, top, float(cut.length))


def edges_at(wood: Polygon, places_mm: Floats) -> Floats:
    """(n, 2) lower and upper edge's y of a shape at places along x; NaN where it has no wood."""
    _, low, _, high = wood.bounds
    ends = np.array([[(x, low - 1.0), (x, high + 1.0)] for x in places_mm])
    bounds = shapely.bounds(shapely.intersection(shapely.linestrings(ends), wood))
    return np.asarray(bounds[:, [1, 3]], dtype=np.float64)
