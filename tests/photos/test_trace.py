"""An outline judged before it is saved."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.photos.problems import Trouble
from inventory.photos.scale import Floats
from inventory.photos.trace import Judged, TypedSizes, carried, judge

BOARD = np.array([(0, 0), (2000, 0), (2000, 500), (0, 500)], dtype=np.float64)
# A trapezoid: 2,000 long, 600 wide at its first end, 400 at its last.
TAPER = np.array([(0, -300), (2000, -200), (2000, 200), (0, 300)], dtype=np.float64)


def turned(points: Floats, degrees: float, x: float = 0.0, y: float = 0.0) -> Floats:
    angle = np.radians(degrees)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return np.asarray(points @ turn.T + (x, y))


def troubles(judged: Judged) -> list[Trouble]:
    return [problem.trouble for problem in judged.problems]


@given(st.floats(-44, 44), st.floats(-3000, 3000), st.floats(-3000, 3000))
def test_however_a_board_lies_in_the_picture_its_sizes_are_the_same(
    degrees: float, x: float, y: float
) -> None:
    judged = judge(turned(BOARD, degrees, x, y))
    assert judged.length_mm == pytest.approx(2000)
    assert judged.least_width_mm == pytest.approx(500)
    assert judged.greatest_width_mm == pytest.approx(500)
    assert judged.area_mm2 == pytest.approx(1_000_000)
    assert judged.outline_mm[:, 0].min() == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize("degrees", [0.0, 20.0, -35.0])
def test_the_first_end_is_the_one_at_the_pictures_left(degrees: float) -> None:
    outline = judge(turned(TAPER, degrees)).outline_mm
    first = outline[outline[:, 0] < 200]
    assert np.ptp(first[:, 1]) > 500


def test_an_upright_slab_begins_at_its_upper_end() -> None:
    outline = judge(turned(TAPER, 90)).outline_mm
    assert np.ptp(outline[outline[:, 0] < 200][:, 1]) > 500


def test_a_taper_has_its_widths_between_the_ends() -> None:
    judged = judge(TAPER)
    # 3 % in from either end: 600 − 0.03 × 200 and 400 + 0.03 × 200.
    assert judged.greatest_width_mm == pytest.approx(594)
    assert judged.least_width_mm == pytest.approx(406)


def test_the_way_to_the_slabs_own_place_is_kept_with_it() -> None:
    drawn = turned(TAPER, 25, 700, -300)
    judged = judge(drawn)
    assert sorted(map(tuple, carried(judged.to_slab, drawn).round(6))) == sorted(
        map(tuple, judged.outline_mm.round(6))
    )


def test_what_lies_higher_in_the_picture_has_the_greater_y() -> None:
    # A corner cut off the upper right, where x runs right and y down.
    drawn = np.array([(0, 0), (1700, 0), (2000, 200), (2000, 600), (0, 600)], dtype=float)
    judged = judge(drawn)
    corner = carried(judged.to_slab, [(2000.0, 600.0), (1700.0, 0.0)])
    # The cut corner turns it by half a degree or so.
    assert corner == pytest.approx(np.array([(2000.0, -300.0), (1700.0, 300.0)]), abs=20.0)
    x, y = judged.outline_mm.T
    assert np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) > 0  # counter-clockwise


@pytest.mark.parametrize("turn_deg", [-70, -33, -8, 5, 21, 60])
def test_a_wavy_slab_lies_the_same_however_it_lay_in_the_picture(turn_deg: float) -> None:
    x = np.linspace(0.0, 2400.0, 60)
    upper = np.column_stack([x, -300 - 60 * np.sin(x / 200) - 500 * np.exp(-x / 500)])
    lower = np.column_stack([x, 280 + 50 * np.cos(x / 330)])[::-1]
    drawn = np.vstack([upper, lower])
    straight, turned_so = judge(drawn), judge(turned(drawn, turn_deg))
    assert turned_so.length_mm == pytest.approx(straight.length_mm, abs=0.5)
    assert turned_so.greatest_width_mm == pytest.approx(straight.greatest_width_mm, abs=0.5)
    assert turned_so.outline_mm == pytest.approx(straight.outline_mm, abs=1.0)
    # Level: its middle is at one height by either end's half.
    x, y = straight.outline_mm.T
    ends = [np.ptp(y[part]) / 2 + y[part].min() for part in (x < 250, x > 2150)]
    assert abs(ends[0] - ends[1]) < 60.0


def test_points_may_go_round_either_way_and_repeat() -> None:
    once = judge(BOARD).outline_mm
    again = judge(np.repeat(BOARD[::-1], 2, axis=0)).outline_mm
    assert {tuple(p) for p in once.round(6)} == {tuple(p) for p in again.round(6)}


@pytest.mark.parametrize("points", [BOARD[:2], np.zeros((5, 2)), BOARD * np.nan, BOARD * (1, 0)])
def test_what_is_no_shape_is_refused(points: Floats) -> None:
    judged = judge(points)
    assert judged.is_refused
    assert troubles(judged) == [Trouble.NO_OUTLINE]
    assert not len(judged.outline_mm)


def test_an_outline_that_crosses_itself_in_the_middle_is_refused() -> None:
    judged = judge(BOARD[[0, 2, 1, 3]])
    assert judged.is_refused
    assert troubles(judged) == [Trouble.CROSSING]


def test_a_crossing_by_a_hair_is_mended_and_said() -> None:
    slipped = np.insert(BOARD, 2, [(2000, 255), (2010, 245), (1990, 245), (2000, 262)], axis=0)
    judged = judge(slipped)
    assert troubles(judged) == [Trouble.MENDED]
    assert judged.area_mm2 == pytest.approx(1_000_000, rel=0.001)


def square(x: float, y: float, side: float) -> Floats:
    return np.array([(x, y), (x + side, y), (x + side, y + side), (x, y + side)])


def test_holes_are_taken_off_the_area_and_turned_with_the_slab() -> None:
    judged = judge(BOARD, [square(300, 200, 100), square(900, 100, 50)])
    assert judged.area_mm2 == pytest.approx(1_000_000 - 10_000 - 2_500)
    assert len(judged.holes_mm) == 2
    assert not judged.problems


def test_holes_that_touch_become_one() -> None:
    judged = judge(BOARD, [square(300, 200, 100), square(350, 200, 100)])
    assert len(judged.holes_mm) == 1
    assert judged.area_mm2 == pytest.approx(1_000_000 - 15_000)


@pytest.mark.parametrize("hole", [square(-50, 200, 100), square(5000, 0, 50)])
def test_a_hole_over_the_edge_is_refused(hole: Floats) -> None:
    judged = judge(BOARD, [hole])
    assert judged.is_refused
    assert "Hole 1" in str(judged.problems[0])


def test_a_hole_that_crosses_itself_is_refused() -> None:
    assert judge(BOARD, [square(300, 200, 100)[[0, 2, 1, 3]]]).is_refused


def test_what_the_tape_says_is_compared() -> None:
    typed = TypedSizes(length_mm=1940, least_width_mm=505, greatest_width_mm=560)
    judged = judge(BOARD, typed=typed)
    assert troubles(judged) == [Trouble.LENGTH, Trouble.WIDTH]
    assert "3.1 % longer" in str(judged.problems[0])
    assert "560 mm" in str(judged.problems[1])
    assert not judged.is_refused


def test_sizes_that_agree_are_left_alone() -> None:
    assert not judge(BOARD, typed=TypedSizes(1990, 495, 508)).problems


@pytest.mark.parametrize("share", [0.02, 20.0])
def test_a_slab_of_no_likely_size_is_refused(share: float) -> None:
    judged = judge(BOARD * share)
    assert judged.is_refused
    assert troubles(judged) == [Trouble.UNLIKELY]


def test_a_slipped_point_that_all_but_parts_the_slab_is_asked_about() -> None:
    slipped = np.insert(BOARD, 1, [(1000, 460)], axis=0)
    assert Trouble.UNLIKELY in troubles(judge(slipped))
