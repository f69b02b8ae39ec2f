"""Tops refused that would fit: against a dense search that tries places by brute force.

The reference first lays the top every half degree within 15° and every 8 mm, then around whatever
could still hold a top a little larger every quarter degree and every 2 mm, each by exact
containment; nothing of the search in catalogue/layout is used. Its limit is the largest scale that
lies on the slab, to 0.1 %. Tops a little smaller than that are then asked for: within 2 % of the
limit, and from 2 to 4 % below it. Slabs here (six kinds and forks) are used nowhere else. Run with
`-m bench -n 0 -s`.
"""

import sys
from collections.abc import Iterator

import numpy as np
import pytest
import shapely
from shapely import Polygon

from catalogue.layout.single import best_fit
from catalogue.layout.tops import Floats, Top
from inventory.wood.shape import Shape
from tests.catalogue.layout.shapes import KINDS, board, crotch

pytestmark = pytest.mark.bench
# Other seeds than those the search was tuned on.
SEEDS = range(9201, 9205)
TOPS = (
    Top("rectangle", 1500, 600),
    Top("rounded", 1500, 600, corner_mm=100),
    Top("oval", 1600, 680),
    Top("boat", 1700, 640, end_width_mm=440),
)
NEAR = (0.985, 0.9925, 0.9975)
BELOW = (0.96, 0.97, 0.979)
COARSE_MM, COARSE_DEG, FINE_MM, FINE_DEG = 8.0, 0.5, 2.0, 0.25
LEAST = 0.6
ASIDE_MM = 0.05


def held(wood: Polygon, outline: Floats, places: Floats, turns: Floats) -> list[int]:
    """Which of places (n, 2), each with its turn (n,), hold the top wholly; exact."""
    kept = np.arange(len(places))
    cos, sin = np.cos(np.radians(turns)), np.sin(np.radians(turns))
    for x, y in outline[:: max(1, len(outline) // 8)]:
        at_x = places[kept, 0] + cos[kept] * x - sin[kept] * y
        at_y = places[kept, 1] + sin[kept] * x + cos[kept] * y
        kept = kept[shapely.contains_xy(wood, at_x, at_y)]
    if not len(kept):
        return []
    x = cos[kept, None] * outline[:, 0] - sin[kept, None] * outline[:, 1]
    y = sin[kept, None] * outline[:, 0] + cos[kept, None] * outline[:, 1]
    rings = np.stack([x + places[kept, :1], y + places[kept, 1:]], axis=-1)
    kept = kept[shapely.contains(wood, shapely.polygons(rings))]
    return [int(one) for one in kept]


def outline_of(top: Top, scale: float) -> Floats:
    """Fewer points, every corner kept: within the top, by less than ASIDE_MM."""
    ring = shapely.get_coordinates(top.polygon.simplify(ASIDE_MM))[:-1]
    return np.asarray(ring * scale)


def everywhere(wood: Polygon) -> Iterator[tuple[Floats, Floats]]:
    left, low, right, high = wood.bounds
    x, y = np.meshgrid(np.arange(left, right, COARSE_MM), np.arange(low, high, COARSE_MM))
    centres = np.column_stack([x.ravel(), y.ravel()])
    for turn in np.arange(-15.0, 15.1, COARSE_DEG):
        yield centres, np.full(len(centres), turn)


def around(places: Floats, turns: Floats) -> tuple[Floats, Floats]:
    """The finer places and turns about each, every one once."""
    by = np.arange(-COARSE_MM / 2, COARSE_MM / 2 + 0.1, FINE_MM)
    steps = np.stack(np.meshgrid(by, by, (-FINE_DEG, 0.0, FINE_DEG)), axis=-1).reshape(-1, 3)
    given = np.column_stack([places, turns])
    every = np.unique((given[:, None] + steps).reshape(-1, 3).round(3), axis=0)
    every = every[np.abs(every[:, 2]) <= 15.0]
    return every[:, :2], every[:, 2]


def limit_of(top: Top, shape: Shape) -> float:
    """The largest scale at which the top lies on the slab somewhere; 0 below LEAST."""
    wood = shape.wood
    shapely.prepare(wood)
    found = LEAST
    for centres, turns in everywhere(wood):
        while at := held(wood, outline_of(top, found * 1.01), centres, turns):
            centres, turns, found = centres[at], turns[at], found * 1.01
    if found == LEAST:
        return 0.0
    # Off by 4 mm each way and a quarter degree, a top 3.5 % smaller lies within one that fits.
    near = [
        (centres[at], turns[at])
        for centres, turns in everywhere(wood)
        if (at := held(wood, outline_of(top, found * 0.965), centres, turns))
    ]
    places = np.concatenate([one for one, _ in near])
    turned = np.concatenate([one for _, one in near])
    for part in range(0, len(places), 2000):
        fine, fine_turns = around(places[part : part + 2000], turned[part : part + 2000])
        while at := held(wood, outline_of(top, found * 1.001), fine, fine_turns):
            found *= 1.001
            fine, fine_turns = fine[at], fine_turns[at]
    return found


def test_refusals_near_the_limit_and_below() -> None:
    asked, near, below, wrong = 0, 0, 0, 0
    refused = list[str]()
    kinds = [(kind, top) for kind in KINDS for top in TOPS]
    kinds += [(crotch, Top("rectangle", 800, 380))]
    for seed in SEEDS:
        for kind, top in kinds:
            shape = kind(seed)
            limit = limit_of(top, shape)
            if not limit:
                continue
            asked += 1
            missed = [at for at in NEAR + BELOW if not best_fit(top.scaled(limit * at), shape).fits]
            near += sum(at in NEAR for at in missed)
            below += sum(at in BELOW for at in missed)
            if missed:
                refused.append(f"{kind.__name__} {seed} {top.shape} {missed}")
            for larger in (1.005, 1.02):
                laid = best_fit(top.scaled(limit * larger), shape)
                wrong += laid.fits and not laid.placed[0].polygon.covers(laid.finished)
    share = 100 * near / (len(NEAR) * asked)
    sys.stderr.write(
        f"{asked} tops: refused within 2 % of the limit {near} of {len(NEAR) * asked} "
        f"({share:.1f} %), 2 to 4 % below it {below} of {len(BELOW) * asked}; said to fit where "
        f"it does not {wrong}\n" + "".join(f"  {line}\n" for line in refused)
    )
    assert wrong == 0
    assert below == 0
    assert share <= 3.0


def test_the_dense_search_is_right_on_a_board() -> None:
    # 400 wide: the 300 wide top can be a third larger, its length 1000 of 2000.
    limit = limit_of(Top("rectangle", 1000, 300), board(2000, 400))
    assert limit == pytest.approx(400 / 300, rel=0.004)
