"""A top's own shape: exact areas and widths, and nothing that is no number."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.layout.single import best_fit
from catalogue.layout.tops import Top
from tests.catalogue.layout.shapes import board

PLACES = np.linspace(-1.0, 1.0, 201)


def segment_mm2(chord_mm: float, sagitta_mm: float) -> float:
    """Exact geometry: R = (c² + s²) / 2s over half chord c; the sector less its triangle."""
    half = chord_mm / 2
    radius = (half**2 + sagitta_mm**2) / (2 * sagitta_mm)
    return float(radius**2 * np.arcsin(half / radius) - half * (radius - sagitta_mm))


@pytest.mark.parametrize(
    ("top", "area_mm2"),
    [
        (Top("rectangle", 1500, 600), 1500 * 600),
        (Top("round", 900, 900), np.pi * 450**2),
        (Top("oval", 1600, 700), np.pi * 800 * 350),
        # Exact: four corners lose (4 − π) r² between them.
        (Top("rounded", 1500, 600, corner_mm=100), 1500 * 600 - (4 - np.pi) * 100**2),
        # Exact: a rectangle as wide as the ends, and on either side the segment of a circle.
        (Top("boat", 1800, 700, end_width_mm=500), 1800 * 500 + 2 * segment_mm2(1800, 100)),
    ],
    ids=lambda value: value.shape if isinstance(value, Top) else "",
)
def test_the_area_is_known(top: Top, area_mm2: float) -> None:
    assert top.area_mm2 == pytest.approx(area_mm2, rel=1e-4)
    assert top.polygon.area == pytest.approx(area_mm2, rel=1e-4)


@given(
    st.sampled_from(["rectangle", "rounded", "oval", "boat"]),
    st.floats(300, 4000),
    st.floats(100, 1500),
    st.floats(0, 0.5),
    st.floats(0.1, 1.0),
)
def test_widths_are_numbers_between_nothing_and_the_width(
    kind: str, length: float, width: float, corner: float, end: float
) -> None:
    top = Top(kind, length, width, corner_mm=corner * width, end_width_mm=end * width)
    half = top.half_width_at(PLACES)
    assert np.isfinite(half).all()
    assert (half >= -1e-9).all()
    assert half.max() == pytest.approx(width / 2, rel=1e-9)
    assert half == pytest.approx(half[::-1], abs=1e-6)


def test_a_corner_that_rounding_once_made_no_number() -> None:
    top = Top("rounded", 1820.4079281470715, 728.1631712588286, corner_mm=121.3605285431381)
    assert top.half_width_at(np.array([-1.0, 1.0])) == pytest.approx(364.08159 - 121.36053)
    assert best_fit(top, board(2000, 800)).margin_mm == pytest.approx(
        (800 - 728.16317) / 2, abs=0.5
    )


def test_scaled_and_kept_as_a_record() -> None:
    top = Top("boat", 1800, 700, end_width_mm=500)
    assert top.scaled(1.1).area_mm2 == pytest.approx(1.21 * top.area_mm2)
    assert Top(**top.record()) == top  # type: ignore[arg-type]
