"""One slab with resin along it: strips of known width."""

import pytest

from catalogue.layout import sides
from catalogue.layout.tops import Top
from tests.catalogue.layout.test_pairs import plank


@pytest.mark.parametrize("which", ["one", "both", "best"])
def test_a_straight_plank_leaves_a_strip_of_known_width(which: sides.Which) -> None:
    """Exact: 600 mm of wood under 700 leave 100 mm of resin, in one strip or two."""
    laid = sides.lay(Top("rectangle", 2000, 700), plank(2200, 600), which)
    assert laid.resin_mm2 == pytest.approx(100 * 2000, rel=1e-6)
    assert laid.gap_mm == pytest.approx((100, 100, 100), abs=0.01)
    assert laid.margin_mm == pytest.approx(0.3 * 700 - 100, abs=0.01)
