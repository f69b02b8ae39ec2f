"""Live-edge tops: what is said to fit is solid across, and what fits is found."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, affinity

from catalogue.layout.across import Edges
from catalogue.layout.placed import Placed
from catalogue.layout.single import best_fit, lay
from catalogue.layout.tops import Top
from inventory.wood.shape import Shape
from tests.catalogue.layout.shapes import KINDS, board, crotch

# Seeds for these tests alone: nothing was tuned on them.
SEEDS = range(7301, 7305)
HOLE = np.array([(900.0, -60), (1000, -60), (1000, 60), (900, 60)])


def solid_mm(piece: Polygon, every_mm: float = 2.0) -> float:
    """The least over its length of the longest unbroken run across, by shapely alone."""
    left, low, right, high = piece.bounds
    places = np.arange(left + 0.5, right - 0.4, every_mm)
    lines = shapely.linestrings([[(x, low - 1), (x, high + 1)] for x in places])
    cut, owner = shapely.get_parts(shapely.intersection(lines, piece), return_index=True)
    longest = np.zeros(len(lines))
    np.maximum.at(longest, owner, shapely.length(cut))
    return float(longest.min())


def widest_mm(shape: Shape, length_mm: float, kept: str) -> float:
    """The greatest width a strip of that length can have: every half degree within 4°, every
    20 mm; for one edge kept, between the highest foot and the lowest top.
    """
    best = 0.0
    for turn in np.arange(-4.0, 4.1, 0.5):
        turned = affinity.rotate(shape.wood, float(turn), origin=(0, 0))
        left, low, right, high = turned.bounds
        places = np.arange(left + 1, right - 1, 20.0)
        lines = shapely.linestrings([[(x, low - 1), (x, high + 1)] for x in places])
        sides = shapely.bounds(shapely.intersection(lines, turned))[:, [1, 3]]
        count = int(np.ceil(length_mm / 20.0)) + 1
        windows = np.lib.stride_tricks.sliding_window_view(sides, count, axis=0)
        if kept == "one":
            widths = windows[:, 1].min(axis=1) - windows[:, 0].max(axis=1)
        else:
            widths = (windows[:, 1] - windows[:, 0]).min(axis=1)
        best = max(best, float(widths.max()))
    return best


@pytest.mark.parametrize("kept", ["both", "one"])
@pytest.mark.parametrize("seed", SEEDS)
def test_the_widest_strip_is_found(seed: int, kept: str) -> None:
    # Five kinds without holes; `widest_mm` looks between its places less often, so may say more.
    for kind in KINDS[:5]:
        shape = kind(seed)
        width = widest_mm(shape, 1500.0, kept)
        laid = best_fit(Top("live_edge", 1500, width * 0.98, kept_edges=kept), shape)
        assert laid.fits, (kind.__name__, laid.margin_mm)
        assert not best_fit(Top("live_edge", 1500, width * 1.04, kept_edges=kept), shape).fits


@pytest.mark.parametrize("kept", ["both", "one"])
def test_a_cleft_is_not_wood(kept: str) -> None:
    for seed in SEEDS:
        for length, width in ((1500.0, 450.0), (1700.0, 420.0)):
            laid = best_fit(Top("live_edge", length, width, kept_edges=kept), crotch(seed))
            assert not laid.fits
            assert laid.margin_mm < -20.0


@pytest.mark.parametrize("kept", ["both", "one"])
def test_a_hole_is_not_wood(kept: str) -> None:
    shape = board(2000, 400, HOLE)
    assert not best_fit(Top("live_edge", 1800, 380, kept_edges=kept), shape).fits
    # Beyond the hole there are 1000 mm of sound wood.
    beyond = best_fit(Top("live_edge", 950, 380, kept_edges=kept), shape)
    assert beyond.fits
    assert beyond.margin_mm == pytest.approx(10.0, abs=0.1)
    over = lay(Top("live_edge", 1800, 380, kept_edges=kept), Placed(shape, -1000.0, 0.0))
    assert not over.fits
    assert over.missing_mm2 == pytest.approx(100 * 120, rel=1e-6)


@pytest.mark.parametrize("y", [-120.0, 120.0])
def test_one_edge_is_kept_on_the_sound_side_of_a_hole(y: float) -> None:
    # 400 wide; the hole reaches from 60 to 180 on one side, so 260 are sound all along.
    shape = board(2000, 400, HOLE + np.array([0.0, y]))
    laid = best_fit(Top("live_edge", 1900, 250, kept_edges="one"), shape)
    assert laid.fits
    assert laid.margin_mm == pytest.approx(5.0, abs=0.1)
    assert laid.placed[0].polygon.buffer(1e-6).covers(laid.finished)
    assert laid.finished.bounds[3] - laid.finished.bounds[1] == pytest.approx(250.0, abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(
    st.integers(7320, 7400),
    st.sampled_from([*KINDS, crotch]),
    st.floats(600, 2200),
    st.floats(150, 800),
    st.sampled_from(["both", "one"]),
    st.sampled_from([0.0, 18.0]),
)
def test_what_is_said_to_fit_is_solid_across(
    seed: int, kind: object, length: float, width: float, kept: str, wane: float
) -> None:
    assert callable(kind)
    shape: Shape = kind(seed)
    laid = best_fit(Top("live_edge", length, width, kept_edges=kept), shape, wane_mm=wane)
    if not laid.fits:
        return
    left, _, right, _ = laid.finished.bounds
    assert right - left == pytest.approx(length, abs=1e-3)
    assert not laid.finished.interiors
    assert laid.placed[0].polygon.buffer(1e-6).covers(laid.finished)
    assert solid_mm(laid.finished) >= width - 1e-3
    again = lay(laid.top, laid.placed[0])
    assert again.margin_mm == pytest.approx(laid.margin_mm, abs=1e-9)


def test_a_wane_that_leaves_nothing_is_said() -> None:
    with pytest.raises(ValueError, match="wane"):
        best_fit(Top("live_edge", 500, 100), board(2000, 80), wane_mm=45.0)


def test_what_lies_across_a_holed_board() -> None:
    across = Edges(board(2000, 400, HOLE).wood).at(np.array([500.0, 950.0, 2500.0]))
    assert across.low == pytest.approx([-200, -200, 0])
    assert across.high == pytest.approx([200, 200, 0])
    assert across.holed == pytest.approx([0, 120, 0])
    assert across.hole_top[1] == pytest.approx(60)
