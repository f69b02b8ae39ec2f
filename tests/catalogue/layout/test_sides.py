"""One slab with resin along it: strips of known width, and the way with the least resin."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.layout import sides
from catalogue.layout.placed import Placed
from catalogue.layout.tops import Top
from inventory.wood.shape import Face, shape_of
from tests.catalogue.layout.shapes import board, crotch, wavy
from tests.catalogue.layout.test_pairs import WIDE, plank, ring_of, waved

BOX = Top("rectangle", 2000, 700)


@pytest.mark.parametrize("which", ["one", "both", "best"])
def test_a_straight_plank_leaves_a_strip_of_known_width(which: sides.Which) -> None:
    """Exact: 600 mm of wood under 700 leave 100 mm of resin, in one strip or two."""
    laid = sides.lay(BOX, plank(2200, 600), which)
    assert laid.resin_mm2 == pytest.approx(100 * 2000, rel=1e-6)
    assert laid.gap_mm == pytest.approx((100, 100, 100), abs=0.01)
    assert laid.margin_mm == pytest.approx(0.3 * 700 - 100, abs=0.01)


def test_along_one_side_the_waves_are_inward() -> None:
    """Exact: over two whole waves of ±30 mm the resin is 150 mm in the mean, 120 to 180."""
    laid = sides.lay(BOX, waved(2000, 550, 30, 0.0), "one", rules=WIDE)
    assert laid.gap_mm == pytest.approx((120, 150, 180), abs=0.1)
    assert laid.placed[0].polygon.bounds[3] == pytest.approx(350, abs=0.1)


def test_through_the_middle_both_live_edges_are_kept_and_the_strips_alike() -> None:
    laid = sides.lay(BOX, wavy(1801, 2200, 240), "both", rules=WIDE)
    strips = np.array([part.area for part in getattr(laid.bare, "geoms", [laid.bare])])
    assert len(strips) == 2
    assert strips.min() >= 0.9 * strips.max()
    low, high = laid.placed[0].polygon.bounds[1::2]
    assert -350 < low < high < 350


def test_the_best_way_is_the_one_with_less_resin() -> None:
    slab = wavy(1802, 2200, 270)
    ways = [sides.lay(BOX, slab, which, rules=WIDE).resin_mm2 for which in ("one", "both")]
    assert sides.lay(BOX, slab, rules=WIDE).resin_mm2 == pytest.approx(min(ways))


def test_too_much_resin_and_too_short_a_slab_are_negative_margins() -> None:
    """Exact: 300 mm bare where 210 are allowed; 50 mm bare at either end."""
    assert sides.lay(BOX, plank(2200, 400)).margin_mm == pytest.approx(210 - 300, abs=0.01)
    short = Placed(plank(1900, 800), -950.0, 0.0)
    assert sides.as_placed(BOX, short, rules=WIDE).margin_mm < -49.9


def test_a_void_is_poured_too() -> None:
    hole = np.array([(1000.0, -50), (1200, -50), (1200, 50), (1000, 50)])
    laid = sides.lay(BOX, board(2200, 600, hole))
    assert laid.resin_mm2 == pytest.approx(100 * 2000 + 200 * 100, rel=1e-6)


@settings(max_examples=12, deadline=None)
@given(st.integers(2000, 9000), st.sampled_from(["rectangle", "round", "oval", "boat"]))
def test_mirroring_changes_nothing_and_wood_is_where_wood_is(seed: int, shape: str) -> None:
    slab = crotch(seed) if seed % 3 == 0 else wavy(seed, 2200, 250)
    width = 1200.0 if shape == "round" else 640.0
    top = Top(shape, 1200, width, end_width_mm=400)
    laid = sides.lay(top, slab, rules=WIDE)
    assert laid.wood[0].difference(laid.placed[0].slab).area <= 1e-3
    assert laid.wood[0].area + laid.resin_mm2 == pytest.approx(top.polygon.area, rel=1e-9)
    mirrored = shape_of(Face(ring_of(slab) * (1, -1)))
    again = sides.lay(top, mirrored, rules=WIDE)
    assert again.resin_mm2 == pytest.approx(laid.resin_mm2, rel=0.02, abs=2000)
