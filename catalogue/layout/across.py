"""What lies across a slab at places along it: its longest run of wood, and the holes in that.

Arrays only: every straight piece of edge against every place, in mm.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon

from catalogue.layout.tops import Floats

ASIDE_MM = 1e-6
"""An edge that steps is looked at so near on either side."""
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Across:
    """At each place x: the longest run of wood from `low` to `high`, holes not counted.

    `holed` is what holes take of that run (0 for none), `hole_top` the top of the highest of them
    (−inf for none). Where nothing is crossed, low and high are 0.
    """

    x: Floats
    low: Floats
    high: Floats
    holed: Floats
    hole_top: Floats

    def part(self, which: slice | npt.NDArray[np.bool_]) -> Across:
        """Some of the places."""
        return Across(
            self.x[which],
            self.low[which],
            self.high[which],
            self.holed[which],
            self.hole_top[which],
        )

    @property
    def middle_mm(self) -> float:
        """The mean of the runs' middles."""
        return float(np.mean(self.low + self.high)) / 2

    def shared_mm(self) -> float:
        """The least that the runs on either side of a step share: wood goes on only there."""
        beside = np.diff(self.x) <= 3 * ASIDE_MM
        if not beside.any():
            return float("inf")
        high = np.minimum(self.high[1:], self.high[:-1])
        low = np.maximum(self.low[1:], self.low[:-1])
        return float((high - low)[beside].min())


@dataclass(frozen=True, eq=False)
class Edges:
    """The straight pieces of a slab's edge and of its holes' edges; `turn` about the origin."""

    wood: Polygon
    turn_deg: float = 0.0
    outer: Floats = field(init=False)
    inner: Floats = field(init=False)

    def __post_init__(self) -> None:
        turn = np.radians(self.turn_deg)
        spin = np.array([(np.cos(turn), np.sin(turn)), (-np.sin(turn), np.cos(turn))])
        rings = [shapely.get_coordinates(ring) @ spin for ring in self.wood.interiors]
        object.__setattr__(self, "outer", shapely.get_coordinates(self.wood.exterior) @ spin)
        pieces = [np.stack([ring[:-1], ring[1:]]) for ring in rings]
        inner = np.concatenate(pieces, axis=1) if pieces else np.zeros((2, 0, 2))
        object.__setattr__(self, "inner", inner)

    def turned(self, by_deg: float) -> Edges:
        return Edges(self.wood, self.turn_deg + by_deg)

    @property
    def left_mm(self) -> float:
        return float(self.outer[:, 0].min())

    @property
    def right_mm(self) -> float:
        return float(self.outer[:, 0].max())

    def at(self, x: Floats) -> Across:
        """What lies across at each of those places."""
        low, high = _longest(len(x), *_runs(self.outer[:-1], self.outer[1:], x))
        holed, hole_top = np.zeros(len(x)), np.full(len(x), -np.inf)
        place, foot, top = _runs(self.inner[0], self.inner[1], x)
        within = (foot >= low[place]) & (top <= high[place])
        np.add.at(holed, place[within], (top - foot)[within])
        np.maximum.at(hole_top, place[within], top[within])
        return Across(x, low, high, holed, hole_top)


def _runs(first: Floats, last: Floats, x: Floats) -> tuple[Ints, Floats, Floats]:
    """Every run between two crossings, inside closed rings: which place, from y, to y."""
    (x0, y0), (x1, y1) = first.T, last.T
    # Half open, so that a corner between two pieces is crossed once and runs come in twos.
    passes = (np.minimum(x0, x1) <= x[:, None]) & (x[:, None] < np.maximum(x0, x1))
    place, piece = np.nonzero(passes)
    share = (x[place] - x0[piece]) / (x1[piece] - x0[piece])
    y = y0[piece] + share * (y1[piece] - y0[piece])
    order = np.lexsort((y, place))
    place, y = place[order], y[order]
    return place[::2], y[::2], y[1::2]


def _longest(count: int, place: Ints, low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """The longest run at each place; 0 to 0 where there is none."""
    order = np.lexsort((high - low, place))
    found = np.zeros((2, count))
    # Of several at one place the last written, which is the longest, stands.
    found[0, place[order]], found[1, place[order]] = low[order], high[order]
    return found[0], found[1]
