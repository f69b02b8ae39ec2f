"""The ways a top could be made from the free slabs: one of them, or two.

Arrays look through all of them (pool.py, layout/quick.py); exact layouts are made only of those
that are judged and shown.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

import numpy as np

from catalogue.layout import bookmatch, memory, pair_search, pairs, quick, sides, single
from catalogue.layout.laid import Layout
from catalogue.layout.rules import ALLOWANCES
from catalogue.layout.tops import Floats, Top
from catalogue.models import Commission, HowMade
from catalogue.pool import UNKNOWN_MOISTURE_PCT, Ints, Pool
from catalogue.pool import figures_asked as asked_of
from inventory import shapes
from inventory.models import Slab
from inventory.readiness import Target
from inventory.wood.shape import Shape

# So many slabs, the most promising by their figures, have their shapes looked at closely.
LOOKED_AT_MOST = {
    HowMade.ONE_SLAB: 2000,
    HowMade.BOOKMATCHED: 1500,
    HowMade.RESIN_PAIR: 1000,
    HowMade.RESIN_SIDES: 300,
}
# So many ways go on to be judged by every rule of readiness.
JUDGED_MOST = 60
# Of pairs with resin, so many of one species; each slab in so many of them at most.
PAIRS_A_SPECIES, PAIRS_A_SLAB = 20, 3
LAID: memory.Memory[Layout] = memory.Memory(240)


@dataclass(frozen=True)
class Way:
    """Rows of the pool that could become the top together, and about what they leave (mm³)."""

    rows: tuple[int, ...]
    left_mm3: float


@dataclass(frozen=True)
class Looked:
    """What a look through the pool found: ways in order of promise, and how far it looked.

    `is_counted` where every way that fits is among them.
    """

    ways: list[Way]
    looked_at: int
    shapes: Mapping[int, Shape]
    is_counted: bool


@dataclass(frozen=True)
class Option:
    """One slab or two that could become the top; `draw` lays it out exactly."""

    slabs: tuple[Slab, ...]
    draw: Callable[[], Layout]

    @cached_property
    def layout(self) -> Layout:
        return self.draw()

    @property
    def codes(self) -> tuple[str, ...]:
        return tuple(slab.code for slab in self.slabs)

    @property
    def asking(self) -> Decimal | None:
        """Asking price of all its slabs; None when one has none."""
        prices = [slab.asking_price for slab in self.slabs]
        return None if None in prices else sum((p for p in prices if p is not None), Decimal(0))

    @property
    def cost(self) -> Decimal:
        return sum((slab.cost for slab in self.slabs), Decimal(0))

    @property
    def volume_mm3(self) -> float:
        return sum(slab.volume_mm3 for slab in self.slabs)

    @cached_property
    def left_over_mm3(self) -> float:
        """Wood of its slabs that neither the top nor the saw takes."""
        left = zip(self.layout.left_over_mm2(), self.slabs, strict=True)
        return sum(area * slab.thickness_mm for area, slab in left)

    @property
    def is_one_log(self) -> bool:
        return len({slab.log_id for slab in self.slabs}) == 1 and self.slabs[0].log_id is not None


def top_of(commission: Commission) -> Top:
    return Top(
        commission.top_shape,
        commission.top_length_mm,
        commission.top_width_mm,
        commission.corner_mm or 0.0,
        commission.end_width_mm or 0.0,
        commission.kept_edges,
    )


def rough_thickness_mm(commission: Commission) -> float:
    """What a slab must measure: the finished thickness and what flattening takes off two faces."""
    return commission.finished_thickness_mm + 2 * ALLOWANCES.face_mm


def figures_asked(commission: Commission) -> dict[str, float | bool]:
    """What a slab's stored figures must reach to be looked at."""
    return asked_of(commission, top_of(commission), rough_thickness_mm(commission))


def width_asked_mm(commission: Commission) -> float:
    """The least greatest width worth looking at, by how the top is made."""
    width = commission.top_width_mm
    shares = {HowMade.BOOKMATCHED: 1 / 2, HowMade.RESIN_PAIR: 1 / 5, HowMade.RESIN_SIDES: 1 / 5}
    return width * shares.get(HowMade(commission.how_made), 1.0)


def moisture_off_pct(slab: Slab, target: Target) -> float:
    """How far the last check's mean lies outside the target; 99 when there is none."""
    if slab.mc_pct is None:
        return UNKNOWN_MOISTURE_PCT
    return max(0.0, slab.mc_pct - target.high_pct, target.low_pct - slab.mc_pct)


def lay(commission: Commission, shapes_of: Sequence[Shape]) -> Layout:
    """The top on just these slabs, the best way; see each way's module for its margin.

    Raises ValueError when there are too few or too many, or the wane leaves no wood.
    """
    if len(shapes_of) != slabs_of(HowMade(commission.how_made)):
        raise ValueError("The top takes another number of slabs.")
    key = key_of(commission, shapes_of)
    return LAID.get(key, lambda: _lay(commission, shapes_of))


def key_of(commission: Commission, shapes_of: Sequence[Shape]) -> Hashable:
    """All that a layout follows from: what was found for one is found for the same again."""
    kept = (commission.margin_mm, commission.wane_mm)
    marks = tuple(memory.mark_of(shape) for shape in shapes_of)
    return top_of(commission), commission.how_made, kept, marks


def _lay(commission: Commission, shapes_of: Sequence[Shape]) -> Layout:
    top, how = top_of(commission), HowMade(commission.how_made)
    margin, wane = commission.margin_mm, commission.wane_mm
    if how == HowMade.ONE_SLAB:
        return single.best_fit(top, shapes_of[0], margin_mm=margin, wane_mm=wane)
    if how == HowMade.RESIN_SIDES:
        return sides.lay(top, shapes_of[0], margin_mm=margin, wane_mm=wane)
    lay_two = bookmatch.lay if how == HowMade.BOOKMATCHED else pairs.lay_pair
    return lay_two(top, shapes_of[0], shapes_of[1], margin_mm=margin, wane_mm=wane)


def slabs_of(how: HowMade) -> int:
    return 2 if how in (HowMade.BOOKMATCHED, HowMade.RESIN_PAIR) else 1


def layout_of(commission: Commission, slabs: Sequence[Slab]) -> Layout | None:
    """The top on just these slabs; None when they are too few, too many, or it does not fit."""
    found = shapes.shapes_of(slabs)
    given = [found[slab.pk] for slab in slabs if slab.pk in found]
    try:
        laid = lay(commission, given)
    except ValueError:
        return None
    return laid if laid.fits else None


# --- looking through the pool -------------------------------------------------------------


def look_through(commission: Commission, pool: Pool, target: Target) -> Looked:
    """Every way to make the top from these slabs, the most promising first."""
    how = HowMade(commission.how_made)
    order = promise(commission, pool, target)
    if how == HowMade.BOOKMATCHED:
        return _books(commission, pool, order)
    if how == HowMade.RESIN_PAIR:
        return _resin_pairs(commission, pool, order)
    return _singles(commission, pool, order, how)


def promise(commission: Commission, pool: Pool, target: Target) -> Ints:
    """Rows in order: nearest to the moisture wanted, within the budget, the smallest."""
    off = np.round(pool.off_pct(target), 1)
    volume = pool.wood_mm2 * pool.thickness_mm
    return np.lexsort((pool.pk, volume, pool.money(commission), off)).astype(np.int64)


def _close(
    commission: Commission, pool: Pool, rows: Ints, most: int
) -> tuple[Ints, dict[int, Shape]]:
    """The first rows that have a shape, and their shapes, in one query.

    Where there are more than are looked at, those wide enough on the mean come first.
    """
    if len(rows) > most:
        mean = pool.wood_mm2[rows] / pool.length_mm[rows]
        wide = mean >= mean_width_hoped_mm(commission)
        rows = rows[np.argsort(~wide, kind="stable")][:most]
    found = shapes.stored(int(pk) for pk in pool.pk[rows])
    has_shape = np.array([int(pk) in found for pk in pool.pk[rows]], dtype=np.bool_)
    return rows[has_shape], found


def mean_width_hoped_mm(commission: Commission) -> float:
    """A mean width at which a slab is likely to do."""
    width = commission.top_width_mm
    how = HowMade(commission.how_made)
    if how == HowMade.ONE_SLAB:
        return width
    if how == HowMade.BOOKMATCHED:
        return width / 2 + ALLOWANCES.joint_mm
    share = 1 - ALLOWANCES.resin_gap_share
    return width * share / (2 if how == HowMade.RESIN_PAIR else 1)


def _singles(commission: Commission, pool: Pool, order: Ints, how: HowMade) -> Looked:
    top = top_of(commission)
    rows, found = _close(commission, pool, order, LOOKED_AT_MOST[how])
    if how == HowMade.ONE_SLAB:
        keep = _quick(commission, top, [found[int(pk)] for pk in pool.pk[rows]]) >= -quick.NEAR_MM
        rows = rows[keep]
    left = np.clip(pool.wood_mm2 - top.area_mm2, 0.0, None) * pool.thickness_mm
    ways = [Way((int(row),), float(left[row])) for row in rows]
    looked = min(len(order), LOOKED_AT_MOST[how])
    return Looked(ways, looked, found, looked == len(order))


def _quick(commission: Commission, top: Top, given: Sequence[Shape]) -> Floats:
    """About what is spare all round; a round by its circle, exactly."""
    kept = commission.margin_mm + commission.wane_mm
    if top.shape == "round":
        return np.array([(shape.circle[2] - top.width_mm) / 2 for shape in given]) - kept
    if top.is_live_edge and top.kept_edges == "both":
        # The edges wander together: the width across is what counts, not one straight band.
        return np.array([_widest_mm(shape, top) - top.width_mm for shape in given]) / 2 - kept
    return quick.spare_mm(top, [shape.profile_mm for shape in given]) - kept


def _widest_mm(shape: Shape, top: Top) -> float:
    """Width across at the narrowest place of the best length of a slab."""
    across = shape.profile_mm[:, 1] - shape.profile_mm[:, 0]
    columns = max(1, round(top.length_mm / 10.0))
    if columns > len(across):
        return -1.0
    windows = np.lib.stride_tricks.sliding_window_view
    return float(windows(across, columns).min(axis=1).max())


def _books(commission: Commission, pool: Pool, order: Ints) -> Looked:
    """Neighbours of one log and one thickness, in order of the worse of the two."""
    place = np.empty(len(pool), dtype=np.int64)
    place[order] = np.arange(len(pool))
    couples = [
        pair
        for pair in neighbours(pool)
        if abs(pool.thickness_mm[pair[0]] - pool.thickness_mm[pair[1]])
        <= ALLOWANCES.pair_thickness_mm
    ]
    couples.sort(key=lambda pair: max(place[pair[0]], place[pair[1]]))
    most = LOOKED_AT_MOST[HowMade.BOOKMATCHED]
    rows = np.array(sorted({row for pair in couples for row in pair}, key=lambda r: place[r]))
    rows, found = _close(commission, pool, rows.astype(np.int64), most)
    top, near = top_of(commission), set(rows.tolist())
    ways = [
        Way(pair, _left_of_pair(pool, pair, top.area_mm2))
        for pair in couples
        if near.issuperset(pair)
    ]
    return Looked(ways, len(order), found, len(ways) == len(couples))


def neighbours(pool: Pool) -> list[tuple[int, int]]:
    """Rows that lay face to face in their log: consecutive numbers in sawn order."""
    numbers = zip(pool.log.tolist(), pool.number.tolist(), strict=True)
    at = {key: row for row, key in enumerate(numbers) if key[0] >= 0 and key[1] >= 0}
    return [(row, at[log, no + 1]) for (log, no), row in at.items() if (log, no + 1) in at]


def _left_of_pair(pool: Pool, pair: tuple[int, int], top_mm2: float) -> float:
    wood = sum(pool.wood_mm2[row] * pool.thickness_mm[row] for row in pair)
    thick = sum(pool.thickness_mm[row] for row in pair) / 2
    return float(max(0.0, wood - top_mm2 * thick))


def _resin_pairs(commission: Commission, pool: Pool, order: Ints) -> Looked:
    """Pairs of one species with the least resin by a look at their edges; none is laid out yet.

    Across species they are in order of the worse of the two, as any other wood is.
    """
    rows, found = _close(commission, pool, order, LOOKED_AT_MOST[HowMade.RESIN_PAIR])
    place = np.empty(len(pool), dtype=np.int64)
    place[order] = np.arange(len(pool))
    couples: list[tuple[int, int]] = []
    for group in _of_one_species(pool, rows):
        given = [found[int(pk)] for pk in pool.pk[group]]
        couples += [(int(group[i]), int(group[j])) for i, j in _promising(commission, given)]
    couples.sort(key=lambda pair: max(place[pair[0]], place[pair[1]]))
    area = top_of(commission).area_mm2
    ways = [Way(pair, _left_of_pair(pool, pair, area)) for pair in couples]
    return Looked(ways, min(len(order), len(rows)), found, False)


def _of_one_species(pool: Pool, rows: Ints) -> Iterator[Ints]:
    for species in dict.fromkeys(pool.species[rows].tolist()):
        group = rows[pool.species[rows] == species]
        if len(group) > 1:
            yield group


def _promising(commission: Commission, given: Sequence[Shape]) -> Iterator[tuple[int, int]]:
    return pair_search.promising(
        top_of(commission),
        given,
        margin_mm=commission.margin_mm,
        wane_mm=commission.wane_mm,
        rules=ALLOWANCES,
        most=PAIRS_A_SPECIES,
        a_slab=PAIRS_A_SLAB,
    )
