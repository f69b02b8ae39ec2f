"""Two neighbours opened like a book: exact halves."""

import pytest

from catalogue.layout import bookmatch
from catalogue.layout.tops import Top
from tests.catalogue.layout.test_pairs import plank


def test_two_planks_give_half_each() -> None:
    """Exact: 400 mm less 3 mm straightened leave 397 mm for half of 700: 47 mm to spare."""
    laid = bookmatch.lay(Top("rectangle", 2000, 700), plank(2200, 400), plank(2200, 420))
    assert laid.fits
    assert laid.margin_mm == pytest.approx(47, abs=0.01)
    assert [part.area for part in laid.wood] == pytest.approx([350 * 2000] * 2)


def test_what_each_half_misses_is_said() -> None:
    laid = bookmatch.lay(Top("rectangle", 2000, 900), plank(2200, 400), plank(2200, 420))
    assert not laid.fits
    assert laid.margin_mm == pytest.approx(397 - 450, abs=0.01)
