"""Plates land in wood, or what is in the way is named, and the least shift is proposed."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.layout import pairs
from catalogue.layout.fastening import Lies, Plate, grounds, proposed_shift
from catalogue.layout.laid import Layout
from catalogue.layout.single import best_fit
from catalogue.layout.tops import Top
from tests.catalogue.layout.shapes import board


def river() -> Layout:
    """1200 × 900 of two even boards, a straight river along the middle."""
    laid = pairs.lay_pair(Top("rectangle", 1200, 900), board(1500, 380), board(1500, 380))
    assert laid.fits
    return laid


def plate(x: float, y: float, length: float = 200, width: float = 80) -> Plate:
    return Plate("plate", x, y, length, width)


def lies(laid: Layout, *plates: Plate) -> list[Lies]:
    return [ground.lies for ground in grounds(laid, plates, margin_mm=15.0)]


def test_each_ground_is_named() -> None:
    laid = river()
    half = (laid.gap_mm or (0, 0, 0))[2] / 2
    found = lies(
        laid,
        plate(0, 300),
        plate(0, 0),
        plate(0, half + 40 + 5),
        plate(580, 300),
        Plate("insert", 100, 300, 20, 20),
        Plate("insert", 100, 0, 20, 20),
    )
    assert found == [Lies.WOOD, Lies.RESIN, Lies.NEAR, Lies.OUTSIDE, Lies.WOOD, Lies.RESIN]


def test_a_void_in_the_wood_is_a_void() -> None:
    hole = np.array([(980.0, -30), (1020, -30), (1020, 30), (980, 30)])
    laid = best_fit(Top("rectangle", 900, 300), board(2000, 400))
    holed = Layout(
        laid.top,
        (type(laid.placed[0])(board(2000, 400, hole), -1000.0, 0.0),),
        "one_slab",
        0.0,
        laid.finished,
    )
    assert lies(holed, plate(0, 0)) == [Lies.VOID]
    assert lies(holed, plate(250, 0)) == [Lies.WOOD]
    # The least way out, along or across: half the plate and its margin clear of the hole.
    shift = proposed_shift(holed, [plate(0, 0, 100, 80)], margin_mm=15.0)
    assert shift is not None
    assert np.hypot(*shift) == pytest.approx(min(20 + 50 + 15, 30 + 40 + 15), abs=1.0)


def test_the_least_shift_out_of_a_river_is_by_hand() -> None:
    laid = river()
    half = (laid.gap_mm or (0, 0, 0))[2] / 2
    # The plate's near edge must lie 15 mm beyond the river's: 10 mm into it now.
    at = half + 40 - 10
    shift = proposed_shift(laid, [plate(0, at)], margin_mm=15.0)
    assert shift is not None
    assert shift[0] == pytest.approx(0.0, abs=1e-9)
    assert shift[1] == pytest.approx(25.0, abs=1.0)


def test_a_base_that_spans_the_river_is_shifted_as_one() -> None:
    laid = river()
    both = [plate(0, 300), plate(0, -300)]
    assert proposed_shift(laid, both) == (0.0, 0.0)
    # Four hundred apart along x and one over the end: only a shift inwards helps.
    over = [plate(540, 300), plate(140, 300)]
    shift = proposed_shift(laid, over, margin_mm=15.0)
    assert shift is not None
    assert shift[0] == pytest.approx(-(540 + 100 + 15 - 600), abs=1.0)


def test_where_no_shift_helps_none_is_proposed() -> None:
    laid = river()
    assert proposed_shift(laid, [plate(0, 0, 1100, 700)]) is None
    assert proposed_shift(laid, []) == (0.0, 0.0)


@settings(max_examples=25, deadline=None)
@given(st.floats(-500, 500), st.floats(-400, 400), st.floats(0, 180))
def test_whatever_is_proposed_lands_all_in_wood(x: float, y: float, turn: float) -> None:
    laid = river()
    plates = [Plate("plate", x, y, 160, 60, turn), Plate("insert", x + 60, y, 20, 20)]
    shift = proposed_shift(laid, plates)
    if shift is not None:
        moved = [
            Plate(p.kind, p.x_mm + shift[0], p.y_mm + shift[1], p.length_mm, p.width_mm, p.turn_deg)
            for p in plates
        ]
        assert all(ground.holds for ground in grounds(laid, moved))


def test_a_record_gives_the_plate_back() -> None:
    one = Plate("plate", 10.5, -20, 200, 80, 15)
    assert Plate.from_record(one.record()) == one
