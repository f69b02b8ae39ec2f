"""Lines straight across rings against shapely, which cuts them by its own code."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

from inventory.wood import sections

angles = st.lists(st.floats(0.05, 1.0), min_size=5, max_size=30)


@settings(max_examples=60, deadline=None)
@given(angles, st.floats(0.2, 0.9))
def test_wood_across_is_what_shapely_cuts(radii: list[float], hole_share: float) -> None:
    turn = np.linspace(0, 2 * np.pi, len(radii), endpoint=False) + 0.1
    ring = 500 * np.column_stack([np.cos(turn), np.sin(turn)]) * np.array(radii)[:, None]
    star = Polygon(ring, [0.5 * hole_share * ring])
    low, _, high, _ = star.bounds
    places = np.linspace(low, high, 41)[1:-1] + 1e-4
    rings = [shapely.get_coordinates(part) for part in (star.exterior, *star.interiors)]
    lines = shapely.linestrings([[(x, -600), (x, 600)] for x in places])
    cuts = shapely.intersection(lines, star)
    assert sections.inside(rings, places) == pytest.approx(shapely.length(cuts), abs=1e-6)
    bounds = shapely.bounds(cuts)
    least, most = sections.outermost(rings[:1], places)
    assert least == pytest.approx(bounds[:, 1], abs=1e-6)
    assert most == pytest.approx(bounds[:, 3], abs=1e-6)


def test_corners_on_a_line_are_counted_once() -> None:
    # A rhombus met at its very corners: exact widths 0 … 200 … 0.
    ring = np.array([(0, 0), (100, -100), (200, 0), (100, 100), (0, 0)], dtype=float)
    assert sections.inside([ring], np.array([0.0, 50.0, 100.0, 150.0])) == pytest.approx(
        [0, 100, 200, 100]
    )


def test_bins_that_are_left_over_are_left_out() -> None:
    assert sections.borders(5.0, 47.0, 10.0) == pytest.approx([5, 15, 25, 35, 45])
    assert sections.borders(5.0, 9.0, 10.0) == pytest.approx([5, 15])
