"""Where lines straight across a slab (of one x each) meet its rings; arrays only, all in mm."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]

ASIDE_MM = 1e-6


def crossings(rings: Sequence[Floats], places: Floats) -> tuple[Ints, Floats]:
    """Each meeting of closed rings (first point = last) with the lines at `places` (ascending).

    Returns (m,) which place it is, and (m,) the y there. A piece of ring is met from its lesser x
    up to, not at, its greater, so that every place meets a closed ring an even number of times.
    """
    first = np.vstack([ring[:-1] for ring in rings])
    second = np.vstack([ring[1:] for ring in rings])
    (x0, y0), (x1, y1) = first.T, second.T
    begins = np.searchsorted(places, np.minimum(x0, x1))
    counts = np.searchsorted(places, np.maximum(x0, x1)) - begins
    piece = np.repeat(np.arange(len(x0)), counts)
    nth = np.arange(len(piece)) - np.repeat(np.cumsum(counts) - counts, counts)
    at = begins[piece] + nth
    share = (places[at] - x0[piece]) / (x1 - x0)[piece]
    return at, np.asarray(y0[piece] + share * (y1 - y0)[piece])


def outermost(rings: Sequence[Floats], places: Floats) -> tuple[Floats, Floats]:
    """The least and the greatest y of rings at places; +inf and −inf where they are not met."""
    at, y = crossings(rings, places)
    low, high = np.full(len(places), np.inf), np.full(len(places), -np.inf)
    np.minimum.at(low, at, y)
    np.maximum.at(high, at, y)
    return low, high


def inside(rings: Sequence[Floats], places: Floats) -> Floats:
    """How much of each line lies inside the rings; a ring within a ring is a hole."""
    at, y = crossings(rings, places)
    order = np.lexsort((y, at))
    at, y = at[order], y[order]
    found = np.bincount(at[::2], y[1::2] - y[::2], len(places))
    return np.asarray(found, dtype=np.float64)


def borders(low_x: float, high_x: float, step_mm: float) -> Floats:
    """The borders of the whole bins of that step that lie between, from the first end; one at
    least, which may then reach beyond the other end."""
    count = max(1, int(np.floor((high_x - low_x) / step_mm)))
    return low_x + step_mm * np.arange(count + 1, dtype=np.float64)


def telling_places(rings: Sequence[Floats], bin_borders: Floats) -> tuple[Floats, Ints]:
    """Places at which an edge of straight pieces is least and greatest within every bin.

    They are its corners and the bins' borders, looked at from either side, so that a run straight
    across does not count. Also where each bin's places begin among them, for `reduceat`.
    """
    corners = np.concatenate([ring[:-1, 0] for ring in rings])
    either = np.concatenate([bin_borders, corners])
    either = np.concatenate([either - ASIDE_MM, either + ASIDE_MM])
    within = (either > bin_borders[0]) & (either < bin_borders[-1])
    places = np.unique(either[within])
    return places, np.searchsorted(places, bin_borders[:-1])
