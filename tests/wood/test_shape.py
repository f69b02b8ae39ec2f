"""Figures of a true shape against geometry that can be worked out by hand, and what must hold."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

from inventory.wood import measure, outline
from inventory.wood.outline import WidthAt
from inventory.wood.shape import (
    CAPACITY_STEP_MM,
    PROFILE_STEP_MM,
    Face,
    Floats,
    Shape,
    chain,
    edges_of,
    face_of_widths,
    shape_of,
)

INCH = 25.4


def shape(*corners: tuple[float, float], holes: tuple[Floats, ...] = ()) -> Shape:
    return shape_of(Face(np.array(corners, dtype=np.float64), holes))


def regular(sides: int, radius: float, turn: float = 0.0) -> Floats:
    angle = turn + 2 * np.pi * np.arange(sides) / sides
    return radius * np.column_stack([np.cos(angle), np.sin(angle)])


def wavy(seed: int, length_mm: float = 2400.0) -> Floats:
    draw = np.random.default_rng(seed)
    x = np.linspace(0.0, length_mm, 80)

    def edge(middle: float) -> Floats:
        waves = [draw.normal(0, 22) * np.sin(k * x / 400 + draw.uniform(0, 6)) for k in (1, 2, 3)]
        return np.column_stack([x, middle + np.sum(waves, axis=0)])

    lower, upper = edge(-330.0), edge(330.0)
    return np.vstack([lower, upper[::-1]])


# --- areas -------------------------------------------------------------------------------


def test_areas_of_known_polygons() -> None:
    board = shape((0, 0), (2000, 0), (2000, 500), (0, 500))
    assert board.area_mm2 == pytest.approx(1e6)
    triangle = shape((0, 0), (1200, 0), (0, 900))
    assert triangle.area_mm2 == pytest.approx(540_000)
    # Exact: a regular polygon of n sides and circumradius r has the area n/2 r² sin(2π/n).
    for sides in (6, 8, 12):
        found = shape_of(Face(regular(sides, 400)))
        assert found.area_mm2 == pytest.approx(sides / 2 * 400**2 * np.sin(2 * np.pi / sides))


def test_a_circle_by_many_points_nears_its_area() -> None:
    found = shape_of(Face(regular(2000, 500)))
    assert found.area_mm2 == pytest.approx(np.pi * 500**2, rel=2e-6)
    assert found.circle[2] == pytest.approx(1000, abs=1.5)


def test_an_octagon_is_so_much_of_its_square() -> None:
    # Exact: 8(√2 − 1)/4 of the square that its flats touch.
    octagon = shape_of(Face(regular(8, 500 / np.cos(np.pi / 8), np.pi / 8)))
    assert octagon.area_mm2 / 1000**2 == pytest.approx(8 * (np.sqrt(2) - 1) / 4)


def test_the_largest_circle_of_known_shapes() -> None:
    # Exact: 3-4-5 triangle r = 300; hexagon of circumradius R: R cos 30°; L-shape by its square.
    assert shape((0, 0), (1200, 0), (0, 900)).circle[2] == pytest.approx(600, abs=1.5)
    hexagon = shape_of(Face(regular(6, 400)))
    assert hexagon.circle[2] == pytest.approx(800 * np.cos(np.pi / 6), abs=1.5)
    board = shape((0, 0), (2000, 0), (2000, 500), (0, 500))
    assert board.circle[2] == pytest.approx(500, abs=1.5)


def test_the_largest_circle_of_an_angle() -> None:
    # Exact: both arms 300 wide; it touches the outer sides and the inner corner, r = 300 (2 − √2).
    angle = shape((0, 0), (1500, 0), (1500, 300), (300, 300), (300, 1200), (0, 1200))
    assert angle.circle[2] == pytest.approx(600 * (2 - np.sqrt(2)), abs=1.5)


def test_holes_and_bark_are_no_wood() -> None:
    ring = np.array([(0, 0), (2000, 0), (2000, 500), (0, 500)], dtype=float)
    hole = np.array([(900, 200), (1000, 200), (1000, 300), (900, 300)], dtype=float)
    found = shape_of(Face(ring, (hole,), bark_mm=10.0))
    assert found.area_mm2 == pytest.approx(1e6)
    assert found.wood_mm2 == pytest.approx(1980 * 480 - 100 * 100)
    assert found.length_mm == pytest.approx(1980)
    with pytest.raises(ValueError, match="No wood"):
        shape_of(Face(ring, bark_mm=260.0))


def test_board_feet_of_known_solids() -> None:
    # 8 ft × 12 in × 2 in: T × W × L / 12 = 16 board feet (volume.md, section 1).
    board = shape((0, 0), (96 * INCH, 0), (96 * INCH, 12 * INCH), (0, 12 * INCH))
    assert measure.board_feet(board.wood_mm2 * 2 * INCH) == pytest.approx(16.0)
    # A taper from 10 to 14 in over 10 ft, 1 in thick: the mean width 12 in, 10 board feet.
    taper = shape((0, -127.0), (3048, -177.8), (3048, 177.8), (0, 127.0))
    assert measure.board_feet(taper.wood_mm2 * INCH) == pytest.approx(10.0)


def test_widths_of_the_worked_example() -> None:
    """../shared/reference/volume.md, section 4: 24.5, 20, 26.5, 23, 22 in over 9 ft. The trapezoid
    rule gives a mean of 23.19 in, Simpson's 22.63 in; they differ by 2.5 %. The shape is drawn with
    straight edges between the widths, so its area is the trapezoid's.
    """
    widths = [24.5, 20.0, 26.5, 23.0, 22.0]
    stations = outline.stations_from([width * INCH for width in widths])
    found = shape_of(face_of_widths(9 * 12 * INCH, stations), is_approximate=True)
    assert found.mean_width_mm / INCH == pytest.approx(23.19, abs=0.005)
    weights = np.array([1, 4, 2, 4, 1])
    simpson = float(weights @ np.array(widths)) / 12
    assert simpson == pytest.approx(22.63, abs=0.005)
    assert found.mean_width_mm / INCH / simpson == pytest.approx(1.025, abs=0.001)
    # Simpson's rule on the kept widths of the drawn shape, station by station.
    kept = found.widths_mm[[0, 25, 50, 75, 100]] / INCH
    assert float(weights @ kept) / 12 == pytest.approx(22.63, abs=0.01)


# --- widths, centre line, profile, capacity ----------------------------------------------


def test_a_shape_from_widths_agrees_with_the_widths() -> None:
    stations = [WidthAt(0.0, 610.0), WidthAt(0.4, 520.0), WidthAt(1.0, 700.0)]
    found = shape_of(face_of_widths(2300.0, stations))
    assert found.area_mm2 == pytest.approx(outline.plan_area_mm2(2300.0, stations))
    assert found.least_width_mm == pytest.approx(520.0)
    places = np.linspace(0, 1, 101)
    expected = np.interp(places, [0.0, 0.4, 1.0], [610.0, 520.0, 700.0])
    assert found.widths_mm == pytest.approx(expected, abs=1e-3)
    assert np.abs(found.centre_mm).max() < 1e-6


def test_the_centre_line_follows_a_bend() -> None:
    # A parallelogram rising by 200 over 2000: its middle rises evenly.
    found = shape((0, 0), (2000, 200), (2000, 700), (0, 500))
    assert found.centre_mm == pytest.approx(250 + 200 * np.linspace(0, 1, 101), abs=0.01)


def test_the_profile_of_a_taper_is_exact() -> None:
    found = shape((0, -200), (1000, -300), (1000, 300), (0, 200))
    starts = PROFILE_STEP_MM * np.arange(len(found.profile_mm))
    # Widening to the right, each bin is least at its left border.
    assert found.profile_mm[:, 1] == pytest.approx(200 + starts / 10, abs=1e-4)
    assert found.profile_mm[:, 0] == pytest.approx(-200 - starts / 10, abs=1e-4)


def test_capacity_of_a_board_a_taper_and_an_ellipse() -> None:
    board = shape((0, 0), (2000, 0), (2000, 500), (0, 500))
    assert board.capacity_mm == pytest.approx([500.0] * 20)
    # Exact: in a symmetric taper from 600 to 400 over 2000, a rectangle of length L from the wide
    # end is 600 − L/10 wide.
    taper = shape((0, -300), (2000, -200), (2000, 200), (0, 300))
    lengths = CAPACITY_STEP_MM * np.arange(1, 21)
    assert taper.capacity_mm == pytest.approx(600 - lengths / 10, abs=0.01)
    # Exact: in an ellipse a × b it is b √(1 − (L/a)²); to one step of the profile at either end.
    ellipse = shape_of(Face(regular(1440, 1.0) * (1000, 400)))
    found = ellipse.capacity_mm[:18]
    exact = 800 * np.sqrt(1 - (lengths[:18] / 2000) ** 2)
    shorter = 800 * np.sqrt(1 - ((lengths[:18] + 2 * PROFILE_STEP_MM) / 2000) ** 2)
    assert (found <= exact + 0.1).all()
    assert (found >= shorter - 0.5).all()


def test_the_edges_are_chains_of_even_steps() -> None:
    found = shape_of(Face(wavy(3)))
    for edge in (found.upper_mm, found.lower_mm):
        steps = np.hypot(*np.diff(edge, axis=0).T)
        assert steps.max() <= 10.0 + 1e-9
        assert edge[-1, 0] > edge[0, 0]
    assert found.upper_mm[:, 1].mean() > found.lower_mm[:, 1].mean()


@pytest.mark.parametrize(("first", "last"), [(0, 0), (60, -40), (-80, 90)])
@pytest.mark.parametrize("sense", [1, -1])
def test_edges_lie_between_the_end_cuts(first: float, last: float, sense: int) -> None:
    # Ends cut square or oblique, with points along the cuts, the ring either way round.
    corners = np.array([(0, -300), (2000, -280), (2000 + last, 310), (first, 290)], dtype=float)
    ring = shapely.get_coordinates(shapely.segmentize(Polygon(corners), 50.0))[:-1]
    upper, lower = edges_of(Polygon(ring[::sense]))
    assert lower[[0, -1]] == pytest.approx(corners[[0, 1]])
    assert upper[[0, -1]] == pytest.approx(corners[[3, 2]])


def test_a_cut_that_a_hand_traced_is_a_cut() -> None:
    whole = shapely.segmentize(Polygon([(0, -300), (2000, -300), (2000, 300), (0, 300)]), 20.0)
    ring = shapely.get_coordinates(whole)[:-1]
    ring = ring + np.random.default_rng(3).normal(0, 1.0, ring.shape)
    for edge, y in zip(edges_of(Polygon(ring)), (300, -300), strict=True):
        assert edge[[0, -1]] == pytest.approx(np.array([(0, y), (2000, y)]), abs=22)
        assert np.abs(edge[:, 1] - y).max() < 22


def test_a_round_end_parts_the_edges_at_its_tip() -> None:
    upper, lower = edges_of(Polygon(regular(360, 1.0) * (1000, 400)))
    for edge in (upper, lower):
        assert edge[0] == pytest.approx((-1000, 0), abs=1e-6)
        assert edge[-1] == pytest.approx((1000, 0), abs=1e-6)
    assert upper[1:-1, 1].min() > 0 > lower[1:-1, 1].max()


def test_a_ragged_end_does_not_double_back() -> None:
    y = np.linspace(-300, 300, 25)[1:-1]
    ragged = np.column_stack([2000 + 7 * np.cos(np.arange(len(y)) * 2.2), y])
    ring = np.vstack([[(0, -300), (2000, -300)], ragged, [(2000, 300), (0, 300)]])
    assert not shape_of(Face(ring)).doubles_back


def test_a_chain_keeps_length_and_ends() -> None:
    found = chain(np.array([(0.0, 0.0), (30.0, 40.0), (30.0, 140.0)]), 10.0)
    assert found[0] == pytest.approx((0, 0))
    assert found[-1] == pytest.approx((30, 140))
    assert len(found) == 16


def test_only_what_doubles_back_is_said_to() -> None:
    fork = [
        (0, -250), (1900, -500), (2000, -300), (1400, -60), (900, 0), (1300, 60),
        (2050, 260), (1900, 480), (0, 230),
    ]  # fmt: skip
    assert shape(*fork).doubles_back
    assert not shape_of(Face(wavy(4))).doubles_back
    # A hand that trembles by a millimetre or two does not make a fork of it.
    ring = wavy(5) + np.random.default_rng(1).normal(0, 0.7, (160, 2))
    assert not shape_of(Face(ring)).doubles_back


# --- what must always hold ---------------------------------------------------------------

seeds = st.integers(0, 10_000)


@settings(max_examples=30, deadline=None)
@given(seeds, st.floats(0.4, 3.0))
def test_scaling_scales(seed: int, by: float) -> None:
    one, two = shape_of(Face(wavy(seed))), shape_of(Face(wavy(seed) * by))
    assert two.area_mm2 == pytest.approx(one.area_mm2 * by**2)
    assert two.greatest_width_mm == pytest.approx(one.greatest_width_mm * by, rel=1e-6)
    assert two.circle[2] == pytest.approx(one.circle[2] * by, abs=3.0)


@settings(max_examples=30, deadline=None)
@given(seeds, st.sampled_from([(-1, -1), (1, -1), (-1, 1)]), st.floats(-500, 500))
def test_turning_mirroring_and_moving_change_no_figure(
    seed: int, sense: tuple[int, int], by: float
) -> None:
    one = shape_of(Face(wavy(seed)))
    two = shape_of(Face(wavy(seed) * np.array(sense) + by))
    for name in ("length_mm", "area_mm2", "wood_mm2", "least_width_mm", "greatest_width_mm"):
        assert getattr(two, name) == pytest.approx(getattr(one, name), rel=1e-6), name
    assert two.circle[2] == pytest.approx(one.circle[2], abs=1.5)


@settings(max_examples=30, deadline=None)
@given(seeds)
def test_every_figure_stays_within_the_wood(seed: int) -> None:
    found = shape_of(Face(wavy(seed)))
    x, y, across = found.circle
    assert found.wood.buffer(1e-6).covers(shapely.Point(x, y).buffer(across / 2 - 0.01))
    assert (np.diff(found.capacity_mm) <= 1e-9).all()
    assert found.least_width_mm <= found.mean_width_mm <= found.greatest_width_mm
    assert found.wood_mm2 <= found.area_mm2 + 1e-6
    low, high = found.profile_mm.T
    starts = PROFILE_STEP_MM * np.arange(len(low))
    bands = shapely.box(starts, low, starts + PROFILE_STEP_MM, high)
    # Guaranteed wood over the whole of each bin.
    outside = shapely.area(shapely.difference(bands, Polygon(found.wood.exterior)))
    assert outside.max() < 1e-2
