"""What is left of a slab is good for: known shapes, and whatever is named lies in the piece."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, affinity, box

from catalogue.layout.offcuts import largest_rectangle, largest_round, offcuts, rectangle_in
from catalogue.layout.single import best_fit
from catalogue.layout.tops import Top
from tests.catalogue.layout.shapes import board, wavy


def test_an_l_shape_gives_its_longer_leg_whole() -> None:
    leg = Polygon([(0, 0), (2000, 0), (2000, 400), (500, 400), (500, 900), (0, 900)])
    found = rectangle_in(leg)
    assert found is not None
    assert found.length_mm == pytest.approx(2000, abs=1.5)
    assert found.width_mm == pytest.approx(400, abs=1.5)


@pytest.mark.parametrize("turn_deg", [0.0, 12.0, -30.0, 75.0])
def test_a_turned_board_is_found_whole(turn_deg: float) -> None:
    found = rectangle_in(affinity.rotate(box(0, 0, 1500, 300), turn_deg))
    assert found is not None
    # To about a centimetre a side: cells of the grid, then pushed out.
    assert (found.length_mm, found.width_mm) == pytest.approx((1500, 300), abs=12)


def test_the_largest_rectangle_of_a_right_triangle_has_half_its_area() -> None:
    # Exact: the largest rectangle along the legs of a right triangle a × b is a/2 × b/2.
    found = rectangle_in(Polygon([(0, 0), (1600, 0), (0, 900)]))
    assert found is not None
    assert found.length_mm * found.width_mm == pytest.approx(800 * 450, rel=0.03)


def test_the_largest_round_of_a_triangle_is_its_incircle() -> None:
    # Exact: r = area / half the perimeter; legs 900 and 1200, hypotenuse 1500: r = 300.
    (found,) = offcuts(Polygon([(0, 0), (1200, 0), (0, 900)]))
    assert found.round is not None
    assert found.round.diameter_mm == pytest.approx(600, abs=1.5)


def test_slivers_are_firewood() -> None:
    assert offcuts(box(0, 0, 3000, 60)) == []
    assert offcuts(Polygon()) == []


def test_what_is_left_beside_a_top_on_a_board() -> None:
    laid = best_fit(Top("rectangle", 1000, 380), board(2600, 400))
    left = offcuts(laid.left_over()[0])
    rectangle, circle = largest_rectangle(left), largest_round(left)
    assert rectangle is not None
    assert circle is not None
    # The top lies in the middle: 800 mm are left at either end, less the saw's 3 mm.
    assert (rectangle.length_mm, rectangle.width_mm) == pytest.approx((797, 400), abs=4)
    assert circle.diameter_mm == pytest.approx(400, abs=2)


@settings(max_examples=20, deadline=None)
@given(st.integers(770, 790), st.floats(700, 1800), st.floats(200, 600))
def test_whatever_is_named_lies_in_the_piece(seed: int, length: float, width: float) -> None:
    laid = best_fit(Top("rectangle", length, width), wavy(seed))
    left = laid.left_over()[0]
    for piece in offcuts(left):
        if piece.rectangle:
            assert left.buffer(1e-6).covers(piece.rectangle.polygon)
            assert piece.rectangle.length_mm >= piece.rectangle.width_mm
        if piece.round:
            at = shapely.Point(piece.round.x_mm, piece.round.y_mm)
            reach = np.asarray(shapely.distance(left.boundary, at))
            assert piece.round.diameter_mm / 2 <= reach + 1e-6
