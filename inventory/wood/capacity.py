"""The widest rectangle of each length that a slab's wood holds, straight or turned a little.

Worked from the wood's edges bin by bin (sections.py): what is said to fit always does. It is short
of the widest by 0.2 % in the middle of cases and by 2 to 3 % in one of twenty, as a turned
rectangle is given room for its lean along both edges (tests/wood/test_capacity.py).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inventory.wood.sections import Floats, Ints

STEP_MM = 100.0
"""Widths are told for lengths of so much, twice so much, and on."""
MOST_TURN_DEG = 6.0
TURNS_DEG = np.linspace(-MOST_TURN_DEG, MOST_TURN_DEG, 9)
APART = 4
"""Places are first tried so many bins apart."""
STEPS_DEG = (1.5, 0.5)
NARROWINGS = 7
"""How far from the best turn so far a better one is looked for, place by place, in thirds."""
WIDER = (1.5, 20.0)
"""A turned rectangle is looked for up to so many times a straight one, and mm more."""
NEARER = (1.02, 2.0)
"""And when its turn is known, up to so much over what was found."""


@dataclass(frozen=True, eq=False)
class Bins:
    """Wood over even bins of length from its first end: [low, high] but for holes.

    `low_mm`, `high_mm` (n,), guaranteed over the whole bin; `hole_low_mm`, `hole_high_mm` (h, n)
    what each hole reaches over in a bin, +inf and −inf where it is not.
    """

    step_mm: float
    low_mm: Floats
    high_mm: Floats
    hole_low_mm: Floats
    hole_high_mm: Floats

    def sheared(self, slopes: Floats) -> Bins:
        """The same, in rows (k, n), seen along lines of those slopes: still guaranteed."""
        rise = slopes[:, None] * (self.step_mm * np.arange(len(self.low_mm)))
        least = rise + self.step_mm * np.minimum(slopes, 0.0)[:, None]
        most = rise + self.step_mm * np.maximum(slopes, 0.0)[:, None]
        return Bins(
            self.step_mm,
            self.low_mm - least,
            self.high_mm - most,
            self.hole_low_mm[:, None, :] - most,
            self.hole_high_mm[:, None, :] - least,
        )


def widest(bins: Bins) -> Floats:
    """(m,) the widest rectangle (mm) of length STEP_MM × (1 … m), m whole steps of the wood."""
    count = int(len(bins.low_mm) * bins.step_mm / STEP_MM + 1e-9)
    lengths: Floats = STEP_MM * np.arange(1, count + 1, dtype=np.float64)
    if not count:
        return lengths
    straight, _, _ = _best_places(bins, np.zeros((1, 1)), lengths, np.zeros(count))
    plain = straight[:, 0]
    turns = np.broadcast_to(np.radians(TURNS_DEG), (1, len(TURNS_DEG)))
    sought = WIDER[0] * plain + WIDER[1]
    coarse, begins, counts = _best_places(bins, turns, lengths, sought, APART)
    each, best = np.arange(count), coarse.argmax(axis=1)
    found, turn = np.maximum(plain, coarse[each, best]), turns[0, best]
    begins, counts = begins[each, best], counts[each, best]
    for step in STEPS_DEG:
        turn = _settled(bins, turn, np.radians(step), begins, counts)
        near = NEARER[0] * found + NEARER[1]
        fine, at, runs = _best_places(bins, turn[:, None], lengths, near)
        found, begins, counts = np.maximum(found, fine[:, 0]), at[:, 0], runs[:, 0]
    found = np.maximum(found, 0.0)
    # What holds a longer one holds a shorter of the same width.
    return np.asarray(np.maximum.accumulate(found[::-1])[::-1])


def _best_places(
    bins: Bins, turns: Floats, lengths: Floats, sought: Floats, apart: int = 1
) -> tuple[Floats, Ints, Ints]:
    """Of each length (L) at each turn the widest (mm), the bin it begins in and how many it takes.

    `turns` (radians) are (1, A) for all lengths alike or (L, A); the answers (L, A), −inf where a
    length has no room. A turned rectangle reaches further along by its width's lean: for that it
    is taken to be as wide as `sought` (L,), so what is found holds up to that width.
    """
    rows, across = np.broadcast_shapes(turns.shape, (len(lengths), 1))
    seen = bins.sheared(np.tan(turns).ravel())
    row = np.broadcast_to(np.arange(turns.size).reshape(turns.shape), (rows, across))
    reach = lengths[:, None] * np.cos(turns) + sought[:, None] * np.abs(np.sin(turns))
    counts = np.ceil(reach / bins.step_mm - 1e-9).astype(np.intp)
    room = len(bins.low_mm) - counts
    begins = np.minimum(apart * np.arange(int(room.max()) // apart + 2), room[:, :, None])
    begins = np.maximum(begins, 0)
    low, high = _Windows(seen.low_mm, counts, row), _Windows(-seen.high_mm, counts, row)
    holes = [
        (-_Windows(-lower, counts, row).most(begins), _Windows(upper, counts, row).most(begins))
        for lower, upper in zip(seen.hole_low_mm, seen.hole_high_mm, strict=True)
    ]
    gap = _widest_gap(low.most(begins), -high.most(begins), holes) * np.cos(turns)[:, :, None]
    place = gap.argmax(axis=2)[:, :, None]
    best = np.take_along_axis(gap, place, axis=2)[:, :, 0]
    return (
        np.where(room >= 0, np.minimum(best, _sought(turns, sought)), -np.inf),
        np.take_along_axis(begins, place, axis=2)[:, :, 0],
        counts,
    )


def _sought(turns: Floats, sought: Floats) -> Floats:
    """Straight rectangles have no lean, so nothing bounds them."""
    return np.where(turns == 0.0, np.inf, sought[:, None])


class _Windows:
    """The greatest value over any run of bins, by tables of runs of 1, 2, 4, … bins.

    `values` (k, n); `counts` (L, A) the bins in a run, `row` (L, A) which of the k it looks at.
    """

    def __init__(self, values: Floats, counts: Ints, row: Ints) -> None:
        self.counts, self.row = counts, row[:, :, None]
        self.level = np.floor(np.log2(counts)).astype(np.intp)
        tables = [values]
        for level in range(int(self.level.max())):
            table, half = tables[-1].copy(), 2**level
            table[:, :-half] = np.maximum(table[:, :-half], table[:, half:])
            tables.append(table)
        self.tables = np.stack(tables)

    def most(self, begins: Ints) -> Floats:
        """(L, A, s) over the runs that begin at `begins` (L, A, s)."""
        level = self.level[:, :, None]
        ends = np.maximum(begins + (self.counts - 2**self.level)[:, :, None], 0)
        last = self.tables.shape[2] - 1
        first = self.tables[level, self.row, begins]
        return np.asarray(np.maximum(first, self.tables[level, self.row, np.minimum(ends, last)]))


def _widest_gap(low: Floats, high: Floats, holes: list[tuple[Floats, Floats]]) -> Floats:
    """The widest free stretch from `low` to `high` past holes that lie from … to …; mm."""
    best = np.full(low.shape, -np.inf)
    for floor in [low, *(np.maximum(low, upper) for _, upper in holes)]:
        ceiling = high
        for lower, upper in holes:
            ceiling = np.where(upper > floor, np.minimum(ceiling, lower), ceiling)
        best = np.maximum(best, ceiling - floor)
    return best


def _settled(bins: Bins, turn: Floats, step: float, begins: Ints, counts: Ints) -> Floats:
    """The turn (L,) at which a run of bins (L,) is widest, within `step` (radians) of `turn`.

    Without holes the width over a run is concave in the slope, so thirds close in on the best.
    """
    bin_at = np.arange(len(bins.low_mm))
    within = (bin_at >= begins[:, None]) & (bin_at < (begins + counts)[:, None])
    run = Bins(
        bins.step_mm,
        np.where(within, bins.low_mm, -np.inf),
        np.where(within, bins.high_mm, np.inf),
        np.where(within, bins.hole_low_mm[:, None, :], np.inf),
        np.where(within, bins.hole_high_mm[:, None, :], -np.inf),
    )
    least, most = turn - step, turn + step
    for _ in range(NARROWINGS):
        one, other = least + (most - least) / 3, most - (most - least) / 3
        is_less = _width_over(run, one) < _width_over(run, other)
        least, most = np.where(is_less, one, least), np.where(is_less, most, other)
    return np.asarray((least + most) / 2)


def _width_over(run: Bins, turn: Floats) -> Floats:
    """The widest (L,) that a run of bins (L, n) holds at a turn (L,), all of it."""
    slopes = np.tan(turn)
    rise = slopes[:, None] * (run.step_mm * np.arange(run.low_mm.shape[1]))
    least, most = run.step_mm * np.minimum(slopes, 0.0), run.step_mm * np.maximum(slopes, 0.0)
    low = (run.low_mm - rise).max(axis=1) - least
    high = (run.high_mm - rise).min(axis=1) - most
    holes = [
        ((lower - rise).min(axis=1) - most, (upper - rise).max(axis=1) - least)
        for lower, upper in zip(run.hole_low_mm, run.hole_high_mm, strict=True)
    ]
    return np.asarray(_widest_gap(low, high, holes) * np.cos(turn))
