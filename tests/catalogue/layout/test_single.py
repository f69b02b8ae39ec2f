"""One top on one slab: exact answers, a dense search to compare with, what must always hold."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from catalogue.layout.clearance import Wood, outer_polygon, put
from catalogue.layout.single import best_fit, lay
from catalogue.layout.tops import Floats, Top
from inventory.wood.shape import Face, Shape, shape_of
from tests.catalogue.layout.shapes import board, crotch, ellipse, wavy

# Seeds for these tests alone: nothing was tuned on them.
SEEDS = (701, 702, 703, 704)


@pytest.mark.parametrize(
    ("top", "margin_mm"),
    [
        (Top("rectangle", 1000, 300), 50.0),
        (Top("rectangle", 1900, 300), 50.0),
        (Top("rectangle", 1900, 390), 5.0),
        (Top("rectangle", 2100, 300), -50.0),
        (Top("round", 300, 300), 50.0),
        (Top("oval", 1000, 380), 10.0),
        (Top("boat", 1000, 360, end_width_mm=200), 20.0),
        (Top("rounded", 1960, 380, corner_mm=60), 10.0),
    ],
)
def test_on_a_board_the_spare_wood_is_plain(top: Top, margin_mm: float) -> None:
    laid = best_fit(top, board(2000, 400))
    assert laid.margin_mm == pytest.approx(margin_mm, abs=0.35)
    assert laid.fits == (margin_mm >= 0)


def test_a_top_longer_than_its_board_lies_on_the_diagonal() -> None:
    # Exact: a strip of width w fits a × b along its diagonal when L = (a − w sinθ)/cosθ …; here a
    # slat of no width to speak of on 1000 × 600 is as long as the diagonal, 1166.19 mm.
    slat = Top("rectangle", 1160.0, 1.0)
    assert not best_fit(slat, board(1000, 600)).fits
    laid = best_fit(slat, board(1000, 600), max_turn_deg=45.0)
    assert laid.fits
    turn = np.degrees(np.arctan2(600, 1000))
    assert abs(laid.placed[0].turn_deg) == pytest.approx(turn, abs=1.0)


def test_the_widest_rectangle_of_its_length_in_an_ellipse() -> None:
    # Exact: a rectangle of length L in an ellipse a × b is b √(1 − (L/a)²) wide.
    a, b, length = 2000.0, 900.0, 1400.0
    width = b * np.sqrt(1 - (length / a) ** 2)
    assert best_fit(Top("rectangle", length, width - 1.0), ellipse(a, b)).fits
    assert not best_fit(Top("rectangle", length, width + 1.0), ellipse(a, b)).fits


def test_margin_and_wane_come_off_what_is_spare() -> None:
    laid = best_fit(Top("rectangle", 1000, 300), board(2000, 400), margin_mm=15.0, wane_mm=20.0)
    assert laid.margin_mm == pytest.approx(15.0, abs=0.35)
    assert laid.fits
    assert not best_fit(
        Top("rectangle", 1000, 300), board(2000, 400), margin_mm=31.0, wane_mm=20.0
    ).fits


def test_a_hole_is_kept_clear_of() -> None:
    hole = np.array([(900.0, -40), (1000, -40), (1000, 40), (900, 40)])
    laid = best_fit(Top("rectangle", 950, 380), board(2000, 400, hole))
    assert laid.fits
    assert laid.placed[0].polygon.covers(laid.finished)
    # Between the hole and the far end there are 1000 mm, and 10 mm to either edge.
    assert laid.margin_mm == pytest.approx(10.0, abs=0.5)
    assert not best_fit(Top("rectangle", 1010, 380), board(2000, 400, hole)).fits


@pytest.mark.parametrize("kept", ["both", "one"])
def test_a_live_edge_top_keeps_its_edge_between_straight_ends(kept: str) -> None:
    shape = wavy(705)
    laid = best_fit(Top("live_edge", 1500, 600, kept_edges=kept), shape)
    assert laid.fits
    left, _, right, _ = laid.finished.bounds
    assert right - left == pytest.approx(1500, abs=0.01)
    assert laid.placed[0].polygon.buffer(0.01).covers(laid.finished)
    cuts = [(x, -9e4) for x in np.linspace(-749, 749, 200)]
    lines = shapely.linestrings([[at, (at[0], 9e4)] for at in cuts])
    across = shapely.length(shapely.intersection(lines, laid.finished))
    assert across.min() >= 600 - 0.5
    if kept == "one":
        assert across.min() == pytest.approx(600, abs=1.5)


def densely(top: Top, shape: Shape) -> float:
    """The most by which the top may be scaled and still lie on the wood, by trying everywhere:
    every half degree within 15°, every 8 mm, exact containment.
    """
    wood = shape.wood
    shapely.prepare(wood)
    left, low, right, high = wood.bounds
    x, y = np.meshgrid(np.arange(left, right, 8.0), np.arange(low, high, 8.0))
    centres = np.column_stack([x.ravel(), y.ravel()])
    fits_at = 0.0
    scales = np.arange(0.80, 1.21, 0.01)
    for turn in np.arange(-15.0, 15.1, 0.5):
        while True:
            scale = next((s for s in scales if s > fits_at + 1e-9), None)
            if scale is None or not lies_somewhere(top, wood, centres, float(turn), float(scale)):
                break
            fits_at = float(scale)
    return fits_at


def lies_somewhere(
    top: Top, wood: shapely.Polygon, centres: Floats, turn: float, scale: float
) -> bool:
    piece = put(affinity.scale(top.polygon, scale, scale, origin=(0, 0)), 0.0, 0.0, turn)
    corners = shapely.get_coordinates(piece.exterior)[:-1]
    kept = centres
    for corner in corners[:: max(1, len(corners) // 8)]:
        kept = kept[shapely.contains_xy(wood, kept + corner)]
    if not len(kept):
        return False
    ring = shapely.get_coordinates(piece.exterior)
    pieces = shapely.polygons(kept[:, None, :] + ring)
    return bool(shapely.contains(wood, pieces).any())


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize(
    "top", [Top("rectangle", 1500, 600), Top("boat", 1700, 640, end_width_mm=440)]
)
def test_what_fits_by_a_dense_search_is_not_refused(seed: int, top: Top) -> None:
    shape = wavy(seed)
    limit = densely(top, shape)
    assert 0.8 < limit < 1.2
    assert best_fit(scaled(top, limit * 0.99), shape).fits
    # Nothing much larger than the search found is said to fit, or it lies on wood indeed.
    larger = best_fit(scaled(top, limit * 1.03), shape)
    assert not larger.fits or larger.placed[0].polygon.covers(larger.finished)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_fork_is_measured_as_it_is(seed: int) -> None:
    shape = crotch(seed)
    assert shape.doubles_back
    top = Top("rectangle", 800, 380)
    limit = densely(top, shape)
    assert best_fit(scaled(top, limit * 0.98), shape).fits
    larger = best_fit(scaled(top, limit * 1.04), shape)
    assert not larger.fits or larger.placed[0].polygon.covers(larger.finished)


def scaled(top: Top, by: float) -> Top:
    return Top(
        top.shape, top.length_mm * by, top.width_mm * by, top.corner_mm * by, top.end_width_mm * by
    )


sizes = st.tuples(st.floats(800, 2300), st.floats(300, 800))
kinds = st.sampled_from(["rectangle", "oval", "boat", "rounded"])


def a_top(kind: str, size: tuple[float, float]) -> Top:
    length, width = size
    return Top(kind, length, width, corner_mm=width / 5, end_width_mm=width * 0.7)


@settings(max_examples=25, deadline=None)
@given(st.integers(710, 760), kinds, sizes)
def test_what_is_said_to_fit_lies_wholly_on_wood(
    seed: int, kind: str, size: tuple[float, float]
) -> None:
    laid = best_fit(a_top(kind, size), wavy(seed))
    covers = laid.placed[0].polygon.buffer(1e-6).covers(laid.top.polygon)
    assert covers or not laid.fits
    if laid.fits:
        assert laid.missing_mm2 < 0.5
        grown = laid.top.polygon.buffer(laid.margin_mm - 0.05)
        assert laid.placed[0].polygon.covers(grown)


@settings(max_examples=15, deadline=None)
@given(st.integers(710, 760), kinds, sizes, st.floats(1.03, 1.3))
def test_a_larger_top_never_fits_where_a_smaller_did_not(
    seed: int, kind: str, size: tuple[float, float], by: float
) -> None:
    shape = wavy(seed)
    small, large = a_top(kind, size), scaled(a_top(kind, size), by)
    if best_fit(large, shape).fits:
        assert best_fit(small, shape).fits


@settings(max_examples=12, deadline=None)
@given(st.integers(710, 760), sizes, st.sampled_from(["mirror", "turn", "scale"]))
def test_turning_mirroring_and_scaling_change_nothing(
    seed: int, size: tuple[float, float], way: str
) -> None:
    shape, top = wavy(seed), a_top("rectangle", size)
    ring = shapely.get_coordinates(shape.wood.exterior)[:-1]
    by = 1.25 if way == "scale" else 1.0
    steps = {"mirror": (1.0, -1.0), "turn": (-1.0, -1.0), "scale": (1.25, 1.25)}
    other = shape_of(Face(ring * np.array(steps[way])))
    one, two = best_fit(top, shape), best_fit(scaled(top, by), other)
    # Where much is to spare the very best place is not sought to the millimetre.
    near = max(2.5, 0.05 * abs(one.margin_mm)) * by
    assert two.margin_mm == pytest.approx(one.margin_mm * by, abs=near)
    assert two.fits == one.fits or abs(one.margin_mm) < 2.5


@settings(max_examples=15, deadline=None)
@given(st.integers(710, 760), kinds, sizes)
def test_used_left_over_and_kerf_make_the_slab(
    seed: int, kind: str, size: tuple[float, float]
) -> None:
    laid = best_fit(a_top(kind, size), wavy(seed))
    used = sum(part.area for part in laid.wood)
    kerf = sum(part.area for part in laid.kerf())
    left = sum(laid.left_over_mm2())
    assert used + kerf + left == pytest.approx(laid.placed[0].slab.area, rel=1e-6)


def test_a_hand_may_lay_it_anywhere_and_is_told_what_is_missing() -> None:
    top = Top("rectangle", 1000, 300)
    shape = board(2000, 400)
    best = best_fit(top, shape)
    assert lay(top, best.placed[0]).margin_mm == pytest.approx(best.margin_mm)
    placed = best.placed[0]
    off = lay(top, type(placed)(shape, placed.x_mm, placed.y_mm + 80.0))
    assert not off.fits
    assert off.margin_mm == pytest.approx(-30.0, abs=0.01)
    assert off.missing_mm2 == pytest.approx(1000 * 30, rel=1e-6)


def test_the_outer_polygon_holds_all_of_the_curve() -> None:
    turn = np.linspace(0, 2 * np.pi, 5000)
    curve = np.column_stack([600 * np.cos(turn), 300 * np.sin(turn)])
    for points in (0, 72):
        outer = outer_polygon(Top("oval", 1200, 600), points)
        assert outer.buffer(1e-9).covers(shapely.MultiPoint(curve))
    for top in (Top("boat", 1200, 600, end_width_mm=300), Top("rounded", 900, 500, corner_mm=90)):
        for points in (0, 72):
            assert outer_polygon(top, points).buffer(1e-9).covers(top.polygon)


def test_clearance_is_the_distance_to_the_nearest_edge_or_hole() -> None:
    hole = np.array([(980.0, 60), (1020, 60), (1020, 100), (980, 100)])
    wood = Wood(board(2000, 400, hole).wood)
    piece = put(Top("rectangle", 400, 100).polygon, 1000, 0, 0)
    assert wood.clearance_mm(piece) == pytest.approx(10.0)
    assert wood.clearance_mm(put(piece, 0, 170, 0)) == pytest.approx(-20.0)
