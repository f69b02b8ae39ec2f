"""Scale sheets read from a picture: exact corners, scattered ones, and real pictures."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from shapely import Polygon

from inventory.photos.marks import (
    SQUASHED,
    SQUASHED_BY_TILT_UNKNOWN,
    SURELY,
    SeenSheet,
    fit_together,
    is_bent,
    is_squashed,
    read_sheets,
    scale_from_sheets,
    sheets_in,
)
from inventory.photos.problems import Trouble
from inventory.photos.scale import Floats
from inventory.photos.sheet import BAR_MM, BLOCK_MM, Paper, geometry
from tests.bench.bad_pictures import BAD, bad_picture, told_of
from tests.bench.photographs import SheetLaid, Shot, photograph, shape_of, two_sheets
from tests.photos.test_scale import SIZE, camera, square

ON_FACE = (
    SheetLaid(1, 500, 10, 80),
    SheetLaid(2, 1300, -30, 15),
    SheetLaid(4, 900, 40, -60),
)


def corners_of(
    sheet: SheetLaid, rng: np.random.Generator, noise_px: float, tilt_deg: float
) -> dict[int, Floats]:
    """Where a known camera sees a sheet's marks, each corner off by some noise."""
    angle = np.radians(sheet.turn_deg)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    eye = camera(tilt_deg)
    seen = {}
    for mark in geometry(sheet.number).marks:
        flat = (mark.corners_mm - np.array(BLOCK_MM) / 2) * sheet.print_share
        bow = sheet.bow_mm * (1 - (2 * flat[:, 1] / Paper.A4.size_mm[1]) ** 2)
        place = np.column_stack([flat @ turn.T + (sheet.x_mm, sheet.y_mm), -sheet.above_mm - bow])
        seen[mark.id] = eye.px(place) + rng.normal(0, noise_px, (4, 2))
    return seen


def seen(
    *sheets: SheetLaid, noise_px: float = 0.0, tilt_deg: float = 20.0, seed: int = 0
) -> tuple[SeenSheet, ...]:
    rng = np.random.default_rng(seed)
    marks: dict[int, Floats] = {}
    for sheet in sheets:
        marks |= corners_of(sheet, rng, noise_px, tilt_deg)
    return sheets_in(marks)


def troubles(*sheets: SheetLaid, noise_px: float = 0.08, tilt_deg: float = 8.0) -> set[Trouble]:
    read = read_sheets(seen(*sheets, noise_px=noise_px, tilt_deg=tilt_deg), SIZE)
    return {problem.trouble for problem in read.problems}


@pytest.mark.parametrize("count", [1, 2, 3])
def test_exact_corners_give_exact_lengths_from_end_to_end(count: int) -> None:
    scale = read_sheets(seen(*ON_FACE[:count]), SIZE).scale
    assert scale is not None
    ends = scale.mm(camera().px([(-300, -200), (2100, 250)]))
    assert np.linalg.norm(ends[1] - ends[0]) == pytest.approx(np.hypot(2400, 450), rel=1e-6)
    assert scale.residual_px == pytest.approx(0, abs=1e-6)


def test_sheets_are_found_where_they_lie_to_one_another() -> None:
    scale = read_sheets(seen(*ON_FACE), SIZE).scale
    assert scale is not None
    middles = {sheet.number: np.array(sheet.middle_mm) for sheet in scale.sheets}
    assert np.linalg.norm(middles[1] - middles[2]) == pytest.approx(np.hypot(800, 40), rel=1e-6)
    paper = scale.sheets[0].paper_mm()
    assert Polygon(paper).area == pytest.approx(215.9 * 297)
    assert paper.mean(axis=0) == pytest.approx(np.array(scale.sheets[0].middle_mm))


def test_marks_drawn_in_by_blur_leave_the_scale_alone() -> None:
    upright_sheets = seen(SheetLaid(1, 500, 10), SheetLaid(2, 1300, -30), tilt_deg=0.0)
    blurred = [
        SeenSheet(s.number, s.marks, s.corners_mm, _drawn_in(s.corners_px)) for s in upright_sheets
    ]
    scale = read_sheets(blurred, SIZE).scale
    assert scale is not None
    ends = scale.mm(camera(0.0).px([(0, 0), (1800, 0)]))
    assert np.linalg.norm(ends[1] - ends[0]) == pytest.approx(1800, rel=1e-5)


def _drawn_in(corners_px: Floats) -> Floats:
    squares = corners_px.reshape(-1, 4, 2)
    inward = np.sign(squares.mean(axis=1, keepdims=True) - squares)
    return np.asarray((squares + 0.3 * inward).reshape(-1, 2))


def test_a_print_at_97_per_cent_does_no_harm_once_its_bar_is_measured() -> None:
    small = [SheetLaid(1, 500, 10, 80, print_share=0.97)]
    marks = corners_of(small[0], np.random.default_rng(0), 0.0, 20.0)
    scale = read_sheets(sheets_in(marks, 0.97), SIZE).scale
    assert scale is not None
    ends = scale.mm(camera().px([(0, 0), (1800, 0)]))
    assert np.linalg.norm(ends[1] - ends[0]) == pytest.approx(1800, rel=1e-6)


def test_the_spread_foretold_is_the_spread_found() -> None:
    slab = square(0, -400, 1800)
    truth = Polygon(slab).area
    off, foretold = [], []
    for seed in range(40):
        scale = read_sheets(seen(ON_FACE[0], noise_px=0.3, seed=seed), SIZE).scale
        assert scale is not None
        outline = camera().px(slab)
        off.append(100 * (Polygon(scale.mm(outline)).area / truth - 1))
        foretold.append(scale.area_spread_pct(outline))
    assert np.median(np.array(foretold, dtype=float)) == pytest.approx(np.std(off), rel=0.35)


def test_a_clean_picture_is_told_nothing() -> None:
    assert troubles(*ON_FACE) == set()


@pytest.mark.parametrize("other", [{"above_mm": -60.0}, {"print_share": 0.97}])
def test_of_two_sheets_that_disagree_neither_is_believed(other: dict[str, float]) -> None:
    assert troubles(ON_FACE[0], SheetLaid(2, 1300, -30, 15, **other)) == {Trouble.DISAGREE}


def test_of_three_the_one_at_another_height_is_left_out() -> None:
    read = read_sheets(
        seen(*ON_FACE[:2], SheetLaid(4, 900, 400, -60, above_mm=-60.0), noise_px=0.08), SIZE
    )
    assert read.scale is not None
    assert [sheet.number for sheet in read.scale.sheets] == [1, 2]
    assert "Sheet 4 does not agree" in " ".join(map(str, read.problems))


@pytest.mark.parametrize("bow_mm", [0.0, 15.0])
def test_a_bent_sheet_is_told_from_a_flat_one(bow_mm: float) -> None:
    (sheet,) = seen(SheetLaid(1, 500, 10, 80, bow_mm=bow_mm), noise_px=0.1, tilt_deg=12.0)
    assert is_bent(sheet) is (bow_mm > 0)


def arched(bow_mm: float, seed: int, stretch: float = 1.0) -> SeenSheet:
    """One sheet seen square on: bowed, its arc as long as the flat paper, or stretched one way."""
    rng = np.random.default_rng([611, seed])
    corners, px = [], []
    for mark in geometry(1).marks:
        flat = mark.corners_mm - np.array(BLOCK_MM) / 2
        length = Paper.A4.size_mm[1]
        chord = 1 - 8 / 3 * (bow_mm / length) ** 2  # exact to the fourth power of the bow
        lift = bow_mm * (1 - (2 * flat[:, 1] / length) ** 2)
        place = np.column_stack([flat[:, 0], flat[:, 1] * chord * stretch, -lift])
        corners.append(flat)
        px.append(camera(0.0).px(place + np.array([900.0, 0, 0])) + rng.normal(0, 0.08, (4, 2)))
    return SeenSheet(1, 6, np.vstack(corners), np.vstack(px))


@pytest.mark.parametrize("seed", range(5))
def test_a_bowed_sheet_square_on_is_named(seed: int) -> None:
    told = read_sheets([arched(18.0, seed)], SIZE).problems
    assert Trouble.BENT in {problem.trouble for problem in told}
    assert not read_sheets([arched(0.0, seed)], SIZE).problems


def test_a_print_stretched_one_way_is_named_and_its_scale_kept() -> None:
    read = read_sheets([arched(0.0, 9, stretch=0.985)], SIZE)
    assert [problem.trouble for problem in read.problems] == [Trouble.BENT]
    assert "1.5 % shorter one way" in read.problems[0].sentence
    assert read.scale is not None
    assert not read.problems[0].stops


@pytest.mark.parametrize("tilt_deg", [0.0, 10.0, 20.0, 30.0])
def test_tilt_and_a_lens_of_another_length_squash_no_flat_sheet(tilt_deg: float) -> None:
    exact = read_sheets(seen(ON_FACE[0], tilt_deg=tilt_deg), SIZE).scale
    assert exact is not None
    focal = camera(tilt_deg).focal_px
    # Exact: a plane seen through a known camera is a turned plane and nothing else.
    assert exact.squashed_by(focal) == pytest.approx(0, abs=1e-6)
    for seed in range(10):
        some = seen(ON_FACE[0], noise_px=0.15, tilt_deg=tilt_deg, seed=seed)
        scale = read_sheets(some, SIZE).scale
        assert scale is not None
        assert not is_squashed(scale)
        assert not is_squashed(scale, focal)
        for assumed in (0.9 * focal, 1.1 * focal):
            allowed = SQUASHED + SQUASHED_BY_TILT_UNKNOWN * np.sin(np.radians(tilt_deg)) ** 2
            spread = SURELY * scale.squash_spread(assumed)
            assert scale.squashed_by(assumed) < allowed + spread


def test_a_bent_sheet_beside_a_flat_one_is_not_used() -> None:
    read = read_sheets(
        seen(ON_FACE[0], SheetLaid(2, 1300, 0, 15, bow_mm=15.0), noise_px=0.08, tilt_deg=10), SIZE
    )
    assert read.scale is not None
    assert [sheet.number for sheet in read.scale.sheets] == [1]
    assert not any(problem.stops for problem in read.problems)


def test_one_mark_alone_is_not_enough() -> None:
    marks = corners_of(ON_FACE[0], np.random.default_rng(0), 0.0, 8.0)
    read = read_sheets(sheets_in({0: marks[0]}), SIZE)
    assert read.scale is None
    assert [(told.trouble, told.stops) for told in read.problems] == [(Trouble.FEW_MARKS, True)]


def test_three_marks_of_six_serve_and_are_said() -> None:
    marks = corners_of(ON_FACE[0], np.random.default_rng(0), 0.0, 8.0)
    read = read_sheets(sheets_in({id_: marks[id_] for id_ in (0, 3, 4)}), SIZE)
    assert read.scale is not None
    assert [told.trouble for told in read.problems] == [Trouble.FEW_MARKS]
    assert fit_together(sheets_in(marks)).residual_px == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize(("seed", "tilt_deg"), [(501, 0.0), (502, 15.0), (503, 30.0)])
def test_a_photograph_gives_the_true_area_of_a_known_outline(seed: int, tilt_deg: float) -> None:
    picture = photograph(Shot(seed, tilt_deg, size_px=(2000, 1500)))
    scale = scale_from_sheets(picture.pixels).scale
    assert scale is not None
    assert scale.residual_px is not None
    assert scale.residual_px < 0.15
    area = Polygon(scale.mm(picture.camera.px(picture.slab_mm))).area
    assert area == pytest.approx(Polygon(picture.slab_mm).area, rel=0.006)


def test_sheets_on_the_floor_are_put_right_by_the_thickness() -> None:
    shape = shape_of(504)
    h = shape.thickness_mm
    beside = tuple(
        SheetLaid(s.number, s.x_mm, -float(shape.lower_mm.min()) + 190, 90, above_mm=-h)
        for s in two_sheets(shape, np.random.default_rng(1))
    )
    picture = photograph(Shot(504, 6.0, size_px=(1600, 1200), sheets=beside))
    scale = scale_from_sheets(picture.pixels).scale
    assert scale is not None
    outline = picture.camera.px(picture.slab_mm)
    true = Polygon(picture.slab_mm).area
    assert Polygon(scale.mm(outline)).area / true > 1.025
    assert Polygon(scale.raised(h).mm(outline)).area / true == pytest.approx(1, abs=0.01)


@pytest.mark.parametrize("kind", BAD, ids=lambda kind: kind.__name__)
def test_a_bad_picture_is_named(kind: Callable[[int], Shot]) -> None:
    told = told_of(bad_picture(kind, 601, is_small=True))
    assert {problem.trouble for problem in told} & BAD[kind]
    assert all(problem.sentence.endswith(".") for problem in told)


def test_a_picture_of_nothing_has_no_sheet() -> None:
    read = scale_from_sheets(np.full((600, 800, 3), 120, dtype=np.uint8))
    assert read.scale is None
    assert [told.trouble for told in read.problems] == [Trouble.NO_SHEET]


def test_an_impossible_bar_is_refused_in_words() -> None:
    with pytest.raises(ValueError, match="measure it again"):
        scale_from_sheets(np.zeros((60, 80, 3), dtype=np.uint8), bar_measures_mm=BAR_MM / 2)
