"""The scale of a picture: against the picture library, and against a camera that is known."""

from __future__ import annotations

import json

import cv2
import numpy as np
import pytest

from inventory.photos.problems import Problem, Trouble
from inventory.photos.scale import (
    Basis,
    Floats,
    Scale,
    cautions,
    compare_length,
    from_record,
    homography,
    mapped,
    scale_from_rectangle,
    scale_from_two_points,
    upright,
)
from tests.bench.photographs import Camera

SIZE = (3000, 2000)


def camera(tilt_deg: float = 20.0, towards_deg: float = 35.0) -> Camera:
    axis = np.radians(tilt_deg) * np.array(
        [np.cos(np.radians(towards_deg)), np.sin(np.radians(towards_deg)), 0.0]
    )
    turn = np.asarray(cv2.Rodrigues(axis)[0], dtype=np.float64)
    return Camera(turn, np.array([900.0, 0.0, 0.0]) - 2600 * turn[2], 2200.0, SIZE, 0.0)


def seen_by(eye: Camera, z_mm: float = 0.0) -> Scale:
    inner = np.array([[2200.0, 0, 1499.5], [0, 2200.0, 999.5], [0, 0, 1]])
    to_px = inner @ eye.plane(z_mm)
    return Scale(to_px / to_px[2, 2], Basis.SHEETS, SIZE)


def square(x: float, y: float, side: float) -> Floats:
    return np.array([(x, y), (x + side, y), (x + side, y + side), (x, y + side)])


def test_a_homography_of_four_points_is_the_picture_librarys() -> None:
    corners = np.array([(100, 80), (900, 120), (860, 700), (60, 640)], dtype=np.float64)
    theirs = cv2.getPerspectiveTransform(
        square(0, 0, 500).astype(np.float32), corners.astype(np.float32)
    )
    assert homography(square(0, 0, 500), corners) == pytest.approx(theirs, rel=1e-5, abs=1e-7)


def test_points_on_one_line_settle_nothing() -> None:
    line = [(0, 0), (10, 10), (20, 20), (30, 30)]
    with pytest.raises(ValueError, match="one line"):
        homography(line, line)


@pytest.mark.parametrize("is_reversed", [False, True])
def test_a_known_rectangle_gives_true_lengths_anywhere(is_reversed: bool) -> None:
    eye = camera()
    sides = np.array([(300, -200), (1500, -200), (1500, 180), (300, 180)])
    if is_reversed:
        sides = sides[[1, 0, 3, 2]]
    clicked = [(float(x), float(y)) for x, y in eye.px(sides)]
    scale = scale_from_rectangle(clicked, 1200, 380, SIZE)
    assert isinstance(scale, Scale)
    far = scale.mm(eye.px([(-200, 300), (2100, -350)]))
    assert np.linalg.norm(far[1] - far[0]) == pytest.approx(np.hypot(2300, 650), rel=1e-9)


def test_millimetres_lie_along_the_pictures_rows_and_are_not_mirrored() -> None:
    scale = upright(seen_by(camera()))
    here, along, down = scale.mm([(1499, 999), (1519, 999), (1499, 1019)])
    assert (along - here)[1] == pytest.approx(0, abs=1e-2)
    assert (along - here)[0] > 0
    assert (down - here)[1] > 0


def test_corners_out_of_order_are_refused() -> None:
    told = scale_from_rectangle([(0, 0), (900, 900), (900, 0), (0, 900)], 500, 500, SIZE)
    assert isinstance(told, Problem)
    assert told.trouble is Trouble.BAD_CORNERS


def test_a_rectangle_of_a_few_pixels_is_refused() -> None:
    told = scale_from_rectangle([(0, 0), (30, 0), (30, 30), (0, 30)], 500, 500, SIZE)
    assert isinstance(told, Problem)
    assert told.stops


def test_two_points_give_scale_alone_and_say_so() -> None:
    scale = scale_from_two_points((100, 100), (1300, 1000), 1000, SIZE)
    assert isinstance(scale, Scale)
    assert scale.px_per_mm() == pytest.approx(1.5)
    assert [told.trouble for told in cautions(scale)] == [Trouble.SCALE_ONLY]


def test_two_points_on_one_place_are_refused() -> None:
    told = scale_from_two_points((100, 100), (101, 100), 1000, SIZE)
    assert isinstance(told, Problem)


@pytest.mark.parametrize("tilt_deg", [0.0, 9.0, 15.0, 31.0])
def test_the_tilt_is_the_cameras_when_its_focal_length_is_known(tilt_deg: float) -> None:
    assert seen_by(camera(tilt_deg)).tilt_deg(2200.0) == pytest.approx(tilt_deg, abs=1e-5)


@pytest.mark.parametrize(("tilt_deg", "is_said"), [(10.0, False), (24.0, True)])
def test_a_tilt_beyond_15_degrees_is_said(tilt_deg: float, is_said: bool) -> None:
    told = [problem.trouble for problem in cautions(seen_by(camera(tilt_deg)))]
    assert (Trouble.TILTED in told) is is_said


def test_a_scale_carried_up_by_the_thickness_is_that_of_the_face() -> None:
    eye = camera(12.0)
    floor, face = seen_by(eye, 60.0), seen_by(eye, 0.0)
    carried = floor.raised(60.0, focal_px=2200.0)
    places = np.array([(0.0, -300.0), (1800.0, 300.0), (900.0, 0.0)])
    assert carried.px(places) == pytest.approx(face.px(places), abs=1e-6)
    assert carried.raised_mm == 60.0


def test_a_floor_sheet_under_a_60_mm_slab_misreads_area_by_about_5_per_cent() -> None:
    eye = camera(0.0)
    face = eye.px(square(500, -400, 800))
    wrong = seen_by(eye, 60.0).mm(face)
    # The camera is 2,600 mm above the face: sides come out 2,660 / 2,600 as long.
    assert np.ptp(wrong[:, 0]) / 800 == pytest.approx(2660 / 2600, rel=1e-9)
    assert np.ptp(wrong[:, 0]) * np.ptp(wrong[:, 1]) / 800**2 == pytest.approx(1.047, abs=0.001)


@pytest.mark.parametrize(
    ("measured", "taped", "is_said"),
    [(2030.0, 2000.0, False), (2031.0, 2000.0, True), (1969.0, 2000.0, True)],
)
def test_a_taped_length_over_one_and_a_half_per_cent_off_is_said(
    measured: float, taped: float, is_said: bool
) -> None:
    assert (compare_length(measured, taped) is not None) is is_said


def test_a_scale_comes_back_from_its_record() -> None:
    scale = Scale(
        seen_by(camera()).to_px, Basis.SHEETS, SIZE, (), 0.1, np.diag(np.arange(1.0, 9.0))
    )
    again = from_record(json.loads(json.dumps(scale.record())))
    assert again.to_px == pytest.approx(scale.to_px)
    assert again.covariance == pytest.approx(scale.covariance)
    assert (again.basis, again.picture_px) == (scale.basis, scale.picture_px)


def test_there_and_back_is_the_same_place() -> None:
    scale = seen_by(camera(28.0))
    places = np.array([(0.0, 0.0), (2000.0, -300.0)])
    assert scale.mm(scale.px(places)) == pytest.approx(places, abs=1e-6)
    assert mapped(np.eye(3), places) == pytest.approx(places)
