"""Width, thickness and mass of a slab at another moisture, and what flattening leaves."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.wood.measure import format_fine
from inventory.wood.shrinkage import (
    WoodMovement,
    flattened_mm,
    mass_at_kg,
    size_changes,
    ways_sawn,
)

IN = 25.4
WALNUT = WoodMovement(cr=0.0019, ct=0.00274, radial_pct=5.5, tangential_pct=7.8)


def plain(text: str) -> str:
    return text.replace("\N{NO-BREAK SPACE}", " ")


def test_a_flat_sawn_slab_is_reckoned_one_way_and_one_not_known_both_ways() -> None:
    assert ways_sawn("flat") == ("flat",)
    assert ways_sawn("quarter") == ("quarter",)
    assert ways_sawn("rift") == ways_sawn("") == ("flat", "quarter")


def test_width_and_thickness_take_opposite_directions() -> None:
    flat, quarter = size_changes(600, 50, 12, 8, wood=WALNUT, sawn="")
    assert flat.width_mm == pytest.approx(-600 * 0.00274 * 4)
    assert flat.thickness_mm == pytest.approx(-50 * 0.0019 * 4)
    assert quarter.width_mm == pytest.approx(-600 * 0.0019 * 4)
    assert quarter.thickness_mm == pytest.approx(-50 * 0.00274 * 4)


def test_what_a_species_has_no_figure_for_is_not_known() -> None:
    (flat,) = size_changes(600, 50, 12, 8, wood=WoodMovement(ct=0.00274), sawn="flat")
    assert flat.width_mm is not None
    assert flat.thickness_mm is None


@given(st.floats(1, 500), st.floats(0, 200), st.floats(0, 200))
def test_drying_takes_water_and_leaves_the_wood(kg: float, wet: float, dry: float) -> None:
    oven_dry = kg / (1 + wet / 100)
    assert mass_at_kg(kg, wet, dry) == pytest.approx(oven_dry * (1 + dry / 100))


def test_a_mass_at_a_moisture_no_wood_has_is_refused() -> None:
    with pytest.raises(ValueError, match="moisture content"):
        mass_at_kg(10, 12, -1)


def test_flattening_takes_an_eighth_to_a_quarter_off_each_face() -> None:
    """3 to 6 mm a face: common practice."""
    assert flattened_mm(54) == (42, 48)
    assert flattened_mm(9) == (0, 3)
    assert flattened_mm(6) is None


def test_a_hollow_comes_off_besides() -> None:
    """A flat board inside an evenly thick one hollow by h is thinner by h: plain geometry."""
    assert flattened_mm(54, 10) == (32, 38)
    assert flattened_mm(20, 15) is None


@pytest.mark.parametrize(
    ("mm", "imperial", "metric"),
    [
        (0.41 * IN, "¹³⁄₃₂ in", "10.4 mm"),
        (-0.41 * IN, "−¹³⁄₃₂ in", "−10.4 mm"),
        (IN / 16, "¹⁄₁₆ in", "1.6 mm"),
        (IN / 4, "¼ in", "6.3 mm"),
        (53.975, "2⅛ in", "54 mm"),
        (27.5625 * IN, "27⁹⁄₁₆ in", "700 mm"),
        (0.1, "0 in", "0.1 mm"),
        (0, "0 in", "0 mm"),
    ],
)
def test_changes_are_written_to_a_thirty_second(mm: float, imperial: str, metric: str) -> None:
    assert plain(format_fine(mm, "imperial")) == imperial
    assert plain(format_fine(mm, "metric")) == metric
