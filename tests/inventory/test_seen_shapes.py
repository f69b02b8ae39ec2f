"""Shapes as drawings take them: turned, flipped and standing as one would turn the wood by hand."""

import re

import numpy as np
import pytest
import shapely
from shapely import Polygon

from inventory.models import ShapeBasis, Slab
from inventory.seen_shapes import SeenShape, posed, seen
from tests.factories import make_slab

# Longer above (y up) at its far end: no way of turning it looks like another.
WEDGE = Polygon([(0, -100), (1000, -100), (1000, 300), (600, 100), (0, 100)])
SHAPE = SeenShape(WEDGE, ShapeBasis.TRACED)


def corners(path: str) -> set[tuple[float, float]]:
    return {(float(x), float(y)) for x, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", path)}


# Middle across is y = 100, so in the drawing (y down) the peak lies 200 above the axis.
@pytest.mark.parametrize(
    ("ways", "peak", "heel"),
    [
        ({}, (1000, -200), (0, 200)),
        ({"is_flipped": True}, (1000, 200), (0, -200)),
        ({"is_turned": True}, (0, 200), (1000, -200)),
        ({"is_turned": True, "is_flipped": True}, (0, -200), (1000, 200)),
        # Standing: turned a quarter counter-clockwise, its first end at the foot.
        ({"is_standing": True}, (-200, -1000), (200, 0)),
        ({"is_standing": True, "is_turned": True}, (200, 0), (-200, -1000)),
    ],
)
def test_a_slab_is_turned_as_by_hand(
    ways: dict[str, bool], peak: tuple[float, float], heel: tuple[float, float]
) -> None:
    drawn = posed(SHAPE, **ways)
    assert {peak, heel} <= corners(drawn.path)
    assert shapely.box(*drawn.reach).area == pytest.approx(1000 * 400)


@pytest.mark.parametrize("ways", [{}, {"is_flipped": True}, {"is_standing": True}])
def test_the_picture_goes_where_the_outline_goes(ways: dict[str, bool]) -> None:
    drawn = posed(SHAPE, is_turned=True, **ways)
    a, b, c, d, e, f = (float(n) for n in re.findall(r"-?[\d.]+", drawn.matrix))
    in_picture = np.array([(x, -y) for x, y in WEDGE.exterior.coords])
    moved = in_picture @ np.array([[a, b], [c, d]]) + (e, f)
    assert {tuple(point) for point in moved.round(1)} == corners(drawn.path)


@pytest.mark.django_db
def test_widths_stand_in_where_nothing_was_traced() -> None:
    plain = make_slab(length_mm=1000.0, widths=[(0.0, 400.0), (1.0, 200.0)])
    three = make_slab(length_mm=1000.0, are_widths_unplaced=True)
    bare = Slab(length_mm=900.0, widths=[])
    found = seen([plain, three])
    assert found[plain.pk].wood.area == pytest.approx(300_000)
    assert "from three widths" in found[three.pk].words
    assert all(shape.is_approximate for shape in found.values())
    assert seen([bare]) == {}
