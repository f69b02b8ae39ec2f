"""Two neighbours opened like a book: exact halves, holes, outlines pictured from either end."""

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapely import Polygon, affinity, box

from catalogue.layout import bookmatch
from catalogue.layout.tops import Top
from inventory.wood.shape import Face, shape_of
from tests.catalogue.layout.shapes import board, crotch, wavy
from tests.catalogue.layout.test_pairs import changed, plank, ring_of

BOX = Top("rectangle", 2000, 700)


def test_two_planks_give_half_each() -> None:
    """Exact: 400 mm less 3 mm straightened leave 397 mm for half of 700: 47 mm to spare."""
    laid = bookmatch.lay(BOX, plank(2200, 400), plank(2200, 420))
    assert laid.fits
    assert laid.margin_mm == pytest.approx(47, abs=0.01)
    assert [part.area for part in laid.wood] == pytest.approx([350 * 2000] * 2)
    assert laid.cuts[0].length == pytest.approx(2000)


def test_what_each_half_misses_is_said() -> None:
    laid = bookmatch.lay(Top("rectangle", 2000, 900), plank(2200, 400), plank(2200, 420))
    assert not laid.fits
    assert laid.margin_mm == pytest.approx(397 - 450, abs=0.01)


def test_slabs_too_short_miss_at_either_end() -> None:
    laid = bookmatch.lay(BOX, plank(1900, 400), plank(2200, 420))
    assert not laid.fits
    assert laid.margin_mm == pytest.approx(-50, abs=0.01)


def test_spare_wood_and_wane_are_taken_off() -> None:
    """Exact: 20 mm all round and 10 mm of wane at both edges leave 47 − 20 − 20."""
    laid = bookmatch.lay(BOX, plank(2200, 400), plank(2200, 400), margin_mm=20, wane_mm=10)
    assert laid.margin_mm == pytest.approx(7, abs=0.01)


def test_a_taper_is_turned_until_the_joint_runs_along_its_edge() -> None:
    """Exact: a wedge whose lower edge rises 70 mm over 2400; cut along it nothing is lost."""
    ring = np.array([(0, 0), (2400, 70), (2400, 470), (0, 400)], dtype=np.float64)
    wedge = shape_of(Face(ring))
    laid = bookmatch.lay(BOX, wedge, wedge)
    across = 400 * np.cos(np.arctan(70 / 2400))
    # The tenth of a degree nearest to the wedge's angle is up to 0.05° off: 2 mm over the top.
    assert across - 3 - 350 - 4 <= laid.margin_mm <= across - 3 - 350 + 0.01


def test_the_joint_goes_round_a_hole_or_the_top_does() -> None:
    """A hole a third along, near one edge: the halves come from where no hole is."""
    hole = np.array([(300.0, -150), (420, -150), (420, -60), (300, -60)])
    laid = bookmatch.lay(BOX, board(2900, 480, hole), board(2900, 480))
    assert laid.fits
    assert laid.missing_mm2 == pytest.approx(0, abs=0.5)
    middle = np.array([(1100.0, -60), (1300, -60), (1300, 60), (1100, 60)])
    none = bookmatch.lay(BOX, board(2400, 480, middle), board(2400, 480))
    assert not none.fits


@pytest.mark.parametrize(("turn", "slid"), [(0.0, 0.0), (180.0, 0.0), (0.0, 60.0), (180.0, 60.0)])
def test_a_neighbour_pictured_from_the_other_end_is_turned_back(turn: float, slid: float) -> None:
    """The same outline as its neighbour: opened, each half mirrors the other."""
    first = wavy(1701, 2500, 230)
    kept = first.wood.intersection(box(slid, -1e4, 1e4, 1e4))
    assert isinstance(kept, Polygon)
    cut = shape_of(Face(np.asarray(kept.exterior.coords)[:-1]))
    second = changed(cut, turn, False)
    laid = bookmatch.lay(Top("rectangle", 1900, 500), first, second)
    mirror = affinity.scale(laid.placed[1].slab, yfact=-1, origin=(0, 0))
    crossed = box(-900, -1e4, 900, 1e4)
    one, other = laid.placed[0].slab.intersection(crossed), mirror.intersection(crossed)
    assert one.symmetric_difference(other).area <= 0.02 * one.area


@settings(max_examples=10, deadline=None)
@given(st.integers(2000, 9000), st.sampled_from(["rectangle", "round", "oval", "boat"]))
def test_what_fits_is_all_wood(seed: int, shape: str) -> None:
    """No top is called fitting with a place bare; neither half takes wood that is not there."""
    first = crotch(seed) if seed % 3 == 0 else wavy(seed, 2200, 230)
    second = wavy(seed + 1, 2200, 240)
    width = 1200.0 if shape == "round" else 640.0
    laid = bookmatch.lay(Top(shape, 1200, width, end_width_mm=400), first, second)
    for part, placed in zip(laid.wood, laid.placed, strict=True):
        assert part.difference(placed.slab).area <= 1e-3
    if laid.fits:
        upper, lower = laid.wood
        assert upper.area + lower.area == pytest.approx(laid.top.polygon.area, abs=1.0)
        assert upper.bounds[1] >= -1e-6
        assert lower.bounds[3] <= 1e-6


@settings(max_examples=8, deadline=None)
@given(st.integers(2000, 9000))
@example(2815)  # too narrow, and the least is missing at the fourth place looked at
def test_mirroring_both_changes_nothing(seed: int) -> None:
    first, second = wavy(seed, 2200, 230), wavy(seed, 2200, 250)
    again = [shape_of(Face(ring_of(slab) * (1, -1))) for slab in (first, second)]
    plain = bookmatch.lay(BOX, first, second)
    assert bookmatch.lay(BOX, *again).margin_mm == pytest.approx(plain.margin_mm, abs=1.5)
