"""The outline of an invented slab lies on the slab its picture shows."""

import numpy as np
import pytest
from PIL import Image, ImageDraw
from shapely import Polygon

from catalogue.demo import mark
from inventory.demo.frame import face_frame, px_per_m_for, span_of
from inventory.demo.picture import draw_face
from inventory.demo.shape import make_shape
from inventory.demo.slab import slab_and_mask
from inventory.demo.source import load_source
from inventory.demo.traced import true_face

LOOK = load_source(mark.FIXTURES).looks["Walnut, black"]
LONG_PX = 900


def filled(ring_px: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    picture = Image.new("1", size)
    ImageDraw.Draw(picture).polygon(ring_px.ravel().tolist(), fill=1)
    return np.asarray(picture)


@pytest.mark.parametrize("crotch", [False, True])
def test_with_its_bark_the_ring_is_what_stands_out_from_the_floor(crotch: bool) -> None:
    shape = make_shape(41, 2300.0, 620.0, crotch=crotch)
    face = true_face(shape, LOOK, LONG_PX, with_bark=True)
    frame = face_frame(shape, px_per_m_for(shape, LONG_PX))
    rows, columns = span_of(shape, frame)
    _, mask = slab_and_mask(
        shape, LOOK, frame.cropped(rows, columns), shape.seed, frozenset({"plain"}), wet=False
    )
    seen = np.zeros((frame.height_px, frame.width_px), dtype=bool)
    seen[rows[0] : rows[1], columns[0] : columns[1]] = np.asarray(mask) > 127
    drawn = filled(face.ring_px, face.picture_px)
    # Only the pixels on the line itself may differ: one either side of it, all round.
    assert np.count_nonzero(seen ^ drawn) < 1.2 * Polygon(face.ring_px).length
    assert face.bark_mm > 1.5


def test_without_bark_it_is_as_wide_as_the_slab_was_taped() -> None:
    shape = make_shape(43, 2300.0, 620.0)
    face = true_face(shape, LOOK, LONG_PX)
    px_per_mm = (face.picture_px[0] - 1) / face.picture_mm[0]
    area_mm2 = Polygon(face.ring_px).area / px_per_mm**2
    taped_mm2 = np.trapezoid(shape.upper_mm - shape.lower_mm, shape.x_mm)
    assert area_mm2 == pytest.approx(taped_mm2, rel=0.01)
    assert np.ptp(face.ring_px[:, 0]) / px_per_mm == pytest.approx(shape.length_mm, rel=0.015)


def test_a_voids_middle_is_dark_in_the_picture_and_outside_the_wood() -> None:
    seeds = (seed for seed in range(200) if make_shape(seed, 2300.0, 620.0).voids_mm)
    shape = make_shape(next(seeds), 2300.0, 620.0)
    face = true_face(shape, LOOK, LONG_PX)
    picture = draw_face(
        shape, LOOK, seed=shape.seed, px_per_m=px_per_m_for(shape, LONG_PX)
    ).convert("L")
    (hole,) = face.holes_px
    x, y = hole.mean(axis=0).round().astype(int)
    around = np.asarray(picture)[int(face.ring_px[:, 1].min()) : int(face.ring_px[:, 1].max())]
    assert picture.getpixel((int(x), int(y))) < 0.5 * np.median(around)
    assert picture.size == face.picture_px


def test_turned_over_it_is_the_same_face_upside_down() -> None:
    shape = make_shape(47, 2300.0, 620.0)
    face = true_face(shape, LOOK, LONG_PX)
    other = true_face(shape, LOOK, LONG_PX, is_turned_over=True)
    assert Polygon(other.ring_px).area == pytest.approx(Polygon(face.ring_px).area)
    flipped = face.ring_px * (1, -1) + (0, face.picture_px[1] - 1)
    assert np.allclose(other.ring_px, flipped)
