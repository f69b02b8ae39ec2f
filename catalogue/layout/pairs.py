"""Two slabs with resin between them, live edges inward: the best way to lay them, the best pair.

The search compares edges by sections across the top (halves.py); what is reported, resin area and
gap, is read from exact geometry (laid.py, gaps.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from catalogue.layout import gaps
from catalogue.layout.halves import (
    Halves,
    halves_of,
    mirrored_across,
    mirrored_along,
    places_of,
)
from catalogue.layout.laid import Layout
from catalogue.layout.placed import Placed
from catalogue.layout.rules import ALLOWANCES, Allowances
from catalogue.layout.tops import Floats, Top
from inventory.wood.shape import Shape

ALIKE_SHARE = 0.02
"""Pairs whose resin differs by less than this of the least count alike in it."""
FEW_TURNS_DEG = np.array([-4.0, -2.0, 0.0, 2.0, 4.0])
FEW_STEP_MM = 100.0
STARTS = 6
ROUNDS = 4


@dataclass(frozen=True, eq=False)
class PairFound:
    """A pair laid out; `first` and `second` are places in the list that was searched."""

    first: int
    second: int
    layout: Layout

    @cached_property
    def resin_mm2(self) -> float:
        return self.layout.resin_mm2

    @property
    def gap_mm(self) -> tuple[float, float, float]:
        """Least, mean and greatest width of the resin between the slabs."""
        assert self.layout.gap_mm is not None
        return self.layout.gap_mm

    @cached_property
    def uneven_mm(self) -> float:
        """Standard deviation of the gap along the top."""
        return gaps.uneven_mm(self.layout)

    @cached_property
    def used_mm2(self) -> float:
        return sum(float(part.area) for part in self.layout.wood)

    @cached_property
    def left_over_mm2(self) -> float:
        return sum(self.layout.left_over_mm2())


def best_pairs(
    top: Top,
    candidates: Sequence[Shape],
    *,
    margin_mm: float = 0.0,
    wane_mm: float = 0.0,
    rules: Allowances = ALLOWANCES,
    most: int = 12,
    a_slab: int = 3,
) -> list[PairFound]:
    """The best pairs that fit, at most `most`, each slab in at most `a_slab` of them.

    Least resin first; pairs alike in it by the evenness of the gap, then by the wood left over.
    """
    found: list[PairFound] = []
    for first, second in _promising(top, candidates, margin_mm, wane_mm, rules, 3 * most, a_slab):
        laid = lay_pair(
            top,
            candidates[first],
            candidates[second],
            margin_mm=margin_mm,
            wane_mm=wane_mm,
            rules=rules,
        )
        if laid.fits:
            found.append(PairFound(first, second, laid))
    return _in_order(found)[:most]


def lay_pair(
    top: Top,
    first: Shape,
    second: Shape,
    *,
    margin_mm: float = 0.0,
    wane_mm: float = 0.0,
    rules: Allowances = ALLOWANCES,
) -> Layout:
    """Two given slabs the best way.

    The first lies at the side of greater y. The layout's margin is as in `as_placed`.
    """
    mine, theirs = (
        halves_of(top, shape, margin_mm=margin_mm, wane_mm=wane_mm) for shape in (first, second)
    )
    _, half = places_of(top, margin_mm)
    ways = _best_ways(mine, theirs, half, rules.least_gap_mm)
    return _settled(top, mine, theirs, ways, margin_mm, rules)


def as_placed(top: Top, first: Placed, second: Placed, *, rules: Allowances = ALLOWANCES) -> Layout:
    """Two slabs where they were put by hand, the resin whatever lies bare between them.

    `margin_mm` is how much wider the gap could be; negative by how much the gap is too wide or too
    narrow, or by how much a slab falls short of the top's outer edge, whichever is worst.
    """
    laid = Layout(top, (first, second), "resin_pair", 0.0, top.polygon)
    gap = gaps.gap_of(laid)
    spare = rules.resin_gap_share * top.width_mm - gap[2]
    missing = (
        gaps.apart_mm(top, first, second) - rules.least_gap_mm,
        -gaps.short_mm(top, first),
        -gaps.short_mm(top, mirrored_across(second)),
        -gaps.short_along_mm(top, first),
        -gaps.short_along_mm(top, second),
    )
    worst = min([spare, *(short for short in missing if short < -gaps.TOUCHING_MM)])
    return replace(laid, margin_mm=worst, gap_mm=gap)


@dataclass(frozen=True)
class Ways:
    """How two slabs lie: the way of each, whether the second lies end for end, mean resin (mm)."""

    mine: int
    theirs: int
    is_reversed: bool
    resin_mm: float


def _best_ways(mine: Halves, theirs: Halves, half: Floats, least_mm: float) -> Ways:
    """Of all ways of two slabs: a coarse look at all, then each in turn against the other."""
    best: Ways | None = None
    for start in _starts(mine, theirs, half, least_mm):
        ways = start
        for _ in range(ROUNDS):
            row = mine.inner_mm[ways.mine]
            for is_reversed in (False, True):
                other = theirs.inner_mm[:, ::-1] if is_reversed else theirs.inner_mm
                resin = resin_of(row, other, half, least_mm)
                at = int(resin.argmin())
                if resin[at] < ways.resin_mm:
                    ways = Ways(ways.mine, at, is_reversed, float(resin[at]))
            row = theirs.inner_mm[ways.theirs]
            row = row[::-1] if ways.is_reversed else row
            resin = resin_of(row, mine.inner_mm, half, least_mm)
            at = int(resin.argmin())
            if resin[at] >= ways.resin_mm - 1e-6:
                break
            ways = replace(ways, mine=at, resin_mm=float(resin[at]))
        if best is None or ways.resin_mm < best.resin_mm:
            best = ways
    assert best is not None
    return best


def resin_of(row: Floats, others: Floats, half: Floats, least_mm: float) -> Floats:
    """Mean width of resin (mm) between one inner edge (p,) and each of others (m, p).

    Where two come nearer than the least gap they are parted, each by half.
    """
    lift = np.maximum(0.0, least_mm - (row + others).min(axis=1))[:, None] / 2
    gap = np.clip(row + lift, -half, half) + np.clip(others + lift, -half, half)
    return np.asarray(np.trapezoid(gap, axis=1) / (gap.shape[1] - 1))


def _starts(mine: Halves, theirs: Halves, half: Floats, least_mm: float) -> list[Ways]:
    few = [some.inner_mm[:: max(1, len(some) // 200)] for some in (mine, theirs)]
    steps = [max(1, len(some) // 200) for some in (mine, theirs)]
    starts: list[Ways] = []
    for is_reversed in (False, True):
        other = few[1][:, ::-1] if is_reversed else few[1]
        resin = joint(few[0], other, half, least_mm)
        for at in np.argsort(resin, axis=None)[: STARTS // 2]:
            i, j = divmod(int(at), resin.shape[1])
            starts.append(Ways(i * steps[0], j * steps[1], is_reversed, float("inf")))
    return starts


def joint(a: Floats, b: Floats, half: Floats, least_mm: float) -> Floats:
    """About the mean width of resin (m, n) between each of a (m, p) and each of b (n, p)."""
    means = [np.clip(some, -half, half).mean(axis=1).astype(np.float32) for some in (a, b)]
    first, second = a.astype(np.float32), b.astype(np.float32)
    least = np.full((len(a), len(b)), np.inf, dtype=np.float32)
    room = np.empty_like(least)
    for place in range(a.shape[1]):
        np.add(first[:, place, None], second[None, :, place], out=room)
        np.minimum(least, room, out=least)
    lift = np.maximum(0.0, least_mm - least)
    return np.asarray(means[0][:, None] + means[1][None, :] + lift)


def _settled(
    top: Top, mine: Halves, theirs: Halves, ways: Ways, margin_mm: float, rules: Allowances
) -> Layout:
    """The layout by exact geometry: outer edges just on wood, slabs just far enough apart."""
    first = mine.placed(ways.mine)
    other = theirs.placed(ways.theirs)
    other = mirrored_along(other) if ways.is_reversed else other
    first = _moved_out(first, gaps.short_mm(top, first, margin_mm))
    other = _moved_out(other, gaps.short_mm(top, other, margin_mm))
    for _ in range(8):
        need = rules.least_gap_mm - gaps.apart_mm(top, first, mirrored_across(other))
        if need <= gaps.TOUCHING_MM / 2:
            break
        first, other = _moved_out(first, need / 2), _moved_out(other, need / 2)
    second = mirrored_across(other)
    if first.is_flipped and second.is_flipped:
        first, second = mirrored_along(first), mirrored_along(second)
    return as_placed(top, first, second, rules=rules)


def _moved_out(placed: Placed, by_mm: float) -> Placed:
    return replace(placed, y_mm=placed.y_mm + by_mm)


def _promising(
    top: Top,
    candidates: Sequence[Shape],
    margin_mm: float,
    wane_mm: float,
    rules: Allowances,
    most: int,
    a_slab: int,
) -> list[tuple[int, int]]:
    """Pairs by a coarse look, the least resin first."""
    few: list[Floats] = []
    owner: list[int] = []
    for at, shape in enumerate(candidates):
        halves = halves_of(
            top,
            shape,
            margin_mm=margin_mm,
            wane_mm=wane_mm,
            turns_deg=FEW_TURNS_DEG,
            step_mm=FEW_STEP_MM,
            count=33,
        )
        for edge in (0, 1):
            rows = halves.inner_mm[halves.edge == edge]
            if len(rows):
                best = np.argsort(rows.mean(axis=1))[:1]
                few.extend(rows[best])
                owner.extend([at] * len(best))
    if not few:
        return []
    rows, owners = np.array(few), np.array(owner)
    _, half = places_of(top, margin_mm, 33)
    scores = np.minimum(
        joint(rows, rows, half, rules.least_gap_mm),
        joint(rows, rows[:, ::-1], half, rules.least_gap_mm),
    )
    scores[owners[:, None] >= owners[None, :]] = np.inf
    return _spread(scores, owners, most, a_slab)


def _spread(scores: Floats, owners: Floats, most: int, a_slab: int) -> list[tuple[int, int]]:
    """The best pairs, no slab in more than `a_slab` of them."""
    uses: dict[int, int] = {}
    chosen: list[tuple[int, int]] = []
    for at in np.argsort(scores, axis=None):
        i, j = divmod(int(at), scores.shape[1])
        if not np.isfinite(scores[i, j]) or len(chosen) == most:
            break
        pair = int(owners[i]), int(owners[j])
        if pair in chosen or max(uses.get(slab, 0) for slab in pair) >= a_slab:
            continue
        chosen.append(pair)
        for slab in pair:
            uses[slab] = uses.get(slab, 0) + 1
    return chosen


def _in_order(found: Sequence[PairFound]) -> list[PairFound]:
    if not found:
        return []
    least = min(pair.resin_mm2 for pair in found)
    step = max(1.0, ALIKE_SHARE * least)

    def place(pair: PairFound) -> tuple[int, float, float]:
        return int((pair.resin_mm2 - least) / step), round(pair.uneven_mm, 1), pair.left_over_mm2

    return sorted(found, key=place)
