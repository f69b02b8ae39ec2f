"""Two neighbours of one log opened like a book, glued along a straight joint.

Both are cut along the same edge, the second lying mirrored, each half of the top from the same
place along both. The joint is straightened by `joint_mm` within the wood.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np
from shapely import LineString, MultiPolygon, Polygon, box

from catalogue.layout import gaps
from catalogue.layout.halves import (
    OFFSET_STEP_MM,
    TURNS_DEG,
    alongs_of,
    mirrored_across,
    places_of,
    ring_of,
    sections,
    turned,
)
from catalogue.layout.laid import FAR_MM, TOUCHING_MM2, Layout
from catalogue.layout.placed import Placed
from catalogue.layout.rules import ALLOWANCES, Allowances
from catalogue.layout.tops import Floats, Top
from inventory.wood.shape import Shape

SECTIONS = 65
FINER_DEG = np.array([-0.4, -0.3, -0.2, -0.1, 0.1, 0.2, 0.3, 0.4])
TRIED_MOST = 60
MISSED_MOST = 4
"""Where even the widest place is too narrow, so many are looked at for what is missing: an even
number, since opening along either edge leaves a rectangle as much."""
SHIFTS = np.linspace(0.0, 1.0, 9)
"""Where holes are in the way the joint is tried further into the wood, by these shares."""
COMPARED_MM = 20.0
SLID_MM = np.arange(-100.0, 100.1, 10.0)
CLEARLY = 0.6
"""Outlines are taken as traced from the other end, or from further along, only where they then
agree with so little of the difference that they have as they stand."""


@dataclass(frozen=True, eq=False)
class Leaf:
    """One slab in the log's own frame: turned end for end or not, and slid along."""

    shape: Shape
    wane_mm: float
    is_turned: bool = False
    slid_mm: float = 0.0

    @cached_property
    def ring(self) -> Floats:
        ring = turned(ring_of(self.shape, self.wane_mm), 180.0 * self.is_turned)
        return np.asarray(ring + np.array([self.slid_mm, 0.0]))

    def put(self, opening: Opening, y_mm: float) -> Placed:
        turn_deg = opening.turn_deg + 180.0 * opening.edge
        slid = turned(np.array([[self.slid_mm, 0.0]]), turn_deg)[0]
        return Placed(
            self.shape,
            float(slid[0]) - opening.along_mm,
            float(slid[1]) + y_mm,
            turn_deg + 180.0 * self.is_turned,
            False,
            self.wane_mm,
        )


@dataclass(frozen=True)
class Opening:
    """A way to open the book: the edge cut along, the slabs' angle, the top's place along them."""

    edge: int
    turn_deg: float
    along_mm: float
    spare_mm: float


def lay(
    top: Top,
    first: Shape,
    second: Shape,
    *,
    margin_mm: float = 0.0,
    wane_mm: float = 0.0,
    rules: Allowances = ALLOWANCES,
) -> Layout:
    """Half the top on each; `margin_mm` is how much wider each half could be, or what it misses.

    Both outlines are taken with the same face up. Raises ValueError when the wane leaves no wood.
    """
    leaves = Leaf(first, wane_mm), beside(first, second, wane_mm)
    best: Layout | None = None
    for tried, opening in enumerate(_openings(top, leaves, margin_mm, rules)):
        if best is not None and opening.spare_mm < 0 and tried >= MISSED_MOST:
            break
        laid = _opened(top, leaves, opening, margin_mm, rules)
        if best is None or _worth(laid) > _worth(best):
            best = laid
        if laid.missing_mm2 <= TOUCHING_MM2:
            break
    assert best is not None
    return best


def beside(first: Shape, second: Shape, wane_mm: float = 0.0) -> Leaf:
    """The second slab as it grew beside the first, by where their outlines agree best.

    They may have been pictured from opposite ends, or crosscut at different places.
    """
    offered: list[tuple[float, Leaf]] = []
    for is_turned in (False, True):
        for slid in SLID_MM:
            start = float(slid) + (second.length_mm if is_turned else 0.0)
            differs = _differ_mm(first, second, is_turned, float(slid))
            if slid == 0 and not is_turned:
                plain = differs
            offered.append((differs, Leaf(second, wane_mm, is_turned, start)))
    best = min(offered, key=lambda one: one[0])
    clearly = not (first.is_approximate or second.is_approximate) and best[0] < CLEARLY * plain
    return best[1] if clearly else Leaf(second, wane_mm)


def _differ_mm(first: Shape, second: Shape, is_turned: bool, slid_mm: float) -> float:
    """How much two slabs' edges differ where both are, but for one being wider all along (mm)."""
    shared = max(0.0, slid_mm), min(first.length_mm, second.length_mm + slid_mm)
    x = np.arange(shared[0] + COMPARED_MM, shared[1] - COMPARED_MM, COMPARED_MM)
    if len(x) < 3:
        return float("inf")
    mine = [_edge(edge, x) for edge in (first.lower_mm, first.upper_mm)]
    if is_turned:
        along = second.length_mm - (x - slid_mm)
        theirs = [-_edge(edge, along) for edge in (second.upper_mm, second.lower_mm)]
    else:
        theirs = [_edge(edge, x - slid_mm) for edge in (second.lower_mm, second.upper_mm)]
    return float(np.mean([np.std(one - two) for one, two in zip(mine, theirs, strict=True)]))


def _edge(edge: Floats, x: Floats) -> Floats:
    return np.interp(x, np.maximum.accumulate(edge[:, 0]), edge[:, 1])


def _worth(laid: Layout) -> tuple[float, float]:
    return -max(laid.missing_mm2, TOUCHING_MM2), laid.margin_mm


def _openings(
    top: Top, leaves: tuple[Leaf, Leaf], margin_mm: float, rules: Allowances
) -> list[Opening]:
    """The most promising, the widest spare first; among equals the nearest to the middle.

    After the first few they are taken from all along the slabs, since a hole spoils neighbours.
    """
    found = [
        opening
        for edge, turn in product((0, 1), TURNS_DEG)
        for opening in _at_turn(top, leaves, edge, float(turn), margin_mm, rules)
    ]
    best = max(found, key=lambda way: way.spare_mm)
    for edge, finer in product((0, 1), best.turn_deg + FINER_DEG):
        found += _at_turn(top, leaves, edge, float(finer), margin_mm, rules)
    middle = sum(leaf.shape.length_mm for leaf in leaves) / 4
    found.sort(key=lambda way: (-round(way.spare_mm), abs(abs(way.along_mm) - middle)))
    wide = [way for way in found if way.spare_mm >= 0] or found
    every = max(1, len(wide) // TRIED_MOST)
    return [*wide[:MISSED_MOST], *wide[MISSED_MOST::every]]


def _at_turn(
    top: Top,
    leaves: tuple[Leaf, Leaf],
    edge: int,
    turn_deg: float,
    margin_mm: float,
    rules: Allowances,
) -> list[Opening]:
    x, half = places_of(top, margin_mm, SECTIONS)
    runs = [sections(turned(leaf.ring, turn_deg + 180.0 * edge)) for leaf in leaves]
    shared = max(low[0, 0] for low, _ in runs), min(low[-1, 0] for low, _ in runs)
    along = alongs_of(np.array([[shared[0], 0.0], [shared[1], 0.0]]), x, OFFSET_STEP_MM)
    at = np.clip(along[:, None] + x, shared[0], max(shared))
    spare = np.min([_spare(low, high, at, half) for low, high in runs], axis=0)
    return [
        Opening(edge, turn_deg, float(place), float(room) - rules.joint_mm)
        for place, room in zip(along, spare, strict=True)
    ]


def _spare(low: Floats, high: Floats, at: Floats, half: Floats) -> Floats:
    room = (np.interp(at, *high.T) - half).min(axis=1)
    return np.asarray(room - np.interp(at, *low.T).max(axis=1))


def _opened(
    top: Top, leaves: tuple[Leaf, Leaf], opening: Opening, margin_mm: float, rules: Allowances
) -> Layout:
    """The layout by exact geometry, the joint moved into the wood where holes are in its way."""
    halves = [_half(top, leaf, opening, margin_mm, rules) for leaf in leaves]
    laid = _glued(top, halves[0][0], mirrored_across(halves[1][0]))
    return laid.with_margin(min(spare for _, spare in halves))


def as_placed(top: Top, first: Placed, second: Placed, *, margin_mm: float = 0.0) -> Layout:
    """Two slabs where they were put by hand, glued along the middle of the top.

    The layout's margin is what is spare beyond the outer edge of the half with the least, the edge
    grown by `margin_mm`; negative by what is missing there, at an end, or (bare top over its
    length) at the joint.
    """
    laid = _glued(top, first, second)
    upper = (first, mirrored_across(second))
    spare = [_room(top, put, -gaps.short_mm(top, put, margin_mm)) for put in upper]
    short = [-gaps.short_along_mm(top, put, margin_mm) for put in upper]
    missing = [way for way in short if way < -gaps.TOUCHING_MM]
    if laid.missing_mm2 > TOUCHING_MM2:
        missing.append(-laid.missing_mm2 / top.length_mm)
    return laid.with_margin(min([*spare, *missing]))


def _glued(top: Top, first: Placed, second: Placed) -> Layout:
    """The joint along y = 0, the first slab above it; its margin is still to be said."""
    end = top.length_mm / 2
    return Layout(
        top,
        (first, second),
        "bookmatched",
        0.0,
        top.polygon,
        keeps=(box(-FAR_MM, 0, FAR_MM, FAR_MM), box(-FAR_MM, -FAR_MM, FAR_MM, 0)),
        cuts=(LineString([(-end, 0), (end, 0)]),),
    )


def _half(
    top: Top, leaf: Leaf, opening: Opening, margin_mm: float, rules: Allowances
) -> tuple[Placed, float]:
    """One slab with the joint along y = 0, and how much wider its half could be."""
    put = leaf.put(opening, 0.0)
    at_joint = gaps.lowest_mm(top, put, margin_mm) + rules.joint_mm
    spare = -at_joint - gaps.short_mm(top, put, margin_mm)
    jointed = leaf.put(opening, -at_joint)
    short = gaps.short_along_mm(top, put, margin_mm)
    if short > gaps.TOUCHING_MM:
        return jointed, min(spare, -short)
    upper = top.polygon.intersection(box(-FAR_MM, 0, FAR_MM, FAR_MM))
    for share in SHIFTS if spare > 0 and put.polygon.interiors else SHIFTS[:1]:
        moved = leaf.put(opening, float(-at_joint - share * max(0.0, spare)))
        if upper.difference(moved.polygon).area <= TOUCHING_MM2 / 4:
            return moved, _room(top, moved, spare * (1 - share))
    return jointed, min(spare, 0.0)


def _room(top: Top, put: Placed, spare_mm: float) -> float:
    """The spare wood beyond the outer edge, less where a hole lies in it."""
    holes = MultiPolygon([Polygon(hole) for hole in put.polygon.interiors])
    beyond = holes.intersection(box(-top.length_mm / 2, 0, top.length_mm / 2, FAR_MM))
    if beyond.is_empty:
        return spare_mm
    return min(spare_mm, float(beyond.distance(top.polygon)))
