"""One slab along one long side of a top: every way it can lie there, as arrays.

The slab lies at the side of greater y, its outer edge beyond the top's, an edge inward. Its other
places follow by mirrors: the other side of the top (y → −y), end for end (x → −x). Sections are
taken straight across the top at PLACES after the outline has been turned to the placement's own
angle, so oblique ends and slopes are seen as they will lie.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
from shapely import Polygon

from catalogue.layout.placed import Placed
from catalogue.layout.tops import Floats, Top
from inventory.wood.shape import Shape

PLACES = 257
"""Sections across the top, both ends included."""
ROUGH_EVERY = 4
STEEP = 1.0
"""Where an edge falls more steeply (a slab's end, cut or turned askew) a point on it says little
of what lies between: there a rough look takes the least."""
TURNS_DEG = np.arange(-5.0, 5.01, 0.5)
OFFSET_STEP_MM = 20.0
ALONG_MOST = 31
UPRIGHT_MM = 1e-7
NEAR = np.linspace(-1.0, 1.0, 9)
"""Ways about a way, as shares of the span that is searched."""


@dataclass(frozen=True, eq=False)
class Halves:
    """Ways one slab can lie along a top's side; arrays of m ways.

    `edge` 0 with the lower edge inward, 1 with the upper (the slab turned end for end); `turn_deg`
    its own angle; `along_mm` where the top's centre lies along it; `out_mm` the least y of its
    origin at which the top's outer edge, with the margin, still lies on wood; `inner_mm` (m,
    places) y of its inner edge then; `half_mm` (places,) half the top's width; the places are
    `apart_mm` from each other. No inner edge reaches beyond the top's middle line by more than
    `reach_mm`: a slab is laid further out for it.
    """

    shape: Shape
    wane_mm: float
    half_mm: Floats
    apart_mm: float
    reach_mm: float
    edge: Floats
    turn_deg: Floats
    along_mm: Floats
    out_mm: Floats
    inner_mm: Floats

    def __len__(self) -> int:
        return len(self.edge)

    @cached_property
    def rough(self) -> npt.NDArray[np.float32]:
        """The inner edges at every ROUGH_EVERY-th place, for quick looks."""
        fine = self.inner_mm.astype(np.float32)
        beside = np.pad(fine, ((0, 0), (ROUGH_EVERY // 2, ROUGH_EVERY // 2)), mode="edge")
        about = np.stack(
            [beside[:, by : by + fine.shape[1] : ROUGH_EVERY] for by in range(ROUGH_EVERY + 1)]
        )
        least = about.min(axis=0)
        is_steep = about.max(axis=0) - least > STEEP * ROUGH_EVERY * self.apart_mm
        return np.where(is_steep, least, fine[:, ::ROUGH_EVERY])

    @cached_property
    def bare_mm(self) -> Floats:
        """Mean width (m,) left bare between the top's middle line and the inner edge."""
        return np.asarray(np.clip(self.inner_mm, -self.half_mm, self.half_mm).mean(axis=1))

    def placed(self, way: int) -> Placed:
        """The slab put down."""
        return Placed(
            self.shape,
            -float(self.along_mm[way]),
            float(self.out_mm[way]),
            float(self.turn_deg[way]) + 180.0 * float(self.edge[way]),
            False,
            self.wane_mm,
        )


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
    reach_mm: float = np.inf,
) -> Halves:
    """Every way at those turns and about every `step_mm` along, either edge inward.

    A slab shorter than the top lies with its middle under the top's. Raises ValueError when the
    wane leaves no wood.
    """
    ring = ring_of(shape, wane_mm)
    x, half = places_of(top, margin_mm, count)
    found: list[tuple[Floats, ...]] = []
    for turn in turns_deg:
        low, high = sections(turned(ring, float(turn)))
        along = alongs_of(low, x, step_mm)
        below, above = _across(low, high, along, x)
        same = np.full_like(along, turn)
        found.append((0 * same, same, along, *_laid(below, above, half, reach_mm)))
        # Turned end for end, what lies above the one way lies below the other.
        over = _laid(-above[:, ::-1], -below[:, ::-1], half, reach_mm)
        found.append((0 * same + 1, same, -along, *over))
    ways = (np.concatenate(part) for part in zip(*found, strict=True))
    return Halves(shape, wane_mm, half, float(x[1] - x[0]), reach_mm, *ways)


def halves_near(
    top: Top, halves: Halves, way: int, *, margin_mm: float, span_deg: float, span_mm: float
) -> Halves:
    """The ways of the same slab close about one of them, by NEAR."""
    ring = ring_of(halves.shape, halves.wane_mm)
    x, half = places_of(top, margin_mm, halves.inner_mm.shape[1])
    edge, middle = float(halves.edge[way]), float(halves.turn_deg[way])
    found: list[tuple[Floats, ...]] = []
    for turn in middle + span_deg * NEAR:
        low, high = sections(turned(ring, float(turn) + 180.0 * edge))
        reach = low[0, 0] - x[0], low[-1, 0] - x[-1]
        along = halves.along_mm[way] + span_mm * NEAR
        along = np.unique(np.clip(along, *reach)) if reach[0] < reach[1] else along[:1]
        same = np.full_like(along, turn)
        out = _laid(*_across(low, high, along, x), half, halves.reach_mm)
        found.append((0 * same + edge, same, along, *out))
    ways = (np.concatenate(part) for part in zip(*found, strict=True))
    same_top = halves.half_mm, halves.apart_mm, halves.reach_mm
    return Halves(halves.shape, halves.wane_mm, *same_top, *ways)


def _across(low: Floats, high: Floats, along: Floats, x: Floats) -> tuple[Floats, Floats]:
    """y of both runs (m, places) straight across the top, its centre at each place along."""
    at = np.clip(along[:, None] + x, low[0, 0], low[-1, 0])
    return np.interp(at, *low.T), np.interp(at, *high.T)


def _laid(below: Floats, above: Floats, half: Floats, reach_mm: float) -> tuple[Floats, Floats]:
    """How far out each lies, and its inner edge then."""
    out = np.maximum((half - above).max(axis=1), -reach_mm - below.min(axis=1))
    return out, below + out[:, None]


def alongs_of(run: Floats, x: Floats, step_mm: float) -> Floats:
    """Places along a run at which the sections x lie on it; its middle where it is too short."""
    begin, room = run[0, 0] - x[0], run[-1, 0] - x[-1] - (run[0, 0] - x[0])
    if room <= 0:
        return np.array([begin + room / 2])
    count = min(ALONG_MOST, int(np.ceil(room / step_mm)) + 1)
    return np.asarray(begin + np.linspace(0.0, room, count))


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
    low, high = _runs(ring)
    for run in (low, high):
        np.maximum.accumulate(run[:, 0], out=run[:, 0])
    return low, high


def doubles_back(ring: Floats) -> bool:
    """Whether a line straight across could meet one of the ring's edges more than once."""
    return any(bool((np.diff(run[:, 0]) < 0).any()) for run in _runs(ring))


def _runs(ring: Floats) -> tuple[Floats, Floats]:
    following = np.concatenate([ring[1:], ring[:1]])
    if (ring[:, 0] * following[:, 1] - ring[:, 1] * following[:, 0]).sum() < 0:
        ring = ring[::-1]
    first = int(ring[:, 0].argmin())
    ring = np.concatenate([ring[first:], ring[: first + 1]])
    last = int(ring[:, 0].argmax())
    return _between_ends(ring[: last + 1]), _between_ends(ring[last:][::-1])


def _between_ends(run: Floats) -> Floats:
    """A run without the upright part of a square end, where y would be in doubt."""
    begin = int(np.argmax(run[:, 0] > run[0, 0] + UPRIGHT_MM))
    end = len(run) - int(np.argmax(run[::-1, 0] < run[-1, 0] - UPRIGHT_MM))
    return run[max(0, begin - 1) : end + 1].copy()


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
