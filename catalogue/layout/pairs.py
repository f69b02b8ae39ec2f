"""Two slabs with resin between them, live edges inward: the best way to lay them, the best pair.

The search compares edges by sections across the top (halves.py); what is reported, resin area and
gap, is read from exact geometry (laid.py, gaps.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from catalogue.layout import gaps
from catalogue.layout.halves import Halves, halves_near, halves_of, mirrored_across, mirrored_along
from catalogue.layout.laid import Layout
from catalogue.layout.pair_search import Limits, Ways, best_ways, promising, reach_of
from catalogue.layout.placed import Placed
from catalogue.layout.rules import ALLOWANCES, Allowances
from catalogue.layout.tops import Top
from inventory.wood.shape import Shape

ALIKE_SHARE = 0.02
"""Pairs whose resin differs by less than this of the least count alike in it."""
LAID_OUT = 2
LAID_OUT_LEAST = 16
"""So many times the pairs asked for, and at least so many, are laid out and the best kept."""
TRIED = 3
"""Of the ways two slabs can lie, so many of the best are looked at finely."""
FINELY = 3
"""Of many pairs only so many of the best are; of the others one way."""
POLISHED = ((0.4, 16.0), (0.1, 4.0))
"""Turns (degrees) and places along (mm) about the best found, finer each time."""


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
    pairs = list(
        promising(
            top,
            candidates,
            margin_mm=margin_mm,
            wane_mm=wane_mm,
            rules=rules,
            most=max(LAID_OUT_LEAST, LAID_OUT * most),
            a_slab=a_slab,
        )
    )
    halves = {
        at: _halves(top, candidates[at], margin_mm, wane_mm)
        for at in {at for pair in pairs for at in pair}
    }
    found: list[PairFound] = []
    for first, second in pairs:
        laid = _laid(top, halves[first], halves[second], margin_mm, rules, tried=1)
        if laid.fits:
            found.append(PairFound(first, second, laid))
    found = _in_order(found)
    for at, pair in enumerate(found[:FINELY]):
        laid = _laid(top, halves[pair.first], halves[pair.second], margin_mm, rules)
        found[at] = PairFound(pair.first, pair.second, laid)
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
    """Two given slabs the best way, the first at the side of greater y.

    The layout's margin is as in `as_placed`. Raises ValueError when the wane leaves no wood.
    """
    mine, theirs = (_halves(top, shape, margin_mm, wane_mm) for shape in (first, second))
    return _laid(top, mine, theirs, margin_mm, rules)


def as_placed(
    top: Top,
    first: Placed,
    second: Placed,
    *,
    margin_mm: float = 0.0,
    rules: Allowances = ALLOWANCES,
) -> Layout:
    """Two slabs where they were put by hand, the resin whatever lies bare between them.

    The layout's margin is how much wider the gap could be; negative by how much the gap is too wide
    or too narrow, or by how much a slab falls short of the top's outer edge grown by `margin_mm`,
    whichever is worst.
    """
    laid = Layout(top, (first, second), "resin_pair", 0.0, top.polygon)
    gap = gaps.gap_of(laid)
    spare = rules.resin_gap_share * top.width_mm - gap[2]
    missing = (
        gaps.apart_mm(top, first, second) - rules.least_gap_mm,
        -gaps.short_mm(top, first, margin_mm),
        -gaps.short_mm(top, mirrored_across(second), margin_mm),
        -gaps.short_along_mm(top, first, margin_mm),
        -gaps.short_along_mm(top, second, margin_mm),
    )
    worst = min([spare, *(short for short in missing if short < -gaps.TOUCHING_MM)])
    return replace(laid, margin_mm=worst, gap_mm=gap)


def _halves(top: Top, shape: Shape, margin_mm: float, wane_mm: float) -> Halves:
    return halves_of(top, shape, margin_mm=margin_mm, wane_mm=wane_mm, reach_mm=reach_of(top))


def _laid(
    top: Top,
    mine: Halves,
    theirs: Halves,
    margin_mm: float,
    rules: Allowances,
    tried: int = TRIED,
) -> Layout:
    """The best of the few best ways, each looked at more finely and settled exactly."""
    limits = Limits.of(top, rules)
    ways = best_ways(mine, theirs, mine.half_mm, limits, tried)
    laid = [
        _settled(top, *_polished(top, mine, theirs, way, margin_mm, limits), margin_mm, rules)
        for way in ways
    ]
    return min(laid, key=lambda one: (not one.fits, one.resin_mm2))


def _polished(
    top: Top, mine: Halves, theirs: Halves, ways: Ways, margin_mm: float, limits: Limits
) -> tuple[Halves, Halves, Ways]:
    for span_deg, span_mm in POLISHED:
        near = [
            halves_near(top, some, at, margin_mm=margin_mm, span_deg=span_deg, span_mm=span_mm)
            for some, at in ((mine, ways.mine), (theirs, ways.theirs))
        ]
        (finer,) = best_ways(near[0], near[1], mine.half_mm, limits)
        if finer.cost_mm >= ways.cost_mm:
            break
        mine, theirs, ways = near[0], near[1], finer
    return mine, theirs, ways


def _settled(
    top: Top, mine: Halves, theirs: Halves, ways: Ways, margin_mm: float, rules: Allowances
) -> Layout:
    """The layout by exact geometry: outer edges just on wood, slabs just far enough apart."""
    first = mine.placed(ways.mine)
    other = theirs.placed(ways.theirs)
    other = mirrored_along(other) if ways.is_reversed else other
    first, other = (
        _moved_out(side, max(0.0, gaps.short_mm(top, side, margin_mm))) for side in (first, other)
    )
    for _ in range(8):
        need = rules.least_gap_mm - gaps.apart_mm(top, first, mirrored_across(other))
        if need <= gaps.TOUCHING_MM / 2:
            break
        first, other = _moved_out(first, need / 2), _moved_out(other, need / 2)
    second = mirrored_across(other)
    if first.is_flipped and second.is_flipped:
        first, second = mirrored_along(first), mirrored_along(second)
    return as_placed(top, first, second, margin_mm=margin_mm, rules=rules)


def _moved_out(placed: Placed, by_mm: float) -> Placed:
    return replace(placed, y_mm=placed.y_mm + by_mm)


def _in_order(found: Sequence[PairFound]) -> list[PairFound]:
    if not found:
        return []
    least = min(pair.resin_mm2 for pair in found)
    step = max(1.0, ALIKE_SHARE * least)

    def place(pair: PairFound) -> tuple[int, float, float]:
        return int((pair.resin_mm2 - least) / step), round(pair.uneven_mm, 1), pair.left_over_mm2

    return sorted(found, key=place)
