"""Pictures taken wrongly on purpose, and what has to be said of each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from inventory.demo.shape import DemoShape
from inventory.photos.lying import look_over
from inventory.photos.marks import scale_from_sheets
from inventory.photos.problems import Problem, Trouble
from tests.bench.photographs import (
    Photograph,
    SheetLaid,
    Shot,
    one_sheet,
    photograph,
    shape_of,
    two_sheets,
)

SIZE_PX = (2000, 1500)
SMALL_PX = (1440, 1080)


def one_on_the_floor(seed: int) -> Shot:
    shape = shape_of(seed)
    first, second = _two(shape, seed)
    return _shot(seed, (first, _beside(shape, second)), tilt_deg=6)


def all_on_the_floor(seed: int) -> Shot:
    shape = shape_of(seed)
    return _shot(seed, tuple(_beside(shape, sheet) for sheet in _two(shape, seed)), tilt_deg=6)


def bent(seed: int) -> Shot:
    return _shot(seed, (replace(one_sheet(shape_of(seed))[0], bow_mm=18.0),), tilt_deg=10)


def bent_square_on(seed: int) -> Shot:
    """In a small picture, where the marks' corners hardly stray from a plane."""
    shot = _shot(seed, (replace(one_sheet(shape_of(seed))[0], bow_mm=18.0),))
    return replace(shot, size_px=SMALL_PX)


def one_bent(seed: int) -> Shot:
    first, second = _two(shape_of(seed), seed)
    return _shot(seed, (first, replace(second, bow_mm=18.0)), tilt_deg=10)


def printed_two_sizes(seed: int) -> Shot:
    first, second = _two(shape_of(seed), seed)
    return _shot(seed, (first, replace(second, print_share=0.95)), tilt_deg=4)


def half_out_of_frame(seed: int) -> Shot:
    return _shot(seed, two_sheets(shape_of(seed), _rng(seed)), aside=0.42)


def no_sheet(seed: int) -> Shot:
    return _shot(seed, ())


def glare(seed: int) -> Shot:
    return _shot(seed, one_sheet(shape_of(seed)), glare_on=1)


def steep(seed: int) -> Shot:
    return _shot(seed, _two(shape_of(seed), seed), tilt_deg=32)


def far_away(seed: int) -> Shot:
    return replace(_shot(seed, one_sheet(shape_of(seed)), fill=0.5), size_px=(1200, 900))


T = Trouble
BAD: dict[Callable[[int], Shot], frozenset[Trouble]] = {
    one_on_the_floor: frozenset({T.DISAGREE}),
    all_on_the_floor: frozenset({T.OFF_SLAB}),
    bent: frozenset({T.BENT}),
    bent_square_on: frozenset({T.BENT}),
    one_bent: frozenset({T.BENT, T.DISAGREE}),
    printed_two_sizes: frozenset({T.DISAGREE}),
    half_out_of_frame: frozenset({T.CUT_OFF}),
    no_sheet: frozenset({T.NO_SHEET}),
    glare: frozenset({T.FEW_MARKS, T.NO_SHEET}),
    steep: frozenset({T.TILTED}),
    far_away: frozenset({T.MARKS_SMALL, T.NO_SHEET}),
}
"""Each kind of bad picture, and the problems of which at least one must be named."""


def told_of(picture: Photograph) -> tuple[Problem, ...]:
    """Everything the person hears about a picture, whose outline is traced where it is seen."""
    reading = scale_from_sheets(picture.pixels)
    if reading.scale is None:
        return reading.problems
    width, height = picture.camera.size_px
    seen = picture.camera.px(picture.slab_mm).clip(0, (width - 1, height - 1))
    return (*reading.problems, *look_over(reading.scale, reading.scale.mm(seen)))


def bad_picture(kind: Callable[[int], Shot], seed: int, *, is_small: bool = False) -> Photograph:
    """A picture of that kind; a small one is drawn in half the time and shows no less wrong."""
    shot = kind(seed)
    if is_small and shot.size_px == SIZE_PX:
        shot = replace(shot, size_px=SMALL_PX)
    return photograph(shot)


def _shot(
    seed: int,
    sheets: tuple[SheetLaid, ...],
    *,
    tilt_deg: float = 0.0,
    aside: float = 0.0,
    glare_on: int | None = None,
    fill: float = 0.86,
) -> Shot:
    return Shot(
        seed,
        tilt_deg,
        SIZE_PX,
        sheets=sheets,
        aside=aside,
        glare_on=glare_on,
        fill=fill,
    )


def _rng(seed: int) -> np.random.Generator:
    return np.random.default_rng([seed, 8])


def _two(shape: DemoShape, seed: int) -> tuple[SheetLaid, SheetLaid]:
    first, second = two_sheets(shape, _rng(seed))
    return first, second


def _beside(shape: DemoShape, sheet: SheetLaid) -> SheetLaid:
    """The sheet moved to the floor, clear of the slab's lower edge and its shadow."""
    y = -float(shape.lower_mm.min()) + 190
    return replace(sheet, y_mm=y, above_mm=-shape.thickness_mm)
