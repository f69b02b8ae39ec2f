"""The quick look over many slabs: near what exact geometry says, and on the safe side."""

from collections.abc import Callable

import numpy as np
import pytest

from catalogue.layout import quick
from catalogue.layout.single import best_fit
from catalogue.layout.tops import Top
from inventory.wood.shape import Shape
from tests.catalogue.layout.shapes import KINDS, board, wavy

SHAPES = [wavy(seed, half_mm=280.0 + 5.0 * (seed - 800)) for seed in range(800, 830)]
TOPS = [
    Top("rectangle", 1500, 600),
    Top("rectangle", 2200, 500),
    Top("oval", 1700, 700),
    Top("boat", 1900, 640, end_width_mm=440),
    Top("rounded", 1500, 620, corner_mm=90),
]


@pytest.mark.parametrize("top", TOPS, ids=lambda top: top.shape + str(int(top.length_mm)))
def test_no_slab_that_fits_is_passed_over(top: Top) -> None:
    spare = quick.spare_mm(top, [shape.profile_mm for shape in SHAPES])
    exact = np.array([best_fit(top, shape).margin_mm for shape in SHAPES])
    # Never passed over: what fits by exact geometry is at worst NEAR_MM short by the quick look.
    assert (spare[exact >= 0] >= -quick.NEAR_MM).all()
    # And it is of use: what misses by twice that is not let through.
    misses = exact < -2.5 * quick.NEAR_MM
    assert misses.sum() >= 2
    assert (spare[misses] < -quick.NEAR_MM).mean() > 0.9


@pytest.mark.parametrize("kind", KINDS[:5], ids=lambda kind: str(kind.__name__))
@pytest.mark.parametrize("length_mm", [700.0, 1500.0, 2300.0])
def test_no_slab_is_passed_over_by_a_top_that_only_just_fits(
    kind: Callable[[int], Shape], length_mm: float
) -> None:
    fits = 0
    for seed in range(870, 874):
        shape = kind(seed)
        for name in ("rectangle", "rounded", "oval", "boat"):
            width = min(400.0, length_mm / 2)
            for _ in range(4):
                top = Top(name, length_mm, width, corner_mm=width / 5, end_width_mm=width * 0.7)
                margin = best_fit(top, shape).margin_mm
                if margin >= 0:
                    fits += 1
                    (spare,) = quick.spare_mm(top, [shape.profile_mm])
                    assert spare >= -quick.NEAR_MM, (seed, top)
                # Nearer to the limit, from whichever side.
                width = max(80.0, min(width + 1.9 * margin, length_mm))
    assert fits > 20


def test_a_board_is_known_to_a_step() -> None:
    (spare,) = quick.spare_mm(Top("rectangle", 1000, 300), [board(2000, 400).profile_mm])
    assert spare == pytest.approx(50.0, abs=1.0)


def test_a_slab_much_too_short_is_out_and_one_a_little_short_is_near() -> None:
    top = Top("rectangle", 2000, 300)
    short, near, none = quick.spare_mm(
        top, [board(900, 400).profile_mm, board(1990, 400).profile_mm, board(150, 80).profile_mm]
    )
    assert short < -200
    assert -quick.NEAR_MM < near < quick.NEAR_MM
    assert none < -200


def test_one_or_many_say_the_same() -> None:
    profiles = [shape.profile_mm for shape in SHAPES]
    many = quick.spare_mm(TOPS[0], profiles)
    assert many == pytest.approx([quick.spare_mm(TOPS[0], [one])[0] for one in profiles])
    assert len(quick.spare_mm(TOPS[0], [])) == 0
