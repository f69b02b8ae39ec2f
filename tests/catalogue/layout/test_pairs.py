"""Two slabs with resin between: known gaps, and what turning and swapping must not change."""

import pytest

from catalogue.layout import pairs
from catalogue.layout.tops import Top
from inventory.wood.outline import WidthAt
from inventory.wood.shape import Shape, face_of_widths, shape_of


def plank(length_mm: float, width_mm: float) -> Shape:
    return shape_of(face_of_widths(length_mm, [WidthAt(0.5, width_mm)]))


def test_straight_planks_leave_the_rest_to_resin() -> None:
    """Exact: two of 350 mm under a top of 800 leave 100 mm from end to end."""
    laid = pairs.lay_pair(Top("rectangle", 2000, 800), plank(2200, 350), plank(2300, 350))
    assert laid.gap_mm == pytest.approx((100, 100, 100), abs=0.01)
    assert laid.resin_mm2 == pytest.approx(100 * 2000, rel=1e-5)
    assert laid.margin_mm == pytest.approx(0.3 * 800 - 100, abs=0.01)


def test_wide_planks_stay_apart_by_the_least_gap() -> None:
    """Exact: 600 + 600 under 800 overlap, so the resin is 10 mm × the length."""
    laid = pairs.lay_pair(Top("rectangle", 2000, 800), plank(2200, 600), plank(2300, 600))
    assert laid.gap_mm == pytest.approx((10, 10, 10), abs=0.1)
    assert laid.resin_mm2 == pytest.approx(10 * 2000, rel=0.01)
