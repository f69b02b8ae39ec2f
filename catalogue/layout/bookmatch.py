"""Two neighbours of one log opened like a book, glued along a straight joint.

Both are cut along the same edge, the second lying mirrored, each half of the top from the same
place along both. The joint is straightened by `joint_mm` within the wood.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

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

TRIED_MOST = 60
SHIFTS = np.linspace(0.0, 1.0, 9)
"""Where holes are in the way the joint is tried further into the wood, by these shares."""


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

    Both outlines are taken with the same end of the log first and the same face up.
    """
    best: Layout | None = None
    for opening in _openings(top, first, second, margin_mm, wane_mm, rules):
        laid = _opened(top, (first, second), opening, margin_mm, wane_mm, rules)
        if best is None or _worth(laid) > _worth(best):
            best = laid
        if laid.missing_mm2 <= TOUCHING_MM2:
            break
    assert best is not None
    return best


def _worth(laid: Layout) -> tuple[float, float]:
    return -max(laid.missing_mm2, TOUCHING_MM2), laid.margin_mm


def _openings(
    top: Top, first: Shape, second: Shape, margin_mm: float, wane_mm: float, rules: Allowances
) -> Iterator[Opening]:
    """The most promising, the widest spare first; among equals the nearest to the middle."""
    x, half = places_of(top, margin_mm)
    rings = [ring_of(shape, wane_mm) for shape in (first, second)]
    found: list[Opening] = []
    for edge in (0, 1):
        for turn in TURNS_DEG:
            runs = [sections(turned(ring, float(turn) + 180.0 * edge)) for ring in rings]
            shared = max(low[0, 0] for low, _ in runs), min(low[-1, 0] for low, _ in runs)
            along = alongs_of(np.array([[shared[0], 0.0], [shared[1], 0.0]]), x, OFFSET_STEP_MM)
            at = np.clip(along[:, None] + x, *shared)
            spare = np.min([_spare(low, high, at, half) for low, high in runs], axis=0)
            found += [
                Opening(edge, float(turn), float(place), float(room) - rules.joint_mm)
                for place, room in zip(along, spare, strict=True)
            ]
    middle = (first.length_mm + second.length_mm) / 4
    found.sort(key=lambda way: (-round(way.spare_mm), abs(abs(way.along_mm) - middle)))
    yield from found[:TRIED_MOST]


def _spare(low: Floats, high: Floats, at: Floats, half: Floats) -> Floats:
    room = (np.interp(at, *high.T) - half).min(axis=1)
    return np.asarray(room - np.interp(at, *low.T).max(axis=1))


def _opened(
    top: Top,
    shapes: tuple[Shape, Shape],
    opening: Opening,
    margin_mm: float,
    wane_mm: float,
    rules: Allowances,
) -> Layout:
    """The layout by exact geometry, the joint moved into the wood where holes are in its way."""
    halves = [_half(top, shape, opening, margin_mm, wane_mm, rules) for shape in shapes]
    sides = (box(-FAR_MM, 0, FAR_MM, FAR_MM), box(-FAR_MM, -FAR_MM, FAR_MM, 0))
    end = top.length_mm / 2
    return Layout(
        top,
        (halves[0][0], mirrored_across(halves[1][0])),
        "bookmatched",
        min(spare for _, spare in halves),
        top.polygon,
        keeps=sides,
        cuts=(LineString([(-end, 0), (end, 0)]),),
    )


def _half(
    top: Top,
    shape: Shape,
    opening: Opening,
    margin_mm: float,
    wane_mm: float,
    rules: Allowances,
) -> tuple[Placed, float]:
    """One slab with the joint along y = 0, and how much wider its half could be."""
    turn = opening.turn_deg + 180.0 * opening.edge
    put = Placed(shape, -opening.along_mm, 0.0, turn, False, wane_mm)
    at_joint = gaps.lowest_mm(top, put, margin_mm) + rules.joint_mm
    spare = -at_joint - gaps.short_mm(top, put, margin_mm)
    short = gaps.short_along_mm(top, put, margin_mm)
    if short > gaps.TOUCHING_MM:
        return Placed(shape, put.x_mm, -at_joint, turn, False, wane_mm), min(spare, -short)
    upper = top.polygon.intersection(box(-FAR_MM, 0, FAR_MM, FAR_MM))
    for share in SHIFTS if spare > 0 else SHIFTS[:1]:
        moved = Placed(shape, put.x_mm, float(-at_joint - share * spare), turn, False, wane_mm)
        if moved.polygon.buffer(1e-6).contains(upper):
            return moved, _room(top, moved, spare * (1 - share))
    return Placed(shape, put.x_mm, -at_joint, turn, False, wane_mm), min(spare, 0.0)


def _room(top: Top, put: Placed, spare_mm: float) -> float:
    """The spare wood beyond the outer edge, less where a hole lies in it."""
    holes = MultiPolygon([Polygon(hole) for hole in put.polygon.interiors])
    beyond = holes.intersection(box(-top.length_mm / 2, 0, top.length_mm / 2, FAR_MM))
    if beyond.is_empty:
        return spare_mm
    return min(spare_mm, float(beyond.distance(top.polygon)))
