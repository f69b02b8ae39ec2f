"""Two slabs with resin between: known gaps, a dense reference, and what must not change anything.

Seeds below 1000 were used while the search was tuned; the tests draw others.
"""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, affinity, box

from catalogue.layout import pairs
from catalogue.layout.placed import Placed
from catalogue.layout.rules import ALLOWANCES, Allowances
from catalogue.layout.tops import Top
from inventory.wood.outline import WidthAt
from inventory.wood.shape import Face, Floats, Shape, face_of_widths, shape_of
from tests.catalogue.layout.reference_pairs import least_resin_mm2
from tests.catalogue.layout.shapes import banana, board, crotch, tapered, wavy

WIDE = Allowances(resin_gap_share=0.6)
BOX = Top("rectangle", 2000, 800)


def plank(length_mm: float, width_mm: float) -> Shape:
    return shape_of(face_of_widths(length_mm, [WidthAt(0.5, width_mm)]))


def waved(length_mm: float, width_mm: float, rise_mm: float, phase: float) -> Shape:
    """Straight at the upper edge; the lower a sine of a metre's length about y = 0."""
    x = np.linspace(0.0, length_mm, int(length_mm / 5) + 1)
    lower = np.column_stack([x, rise_mm * np.sin(2 * np.pi * x / 1000 + phase)])
    return shape_of(Face(np.vstack([lower, [(length_mm, width_mm), (0.0, width_mm)]])))


def ring_of(shape: Shape) -> Floats:
    return np.asarray(shape.wood.exterior.coords)[:-1]


def changed(shape: Shape, turn_deg: float, is_mirrored: bool) -> Shape:
    wood = affinity.rotate(shape.wood, turn_deg, origin=(0, 0))
    if is_mirrored:
        wood = affinity.scale(wood, yfact=-1, origin=(0, 0))
    low_x, low_y, _, high_y = wood.bounds
    wood = affinity.translate(wood, -low_x, -(low_y + high_y) / 2)
    assert isinstance(wood, Polygon)
    return shape_of(Face(np.asarray(wood.exterior.coords)[:-1]))


def test_straight_planks_leave_the_rest_to_resin() -> None:
    """Exact: two of 350 mm under a top of 800 leave 100 mm from end to end."""
    laid = pairs.lay_pair(BOX, plank(2200, 350), plank(2300, 350))
    assert laid.gap_mm == pytest.approx((100, 100, 100), abs=0.01)
    assert laid.resin_mm2 == pytest.approx(100 * 2000, rel=1e-5)
    assert laid.margin_mm == pytest.approx(0.3 * 800 - 100, abs=0.01)
    assert laid.fits


def test_wide_planks_stay_apart_by_the_least_gap() -> None:
    """Exact: 600 + 600 under 800 overlap, so the resin is 10 mm × the length."""
    laid = pairs.lay_pair(BOX, plank(2200, 600), plank(2300, 600))
    assert laid.gap_mm == pytest.approx((10, 10, 10), abs=0.1)
    assert laid.resin_mm2 == pytest.approx(10 * 2000, rel=0.01)


def test_waves_out_of_step_of_given_slabs_have_the_area_of_two_sines() -> None:
    """Exact: edges at ±(50 + 30 sin) leave 100 mm mean over whole waves, from 40 to 160."""
    first = Placed(waved(2000, 400, 30, 0.0), -1000.0, 50.0)
    second = Placed(waved(2000, 400, 30, 0.0), -1000.0, -50.0, 0.0, True)
    laid = pairs.as_placed(BOX, first, second, rules=WIDE)
    assert laid.gap_mm == pytest.approx((40, 100, 160), abs=0.02)
    assert laid.resin_mm2 == pytest.approx(100 * 2000, rel=1e-6)
    assert laid.margin_mm == pytest.approx(0.6 * 800 - 160, abs=0.02)


def test_waves_that_nest_are_laid_in_step() -> None:
    """Wide slabs whose edges are one wave's two sides: moved into step only a narrow seam is left.

    Exact bound: two waves in step, 10 mm apart square to the line, are apart straight across by
    less than 10 / cos of the steepest slope (30 × 2π/1000), everywhere.
    """
    laid = pairs.lay_pair(BOX, waved(2300, 450, 30, 0.4), waved(2300, 450, 30, 2.0))
    steepest = np.hypot(1.0, 30 * 2 * np.pi / 1000)
    assert laid.gap_mm is not None
    assert laid.gap_mm[0] == pytest.approx(10, abs=0.1)
    assert laid.resin_mm2 <= 10 * steepest * 2000 * 1.03
    assert laid.resin_mm2 >= 10 * 2000


def test_a_taper_is_turned_until_the_gap_is_even() -> None:
    """Exact: wedges whose inner edges fall 40 mm over 2 m; straightened they leave a seam."""
    ring = [(0, 0), (2400, 48), (2400, 600), (0, 600)]
    wedge = shape_of(Face(np.array(ring, dtype=np.float64)))
    laid = pairs.lay_pair(BOX, wedge, plank(2400, 500))
    assert laid.resin_mm2 == pytest.approx(10 * 2000, rel=0.02)


@pytest.mark.parametrize(
    ("first", "second", "width_mm"),
    [
        (wavy(1601, 2200, 190), wavy(1602, 2200, 215), 700),
        (wavy(1603, 2200, 240), wavy(1604, 2200, 200), 700),
        (tapered(1605), tapered(1606), 1250),
    ],
)
def test_two_slabs_are_laid_about_as_well_as_by_trying_every_way(
    first: Shape, second: Shape, width_mm: float
) -> None:
    laid = pairs.lay_pair(Top("rectangle", 2000, width_mm), first, second, rules=WIDE)
    assert laid.resin_mm2 <= 1.03 * least_resin_mm2(2000, width_mm, first, second, 10.0)


def test_the_best_of_several_pairs_is_about_the_best_there_is() -> None:
    slabs = [wavy(1610 + at, 2100, 170 + 15 * at) for at in range(4)]
    best = pairs.best_pairs(Top("rectangle", 2000, 700), slabs, rules=WIDE, most=1)[0]
    every = [
        least_resin_mm2(2000, 700, slabs[i], slabs[j], 10.0) for i, j in combinations(range(4), 2)
    ]
    assert best.resin_mm2 <= 1.03 * min(every)


def test_pairs_come_in_order_and_no_slab_too_often() -> None:
    slabs = [wavy(1630 + at, 2200, 200 + 10 * at) for at in range(8)]
    found = pairs.best_pairs(Top("rectangle", 2000, 700), slabs, most=6, a_slab=2)
    assert all(pair.layout.fits and pair.first != pair.second for pair in found)
    used = [slab for pair in found for slab in (pair.first, pair.second)]
    assert max(used.count(slab) for slab in used) <= 2
    least = min(pair.resin_mm2 for pair in found)
    assert found[0].resin_mm2 <= 1.02 * least + 1
    assert found[-1].resin_mm2 >= found[0].resin_mm2 - 0.02 * least


@settings(max_examples=6, deadline=None)
@given(st.integers(2000, 9000), st.booleans(), st.booleans(), st.booleans())
def test_turning_mirroring_and_swapping_leave_the_resin(
    seed: int, is_turned: bool, is_mirrored: bool, is_swapped: bool
) -> None:
    """The search starts elsewhere, so its best may differ by a little, not by much."""
    first, second = wavy(seed, 2200, 200), wavy(seed + 1, 2250, 230)
    top = Top("rectangle", 2000, 700)
    plain = pairs.lay_pair(top, first, second, rules=WIDE)
    again = [changed(slab, 180.0 * is_turned, is_mirrored) for slab in (first, second)]
    other = pairs.lay_pair(top, *(again[::-1] if is_swapped else again), rules=WIDE)
    assert other.resin_mm2 == pytest.approx(plain.resin_mm2, rel=0.05)


@settings(max_examples=10, deadline=None)
@given(st.integers(2000, 9000), st.sampled_from(["rectangle", "round", "oval", "boat"]))
def test_wood_is_where_wood_is_and_outer_edges_lie_on_it(seed: int, shape: str) -> None:
    first, second = wavy(seed, 2200, 260), (banana if seed % 2 else crotch)(seed)
    width = 1400.0 if shape == "round" else 700.0
    laid = pairs.lay_pair(Top(shape, 1400, width, end_width_mm=500), first, second, rules=WIDE)
    for part, placed in zip(laid.wood, laid.placed, strict=True):
        assert placed.slab.buffer(1e-6).contains(part)
    whole = sum(part.area for part in laid.wood) + laid.resin_mm2
    assert whole == pytest.approx(laid.finished.area, rel=1e-9)
    if laid.fits:
        strip = box(-700, -1e5, 700, 1e5)
        one, other = (placed.polygon.intersection(strip) for placed in laid.placed)
        assert one.distance(other) >= ALLOWANCES.least_gap_mm - 0.06
        assert min(part.area for part in laid.wood) > 0
        reach = [laid.placed[0].polygon.bounds[3], -laid.placed[1].polygon.bounds[1]]
        assert min(reach) >= width / 2 - 0.06
        assert laid.gap_mm is not None
        assert laid.gap_mm[0] >= ALLOWANCES.least_gap_mm - 0.06


def test_what_keeps_two_slabs_from_the_top_is_its_negative_margin() -> None:
    """Exact: bare ends, a gap 60 mm too wide, slabs one over the other, an outer edge bare."""
    short = pairs.lay_pair(BOX, plank(1900, 395), plank(2300, 395), rules=WIDE)
    assert short.margin_mm == pytest.approx(-50, abs=0.1)
    wide = pairs.lay_pair(BOX, plank(2200, 250), plank(2300, 250))
    assert wide.margin_mm == pytest.approx(0.3 * 800 - 300, abs=0.1)
    over = Placed(plank(2200, 500), -1100.0, 200.0), Placed(plank(2200, 500), -1100.0, -200.0)
    assert pairs.as_placed(BOX, *over).margin_mm == pytest.approx(-100 - 10, abs=0.1)
    inside = Placed(plank(2200, 300), -1100.0, 230.0), Placed(plank(2200, 300), -1100.0, -250.0)
    assert pairs.as_placed(BOX, *inside).margin_mm == pytest.approx(-20, abs=0.1)


def test_a_corner_of_the_top_off_the_wood_is_a_miss() -> None:
    """A slab's end cut askew leaves the top's corner bare by a known length of its edge."""
    ring = [(0, -200), (2000, -200), (1960, 200), (0, 200)]
    askew = Placed(shape_of(Face(np.array(ring, dtype=np.float64))), -1000.0, 200.0)
    other = Placed(plank(2200, 350), -1100.0, -225.0)
    laid = pairs.as_placed(BOX, askew, other)
    assert not laid.fits


def test_a_slab_as_wide_as_the_top_leaves_the_other_its_strip() -> None:
    """Common practice: at least a fifth of the width each, though one alone would cover all."""
    laid = pairs.lay_pair(BOX, plank(2200, 1200), plank(2300, 300))
    assert laid.fits
    assert min(part.area for part in laid.wood) >= 0.2 * 800 * 2000 * 0.9
    assert laid.resin_mm2 == pytest.approx(10 * 2000, rel=0.01)


def test_spare_wood_asked_for_lies_beyond_the_outer_edges() -> None:
    """Exact: 20 mm all round widens what the slabs must cover, and the gap by as much each."""
    laid = pairs.lay_pair(BOX, plank(2200, 350), plank(2300, 350), margin_mm=20.0)
    assert laid.gap_mm == pytest.approx((140, 140, 140), abs=0.02)


def test_wane_is_no_wood() -> None:
    """Exact: 10 mm off each edge of both slabs leave 330 mm of each."""
    laid = pairs.lay_pair(BOX, plank(2200, 350), plank(2300, 350), wane_mm=10.0)
    assert laid.gap_mm == pytest.approx((140, 140, 140), abs=0.02)


def test_a_void_is_poured_but_is_no_gap() -> None:
    hole = np.array([(1000.0, 50), (1200, 50), (1200, 120), (1000, 120)])
    laid = pairs.lay_pair(BOX, board(2200, 350, hole), plank(2300, 350))
    assert laid.gap_mm == pytest.approx((100, 100, 100), abs=0.01)
    assert laid.resin_mm2 == pytest.approx(100 * 2000 + 200 * 70, rel=1e-4)


def test_few_or_short_slabs_give_no_pair() -> None:
    assert pairs.best_pairs(BOX, []) == []
    assert pairs.best_pairs(BOX, [plank(2200, 350)]) == []
    assert pairs.best_pairs(BOX, [plank(1500, 350), plank(1500, 350)]) == []
