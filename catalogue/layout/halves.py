"""One slab along one long side of a top: every way it can lie there, as arrays.

The slab lies at the side of greater y, its outer edge beyond the top's, an edge inward. Its other
places follow by mirrors: the other side of the top (y → −y), end for end (x → −x). Sections are
taken straight across the top at PLACES after the outline has been turned to the placement's own
angle, so oblique ends and slopes are seen as they will lie.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from catalogue.layout.placed import Placed
from catalogue.layout.tops import Floats, Top
from inventory.wood.shape import Shape

PLACES = 65
"""Sections across the top, both ends included."""
TURNS_DEG = np.arange(-5.0, 5.01, 0.5)
OFFSET_STEP_MM = 20.0
NEAR_END = 1.0 - 1e-9


@dataclass(frozen=True, eq=False)
class Halves:
    """Ways one slab can lie along a top's side; arrays of m ways.

    `edge` 0 with the lower edge inward, 1 with the upper (the slab turned end for end); `turn_deg`
    its own angle; `along_mm` where the top's centre lies along it; `out_mm` the least y of its
    origin at which the top's outer edge, with the margin, still lies on wood; `inner_mm` (m,
    PLACES) y of its inner edge then.
    """

    shape: Shape
    wane_mm: float
    edge: Floats
    turn_deg: Floats
    along_mm: Floats
    out_mm: Floats
    inner_mm: Floats

    def __len__(self) -> int:
        return len(self.edge)

    def placed(self, way: int, lift_mm: float = 0.0) -> Placed:
        """The slab put down, `lift_mm` further out than it need be."""
        return Placed(
            self.shape,
            -float(self.along_mm[way]),
            float(self.out_mm[way]) + lift_mm,
            float(self.turn_deg[way]) + 180.0 * float(self.edge[way]),
            False,
            self.wane_mm,
        )

    def take(self, ways: Sequence[int] | Floats) -> Halves:
        at = np.asarray(ways, dtype=np.intp)
        fields = (self.edge, self.turn_deg, self.along_mm, self.out_mm, self.inner_mm)
        return Halves(self.shape, self.wane_mm, *(field[at] for field in fields))


def ring_of(shape: Shape, wane_mm: float = 0.0) -> Floats:
    """The outer line of the wood a top may use, not closed.

    Raises ValueError when the wane leaves none.
    """
    usable: Polygon = Placed(shape, 0.0, 0.0, wane_mm=wane_mm).polygon
    if usable.is_empty:
        raise ValueError("No wood is left without the wane.")
    return np.asarray(usable.exterior.coords, dtype=np.float64)[:-1]


def places_of(top: Top, margin_mm: float = 0.0, count: int = PLACES) -> tuple[Floats, Floats]:
    """x of the sections across the top with its margin, and half its width at each."""
    place = np.linspace(-1.0, 1.0, count)
    return place * (top.length_mm / 2 + margin_mm), top.half_width_at(place) + margin_mm


def halves_of(
    top: Top,
    shape: Shape,
    *,
    margin_mm: float = 0.0,
    wane_mm: float = 0.0,
    turns_deg: Floats = TURNS_DEG,
    step_mm: float = OFFSET_STEP_MM,
    count: int = PLACES,
) -> Halves:
    """Every way at those turns and about every `step_mm` along.

    A slab shorter than the top lies with its middle under the top's. Raises ValueError when the
    wane leaves no wood.
    """
    ring = ring_of(shape, wane_mm)
    x, half = places_of(top, margin_mm, count)
    found: list[tuple[Floats, ...]] = []
    for edge in (0, 1):
        for turn in turns_deg:
            low, high = sections(turned(ring, turn + 180.0 * edge))
            along = alongs_of(low, x, step_mm)
            at = np.clip(along[:, None] + x, low[0, 0], low[-1, 0])
            out = (half - np.interp(at, *high.T)).max(axis=1)
            inner = np.interp(at, *low.T) + out[:, None]
            same = np.ones_like(along)
            found.append((edge * same, turn * same, along, out, inner))
    parts = zip(*found, strict=True)
    return Halves(shape, wane_mm, *(np.concatenate(part) for part in parts))


def alongs_of(run: Floats, x: Floats, step_mm: float) -> Floats:
    """Places along a run at which the sections x lie on it; its middle where it is too short."""
    begin, room = run[0, 0] - x[0], run[-1, 0] - x[-1] - (run[0, 0] - x[0])
    if room <= 0:
        return np.array([begin + room / 2])
    return np.asarray(begin + np.linspace(0.0, room, int(np.ceil(room / step_mm)) + 1))


def turned(ring: Floats, turn_deg: float) -> Floats:
    """Points turned counter-clockwise about the origin."""
    turn = np.radians(turn_deg)
    cos, sin = np.cos(turn), np.sin(turn)
    return np.asarray(ring @ np.array([[cos, sin], [-sin, cos]]))


def sections(ring: Floats) -> tuple[Floats, Floats]:
    """The lower and the upper run of a ring from its least x to its greatest, (k, 2) each.

    Where a run doubles back along x the part that lies behind is drawn up to where it came from:
    such slabs are settled by exact geometry.
    """
    area = np.dot(ring[:, 0], np.roll(ring[:, 1], -1)) - np.dot(ring[:, 1], np.roll(ring[:, 0], -1))
    if area < 0:
        ring = ring[::-1]
    first = int(ring[:, 0].argmin())
    ring = np.roll(ring, -first, axis=0)
    last = int(ring[:, 0].argmax())
    low, high = ring[: last + 1].copy(), np.vstack([ring[last:], ring[:1]])[::-1].copy()
    for run in (low, high):
        np.maximum.accumulate(run[:, 0], out=run[:, 0])
    return low, high


def mirrored_across(placed: Placed) -> Placed:
    """The same wood at the other side of the top: y → −y."""
    return Placed(
        placed.shape,
        placed.x_mm,
        -placed.y_mm,
        -placed.turn_deg,
        not placed.is_flipped,
        placed.wane_mm,
    )


def mirrored_along(placed: Placed) -> Placed:
    """The same wood end for end: x → −x."""
    return Placed(
        placed.shape,
        -placed.x_mm,
        placed.y_mm,
        180.0 - placed.turn_deg,
        not placed.is_flipped,
        placed.wane_mm,
    )
