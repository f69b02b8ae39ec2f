"""Which of many pairs are promising, and the best way to lay one pair: array work.

Nothing here is final: pairs.py settles and measures what is found by exact geometry.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
import numpy.typing as npt

from catalogue.layout.halves import Halves, places_of
from catalogue.layout.rules import Allowances
from catalogue.layout.tops import Floats, Top
from inventory.wood.shape import Shape

Ints = npt.NDArray[np.intp]
Singles = npt.NDArray[np.float32]

# A look at all slabs: sections, turns, places along, and a table of each edge.
COARSE_PLACES = 33
COARSE_TURNS_DEG = np.array([-3.0, -1.5, 0.0, 1.5, 3.0])
COARSE_ALONG = np.linspace(0.0, 1.0, 7)
TABLE_STEP_MM = 10.0
WAYS_A_SLAB = 3
"""So many ways of each slab, for each edge inward, are compared with those of every other."""
BEND_WEIGHT = 2.0
BLOCK = 32
SLABS_AT_ONCE = 256
KEPT = 4000
"""So many of the best looks are looked at again for the widest gap."""
LIMIT_SLACK_MM = 25.0
"""A coarse gap so much too wide may still be within the limit once laid finely."""

LEAST_STRIP_SHARE = 0.2
"""Common practice: each slab gives at least so much of the top's width; less is an edging."""

# A look at one pair.
STARTS = 1
ROUNDS = 4
COARSE_WAYS = 100
LOOKED_AT = 48
UNEVEN_WEIGHT = 0.02


@dataclass(frozen=True)
class Limits:
    """What the gap between two slabs may measure at its narrowest and its widest."""

    least_mm: float
    greatest_mm: float

    @classmethod
    def of(cls, top: Top, rules: Allowances) -> Limits:
        return cls(rules.least_gap_mm, rules.resin_gap_share * top.width_mm)


@dataclass(frozen=True)
class Ways:
    """How two slabs lie: the way of each, whether the second lies end for end, what it costs.

    `cost_mm` is the mean width of resin, with what cost_of adds.
    """

    mine: int
    theirs: int
    is_reversed: bool
    cost_mm: float


def reach_of(top: Top) -> float:
    """How far beyond the top's middle line a slab may reach, so that the other has its strip."""
    return (0.5 - LEAST_STRIP_SHARE) * top.width_mm


def best_ways(
    mine: Halves, theirs: Halves, half: Floats, limits: Limits, most: int = 1
) -> list[Ways]:
    """At most `most` ways, the least cost first.

    From a coarse look at all ways of both, each in turn against the other.
    """
    found = {
        _refined(mine, theirs, start, half, limits) for start in _starts(mine, theirs, half, limits)
    }
    return sorted(found, key=lambda ways: ways.cost_mm)[:most]


def _refined(mine: Halves, theirs: Halves, ways: Ways, half: Floats, limits: Limits) -> Ways:
    for _ in range(ROUNDS):
        before = ways.cost_mm
        for is_reversed in (False, True):
            at, cost = _least(mine, ways.mine, theirs, is_reversed, half, limits)
            if cost < ways.cost_mm:
                ways = Ways(ways.mine, at, is_reversed, cost)
        at, cost = _least(theirs, ways.theirs, mine, ways.is_reversed, half, limits)
        if cost < ways.cost_mm:
            ways = replace(ways, mine=at, cost_mm=cost)
        if ways.cost_mm > before - 1e-3:
            break
    return ways


def _least(
    one: Halves, way: int, others: Halves, is_reversed: bool, half: Floats, limits: Limits
) -> tuple[int, float]:
    """The best of the other slab's ways against one way of this, and its cost."""
    sense = -1 if is_reversed else 1
    room = (one.rough[way, ::sense] + others.rough).min(axis=1)
    about = others.bare_mm + np.maximum(0.0, limits.least_mm - room)
    few = np.arange(len(about))
    if len(few) > LOOKED_AT:
        few = np.argpartition(about, LOOKED_AT)[:LOOKED_AT]
    cost = cost_of(one.inner_mm[way, ::sense], others.inner_mm[few], half, limits)
    at = int(cost.argmin())
    return int(few[at]), float(cost[at])


def cost_of(rows: Floats, others: Floats, half: Floats, limits: Limits) -> Floats:
    """Mean width of resin (mm) between inner edges, (p,) or (m, p), and others (m, p), in turn.

    Where two come nearer than the least gap they are parted, each by half. A gap too wide costs
    what it is too wide; an uneven one a little, so that of ways alike the most even is taken.
    """
    gap = gap_between(rows, others, half, limits)
    inner = gap[:, 1:-1].sum(axis=1) + (gap[:, 0] + gap[:, -1]) / 2
    resin = inner / (gap.shape[1] - 1)
    too_wide = np.maximum(0.0, gap.max(axis=1) - limits.greatest_mm)
    return np.asarray(resin + too_wide + UNEVEN_WEIGHT * gap.std(axis=1))


def gap_between(rows: Floats, others: Floats, half: Floats, limits: Limits) -> Floats:
    """Width of resin (m, p) across the top, the slabs parted where they come too near."""
    lift = np.maximum(0.0, limits.least_mm - (rows + others).min(axis=1))[:, None] / 2
    return np.asarray(np.clip(rows + lift, -half, half) + np.clip(others + lift, -half, half))


def _starts(mine: Halves, theirs: Halves, half: Floats, limits: Limits) -> list[Ways]:
    """Where to begin: the best of a coarse grid for either edge of both, either way round."""
    starts: list[Ways] = []
    for edge, other_edge, is_reversed in product((0, 1), (0, 1), (False, True)):
        some, others = _few(mine, edge), _few(theirs, other_edge)
        if not len(some) or not len(others):
            continue
        against = theirs.rough[others, :: -1 if is_reversed else 1]
        room = _least_sums(mine.rough[some, ::2], against[:, ::2])
        about = np.maximum(0.0, limits.least_mm - room)
        about += mine.bare_mm[some, None] + theirs.bare_mm[others]
        for at in (
            np.argpartition(about, STARTS, axis=None)[:STARTS] if about.size > STARTS else [0]
        ):
            i, j = divmod(int(at), about.shape[1])
            starts.append(Ways(int(some[i]), int(others[j]), is_reversed, float("inf")))
    return starts


def _few(halves: Halves, edge: int) -> Ints:
    ways = np.flatnonzero(halves.edge == edge)
    return ways[:: max(1, len(ways) // COARSE_WAYS)]


def _least_sums(rows: Singles, others: Singles) -> Singles:
    """The least of the sum (m, n) of each of the rows (m, p) and each of the others (n, p)."""
    least = np.full((len(rows), len(others)), np.inf, dtype=np.float32)
    room = np.empty_like(least)
    mine = np.ascontiguousarray(rows.T)[:, :, None]
    theirs = np.ascontiguousarray(others.T)
    for place in range(rows.shape[1]):
        np.add(mine[place], theirs[place], out=room)
        np.minimum(least, room, out=least)
    return least


def promising(
    top: Top,
    shapes: Sequence[Shape],
    *,
    margin_mm: float,
    wane_mm: float,
    rules: Allowances,
    most: int,
    a_slab: int,
) -> Iterator[tuple[int, int]]:
    """Pairs by a coarse look at all, the least resin first; at most `most`.

    No slab is in more than `a_slab` of them. Pairs whose gap is sure to be too wide are left out.
    """
    rows, owner = _coarse_rows(top, shapes, margin_mm, wane_mm)
    if not len(rows):
        return
    _, half = places_of(top, margin_mm, COARSE_PLACES)
    limits = Limits.of(top, rules)
    allowed = limits.greatest_mm + LIMIT_SLACK_MM
    uses = np.zeros(len(shapes), dtype=int)
    seen: set[tuple[int, int]] = set()
    for first, second, is_reversed in _best_looks(rows, owner, half, limits):
        pair = int(owner[first]), int(owner[second])
        if pair in seen or max(uses[pair[0]], uses[pair[1]]) >= a_slab:
            continue
        other = rows[second, ::-1] if is_reversed else rows[second]
        gap = gap_between(rows[first], other[None], half, limits)
        if float(gap.max()) > allowed:
            continue
        seen.add(pair)
        uses[list(pair)] += 1
        yield pair
        if len(seen) == most:
            return


def may_pair(
    top: Top,
    shape: Shape,
    others: Sequence[Shape],
    *,
    margin_mm: float,
    wane_mm: float,
    rules: Allowances,
) -> bool:
    """Whether any of the others may do with this slab, by the coarse look of `promising`.

    Where it says no the gap is sure to be too wide with every one of them.
    """
    rows, owner = _coarse_rows(top, [shape, *others], margin_mm, wane_mm)
    mine, theirs = rows[owner == 0], rows[owner > 0]
    if not len(mine) or not len(theirs):
        return False
    _, half = places_of(top, margin_mm, COARSE_PLACES)
    limits = Limits.of(top, rules)
    both = np.concatenate([theirs, theirs[:, ::-1]])
    least = min(float(gap_between(row, both, half, limits).max(axis=1).min()) for row in mine)
    return least <= limits.greatest_mm + LIMIT_SLACK_MM


def _best_looks(
    rows: Floats, owner: Ints, half: Floats, limits: Limits
) -> Iterator[tuple[int, int, bool]]:
    """Two rows of two slabs and whether the second is reversed, the least cost first.

    Every two rows are compared at every other section; the best of those by all sections.
    """
    single = rows.astype(np.float32)
    mean = np.clip(rows, -half, half).mean(axis=1).astype(np.float32)
    about: list[Singles] = []
    where: list[Ints] = []
    limit = np.inf
    count = len(rows)
    for begin in range(0, count, BLOCK):
        block = slice(begin, begin + BLOCK)
        for way in (0, 1):
            others = single[begin:, ::-1] if way else single[begin:]
            least = _least_sums(single[block, ::2], others[:, ::2])
            resin = np.maximum(np.float32(limits.least_mm) - least, np.float32(0.0))
            resin += mean[block, None] + mean[begin:]
            resin[owner[block, None] >= owner[begin:]] = np.inf
            at = np.flatnonzero(resin.ravel() < limit)
            i, j = np.divmod(at, resin.shape[1])
            about.append(resin.ravel()[at])
            where.append(((i + begin) * count + (j + begin)) * 2 + way)
        if sum(map(len, about)) > 2 * KEPT:
            about, where = _least_of(about, where)
            limit = float(about[0].max())
    _, where = _least_of(about, where)
    pair, way_of = np.divmod(where[0], 2)
    first, second = np.divmod(pair, count)
    reversed_too = np.where(way_of[:, None] == 1, rows[second, ::-1], rows[second])
    theirs: Floats = np.asarray(reversed_too, dtype=np.float64)
    cost = cost_of(rows[first], theirs, half, limits)
    for at in np.argsort(cost):
        yield int(first[at]), int(second[at]), bool(way_of[at])


def _least_of(about: list[Singles], where: list[Ints]) -> tuple[list[Singles], list[Ints]]:
    every, places = np.concatenate(about), np.concatenate(where)
    few = np.argpartition(every, KEPT)[:KEPT] if len(every) > KEPT else np.arange(len(every))
    few = few[np.isfinite(every[few])]
    return [every[few]], [places[few]]


def _coarse_rows(
    top: Top, shapes: Sequence[Shape], margin_mm: float, wane_mm: float
) -> tuple[Floats, Ints]:
    """Inner edges (r, COARSE_PLACES) of each slab at its few best ways, and whose they are."""
    x, half = places_of(top, margin_mm, COARSE_PLACES)
    long_enough = [at for at, s in enumerate(shapes) if s.length_mm - 2 * wane_mm >= 2 * x[-1]]
    found: list[Floats] = []
    owners: list[Ints] = []
    for begin in range(0, len(long_enough), SLABS_AT_ONCE):
        part = np.array(long_enough[begin : begin + SLABS_AT_ONCE])
        low, high, length = _tables([shapes[at] for at in part], wane_mm)
        below, above = _turned_sections(low, high, length, x)
        out = (half - above).max(axis=2, keepdims=True), (half + below).max(axis=2, keepdims=True)
        # With the lower edge inward, and with the upper.
        for beyond in (below + out[0], -above + out[1]):
            lift = np.maximum(0.0, -reach_of(top) - beyond.min(axis=2, keepdims=True))
            inner = beyond + lift
            few = _few_best(inner, half)
            found.append(np.take_along_axis(inner, few[:, :, None], axis=1).reshape(-1, len(x)))
            owners.append(np.repeat(part, few.shape[1]))
    if not found:
        return np.zeros((0, COARSE_PLACES)), np.zeros(0, dtype=np.intp)
    rows, owner = np.concatenate(found), np.concatenate(owners)
    order = np.argsort(owner, kind="stable")
    return rows[order], owner[order]


def _few_best(inner: Floats, half: Floats) -> Ints:
    """Of each slab's ways (n, w, p) those that leave little bare and lie straight inward."""
    bare = np.clip(inner, -half, half).mean(axis=2)
    return np.argsort(bare + BEND_WEIGHT * inner.std(axis=2), axis=1)[:, :WAYS_A_SLAB]


def _tables(shapes: Sequence[Shape], wane_mm: float) -> tuple[Floats, Floats, Floats]:
    """y of the lower and upper edges (n, k) at even steps from each slab's first end, lengths."""
    length = np.array([shape.length_mm for shape in shapes])
    steps = np.arange(int(np.ceil(length.max() / TABLE_STEP_MM)) + 2) * TABLE_STEP_MM
    low, high = np.empty((len(shapes), len(steps))), np.empty((len(shapes), len(steps)))
    for at, shape in enumerate(shapes):
        first = float(shape.wood.bounds[0])
        for table, edge in ((low, shape.lower_mm), (high, shape.upper_mm)):
            table[at] = np.interp(steps, np.maximum.accumulate(edge[:, 0]) - first, edge[:, 1])
    return low + wane_mm, high - wane_mm, length


def _turned_sections(low: Floats, high: Floats, length: Floats, x: Floats) -> tuple[Floats, Floats]:
    """Both edges (n, ways, p) straight across a top turned and shifted on the slab.

    A line across meets an edge where x·cos − y(x)·sin comes out: solved by going round twice,
    since edges run nearly along the slab.
    """
    room = length - 2 * x[-1]
    centre = x[-1] + room[:, None] * COARSE_ALONG
    turn = np.radians(COARSE_TURNS_DEG)
    cos, sin = np.cos(turn)[:, None, None], np.sin(turn)[:, None, None]
    middle = centre[:, None, :, None]
    start = middle + x
    runs: list[Floats] = []
    for table in (low, high):
        y = _looked_up(table, np.broadcast_to(start, (len(table), len(turn), *start.shape[2:])))
        for _ in range(2):
            along = middle + (x + y * sin) / cos
            y = _looked_up(table, along)
        # A slab is turned about the top's centre on its own axis.
        runs.append(((along - middle) * sin + y * cos).reshape(len(table), -1, len(x)))
    return runs[0], runs[1]


def _looked_up(table: Floats, x: Floats) -> Floats:
    """Each row's table at x (n, …), straight between its steps."""
    last = table.shape[1] - 1
    place = np.clip(x / TABLE_STEP_MM, 0.0, last - 1e-9)
    step = place.astype(np.intp)
    base = np.arange(len(table)).reshape(-1, *([1] * (x.ndim - 1))) * table.shape[1]
    flat = table.ravel()
    left = flat[base + step]
    return np.asarray(left + (flat[base + step + 1] - left) * (place - step))
