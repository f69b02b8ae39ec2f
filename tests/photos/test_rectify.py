"""A photograph straightened: places fall where the scale says, at the scale asked for."""

from __future__ import annotations

import numpy as np
import pytest

from inventory.photos.marks import find_marks, scale_from_sheets
from inventory.photos.rectify import Window, around, rectify, whole_picture
from inventory.photos.scale import Basis, Scale
from inventory.photos.sheet import MARK_MM
from tests.bench.photographs import Shot, photograph


def test_marks_are_square_and_true_to_size_in_the_straightened_picture() -> None:
    picture = photograph(Shot(510, 24.0, size_px=(2000, 1500)))
    scale = scale_from_sheets(picture.pixels).scale
    assert scale is not None
    window = around(np.vstack([sheet.paper_mm() for sheet in scale.sheets]), 30)
    straight = rectify(picture.pixels, scale, 1.0, window)
    assert straight.pixels.shape[:2] == (np.ceil(window.height_mm), np.ceil(window.width_mm))
    was, now = find_marks(picture.pixels), find_marks(straight.pixels)
    assert len(now) >= 10
    for number, corners in now.items():
        places = straight.mm(corners)
        assert np.abs(places - scale.mm(was[number])).max() < 0.8
        sides = np.linalg.norm(np.roll(places, -1, axis=0) - places, axis=1)
        assert sides == pytest.approx(np.full(4, MARK_MM), abs=1.2)


def test_a_pixel_of_the_straightened_picture_is_the_place_it_shows() -> None:
    ramp = np.tile(np.arange(200, dtype=np.uint8)[None, :, None], (100, 1, 3))
    scale = Scale(np.diag([2.0, 2.0, 1.0]), Basis.TWO_POINTS, (200, 100))
    straight = rectify(ramp, scale, 2.0, Window(20.0, 10.0, 40.0, 20.0))
    x_mm = straight.mm([(10, 5)])[0, 0]
    assert straight.pixels[5, 10, 0] == pytest.approx(2 * x_mm, abs=0.6)
    assert straight.px(straight.mm([(10, 5)])) == pytest.approx(np.array([[10.0, 5.0]]))


def test_a_reduced_picture_keeps_its_places() -> None:
    ramp = np.tile(np.arange(240, dtype=np.uint8)[None, :, None], (120, 1, 3))
    scale = Scale(np.diag([2.0, 2.0, 1.0]), Basis.TWO_POINTS, (240, 120))
    straight = rectify(ramp, scale, 0.5, Window(10.0, 5.0, 80.0, 40.0))
    x_mm = straight.mm([(20, 10)])[0, 0]
    assert straight.pixels[10, 20, 0] == pytest.approx(2 * x_mm, abs=1.0)


def test_the_whole_picture_is_its_own_window_when_nothing_is_tilted() -> None:
    scale = Scale(np.diag([2.0, 2.0, 1.0]), Basis.TWO_POINTS, (401, 201))
    assert whole_picture(scale) == Window(0.0, 0.0, 200.0, 100.0)


def test_a_picture_too_large_to_hold_is_refused() -> None:
    scale = Scale(np.diag([2.0, 2.0, 1.0]), Basis.TWO_POINTS, (400, 200))
    with pytest.raises(ValueError, match="too large"):
        rectify(np.zeros((200, 400, 3), np.uint8), scale, 1000.0)
