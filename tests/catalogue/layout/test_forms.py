"""The resin each form takes: exact for a square, an octagon and a circle."""

import numpy as np
import pytest
from shapely import box

from catalogue.layout import pairs
from catalogue.layout.forms import forms_for, octagon, ring
from catalogue.layout.placed import Placed
from catalogue.layout.single import best_fit
from catalogue.layout.tops import Top
from tests.catalogue.layout.shapes import board


def test_an_octagon_is_so_much_of_its_square() -> None:
    # Exact: an octagon across flats a has the area 2(√2 − 1)a², 8(√2 − 1)/4 of the square.
    assert octagon(1000).area / 1000**2 == pytest.approx(8 * (np.sqrt(2) - 1) / 4)
    left, low, right, high = octagon(1000).bounds
    assert (right - left, high - low) == pytest.approx((1000, 1000))


def test_a_ring_is_its_circle_and_lies_in_the_octagon() -> None:
    assert ring(1000).area == pytest.approx(np.pi / 4 * 1e6, rel=2e-5)
    assert octagon(1000).buffer(1e-6).covers(ring(1000))


def test_a_round_cast_in_three_forms() -> None:
    # Two even boards laid by hand 200 apart, each 400 wide: they fill the square's length, and of
    # its width all but the river and 10 mm at either side.
    piece = board(1400, 400)
    put = Placed(piece, -700.0, 300.0), Placed(piece, -700.0, -300.0)
    laid = pairs.as_placed(Top("round", 1000, 1000), *put)
    assert laid.fits
    found = {form.kind: form for form in forms_for(laid, 50.0, trim_mm=10.0)}
    assert list(found) == ["square", "octagon", "ring"]
    square = found["square"]
    assert square.area_mm2 == pytest.approx(1020**2)
    assert square.resin_mm2 == pytest.approx(1020**2 - 1020 * 800, rel=1e-6)
    assert square.resin_mm3 == pytest.approx(50 * square.resin_mm2)
    assert found["octagon"].area_mm2 == pytest.approx(1020**2 * 2 * (np.sqrt(2) - 1))
    assert square.resin_mm2 > found["octagon"].resin_mm2 > found["ring"].resin_mm2


def test_a_long_top_is_cast_in_a_box_and_all_wood_in_none() -> None:
    laid = pairs.lay_pair(Top("rectangle", 1200, 900), board(1500, 380), board(1500, 380))
    (form,) = forms_for(laid, 45.0)
    assert (form.kind, form.along_mm, form.across_mm) == ("box", 1220, 920)
    wood = box(-610, -460, 610, 460).intersection(
        laid.placed[0].polygon.union(laid.placed[1].polygon)
    )
    assert form.resin_mm2 == pytest.approx(form.area_mm2 - wood.area)
    assert forms_for(best_fit(Top("rectangle", 1000, 300), board(2000, 400)), 45.0) == []
