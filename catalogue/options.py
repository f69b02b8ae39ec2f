"""The ways a top could be made from given slabs: one of them, or two.

Looks through many slabs by cheap figures and hands out options whose exact layout is drawn only
for those that are shown.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property, partial

import numpy as np

from catalogue import layout
from catalogue.layout import ALLOWANCES, Floats, Layout, Piece, Side, Top
from catalogue.models import Commission, HowMade
from inventory.models import Slab
from inventory.readiness import Target

# A cheap figure this near the limit is settled by the exact layout.
NEAR_LIMIT_MM = 1.0
NEAR_GAP_MM = 15.0
# Of all pairs with resin, so many go on to be judged; each slab in so many of them at most.
PAIRS_JUDGED = 120
PAIRS_A_SLAB = 3
UNKNOWN_MOISTURE_PCT = 99.0


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

    @property
    def left_over_mm3(self) -> float:
        """Wood of its slabs that the top's plan does not cover."""
        left = zip(self.layout.left_over_mm2(), self.slabs, strict=True)
        return sum(area * slab.thickness_mm for area, slab in left)

    @property
    def is_one_log(self) -> bool:
        return len({slab.log_id for slab in self.slabs}) == 1 and self.slabs[0].log_id is not None


def top_of(commission: Commission) -> Top:
    return Top(commission.top_shape, commission.top_length_mm, commission.top_width_mm)


def piece_of(slab: Slab) -> Piece:
    return Piece(slab.length_mm, tuple(slab.stations))


def rough_thickness_mm(commission: Commission) -> float:
    """What a slab must measure: the finished thickness and what flattening takes off two faces."""
    return commission.finished_thickness_mm + 2 * ALLOWANCES.face_mm


def width_asked_mm(commission: Commission) -> float:
    """The least greatest width worth looking at, by how the top is made."""
    width = commission.top_width_mm
    if commission.how_made == HowMade.BOOKMATCHED:
        return width / 2
    if commission.how_made == HowMade.RESIN_PAIR:
        # The other slab may give the rest, but a strip narrower than a fifth is no half of a top.
        return width / 5
    return width


def mean_width_hoped_mm(commission: Commission) -> float:
    """A mean width at which a slab is likely to do; where there are many, those come first."""
    width = commission.top_width_mm
    if commission.how_made == HowMade.ONE_SLAB:
        return width
    if commission.how_made == HowMade.BOOKMATCHED:
        return width / 2 + ALLOWANCES.joint_mm
    return width * (1 - ALLOWANCES.resin_gap_share) / 2


def area_asked_mm2(commission: Commission) -> float:
    """No slab of a smaller face can do: the top's own area, or half of it in a bookmatch."""
    area = top_of(commission).area_mm2
    shares = {
        HowMade.ONE_SLAB: 1.0,
        HowMade.BOOKMATCHED: 0.5,
        HowMade.RESIN_PAIR: 0.0,
        HowMade.RESIN_SIDES: 1.0,
    }
    # The stored area is summed in another order: a hair less must not rule it out.
    return area * shares[HowMade(commission.how_made)] * (1 - 1e-9)


def moisture_off_pct(slab: Slab, target: Target) -> float:
    """How far the last check's mean lies outside the target; 99 when there is none."""
    if slab.mc_pct is None:
        return UNKNOWN_MOISTURE_PCT
    return max(0.0, slab.mc_pct - target.high_pct, target.low_pct - slab.mc_pct)


def options_for(commission: Commission, slabs: Sequence[Slab], target: Target) -> list[Option]:
    """Every way to make the top from these slabs (of resin pairs, the best)."""
    top = top_of(commission)
    if commission.how_made == HowMade.BOOKMATCHED:
        return bookmatches(top, slabs)
    if commission.how_made == HowMade.RESIN_PAIR:
        return resin_pairs(top, slabs, target)
    return single_slabs(top, slabs)


def layout_of(commission: Commission, slabs: Sequence[Slab]) -> Layout | None:
    """The top on just these slabs; None when they are too few, too many, or it does not fit."""
    top, pieces = top_of(commission), [piece_of(slab) for slab in slabs if slab.widths]
    wanted = 1 if commission.how_made == HowMade.ONE_SLAB else 2
    if len(pieces) != wanted:
        return None
    if commission.how_made == HowMade.ONE_SLAB:
        laid: Layout | None = layout.on_one_slab(top, pieces[0])
    elif commission.how_made == HowMade.BOOKMATCHED:
        laid = layout.as_bookmatch(top, pieces[0], pieces[1])
    else:
        laid = layout.best_with_resin(top, pieces[0], pieces[1])
    return laid if laid is not None and laid.fits else None


def single_slabs(top: Top, slabs: Iterable[Slab]) -> list[Option]:
    found = []
    for slab in slabs:
        piece = piece_of(slab)
        spare = layout.spare_half_width_mm(top, piece)
        if spare is None or spare < -NEAR_LIMIT_MM:
            continue
        option = Option((slab,), partial(layout.on_one_slab, top, piece))
        if spare > NEAR_LIMIT_MM or option.layout.fits:
            found.append(option)
    return found


def neighbours(slabs: Iterable[Slab]) -> list[tuple[Slab, Slab]]:
    """Slabs that lay face to face in their log: consecutive numbers in sawn order."""
    by_place = {(slab.log_id, slab.number_in_log): slab for slab in slabs if slab.log_id}
    pairs = []
    for (log_id, number), slab in by_place.items():
        following = by_place.get((log_id, number + 1)) if number is not None else None
        if following is not None:
            pairs.append((slab, following))
    return pairs


def bookmatches(top: Top, slabs: Iterable[Slab]) -> list[Option]:
    found = []
    for first, second in neighbours(slabs):
        if abs(first.thickness_mm - second.thickness_mm) > ALLOWANCES.pair_thickness_mm:
            continue
        laid = layout.as_bookmatch(top, piece_of(first), piece_of(second))
        if laid.fits:
            found.append(Option((first, second), partial(_same, laid)))
    return found


def resin_pairs(top: Top, slabs: Sequence[Slab], target: Target) -> list[Option]:
    """Pairs of one species; best first by moisture, then by the wood beyond the top."""
    by_species: dict[int, list[Slab]] = {}
    for slab in slabs:
        by_species.setdefault(slab.species_id, []).append(slab)
    found = [pair for group in by_species.values() for pair in _resin_pairs(top, group, target)]
    found.sort(key=lambda pair: pair[0])
    return [option for _, option in found[:PAIRS_JUDGED]]


Rank = tuple[float, float]


def _resin_pairs(top: Top, slabs: list[Slab], target: Target) -> list[tuple[Rank, Option]]:
    laid = [(slab, layout.side_of(top, piece_of(slab))) for slab in slabs]
    long_enough = [(slab, side) for slab, side in laid if side is not None]
    if len(long_enough) < 2:
        return []
    kept = [slab for slab, _ in long_enough]
    sides = [side for _, side in long_enough]
    gaps = layout.greatest_gaps_mm(top, sides)
    moisture, area = _pair_figures(kept, target)
    allowed = ALLOWANCES.resin_gap_share * top.width_mm + NEAR_GAP_MM
    first, second = np.nonzero(np.triu(gaps.min(axis=0) <= allowed, k=1))
    order = np.lexsort((area[first, second], moisture[first, second]))
    found: list[tuple[Rank, Option]] = []
    uses: dict[int, int] = {}
    for index in order:
        i, j = int(first[index]), int(second[index])
        if max(uses.get(i, 0), uses.get(j, 0)) >= PAIRS_A_SLAB:
            continue
        option = _resin_option(top, (kept[i], kept[j]), (sides[i], sides[j]), gaps[:, i, j])
        if option.layout.fits:
            uses[i], uses[j] = uses.get(i, 0) + 1, uses.get(j, 0) + 1
            found.append(((float(moisture[i, j]), float(area[i, j])), option))
        if len(found) >= PAIRS_JUDGED:
            break
    return found


def _pair_figures(slabs: Sequence[Slab], target: Target) -> tuple[Floats, Floats]:
    """For every two: the worse moisture (% MC outside the target) and the sum of faces (mm²)."""
    off = np.array([moisture_off_pct(slab, target) for slab in slabs])
    area = np.array([slab.area_mm2 for slab in slabs])
    return np.maximum.outer(off, off), np.add.outer(area, area)


def _resin_option(
    top: Top, slabs: tuple[Slab, Slab], sides: tuple[Side, Side], gaps: Floats
) -> Option:
    is_turned = bool(gaps[1] < gaps[0])
    laid = layout.with_resin(top, *sides, is_turned=is_turned)
    return Option(slabs, partial(_same, laid))


def _same(laid: Layout) -> Layout:
    return laid
