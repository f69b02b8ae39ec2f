"""Masses to moisture content, by the sample-board method and its kin."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.wood.masses import format_mass_fine, parse_mass_kg
from inventory.wood.weighing import (
    WeighingProblem,
    dry_mass_from_earlier,
    dry_mass_from_sections,
    mc_by_mass_pct,
    sections_mc_pct,
)

# Two sections of 71.0 and 74.0 %, as one would weigh them: 100 g and 50 g when dry.
SECTIONS = [(171.0, 100.0), (87.0, 50.0)]


def test_the_worked_example_of_the_sample_board_method() -> None:
    """AH-188 (Dry Kiln Operator's Manual), ch. 6, its formulas: sections of 71.0 and 74.0 % give
    72.5 %; 2850 g green gives 1652.2 g oven-dry; 2150 g later is 30.1 %."""
    assert sections_mc_pct(SECTIONS) == pytest.approx(72.5)
    dry = dry_mass_from_sections(2850.0, SECTIONS)
    assert dry == pytest.approx(1652.2, abs=0.05)
    assert mc_by_mass_pct(2150.0, dry) == pytest.approx(30.1, abs=0.05)


def test_a_known_moisture_at_a_known_mass_is_the_same_arithmetic() -> None:
    assert dry_mass_from_earlier(2850.0, 72.5) == dry_mass_from_sections(2850.0, SECTIONS)


@given(st.floats(0.1, 500), st.floats(0, 200), st.floats(0, 200))
def test_what_weighs_as_before_is_as_wet_as_before(dry: float, now: float, then: float) -> None:
    earlier, mass = dry * (1 + then / 100), dry * (1 + now / 100)
    found = mc_by_mass_pct(max(mass, dry_mass_from_earlier(earlier, then)), dry)
    assert found == pytest.approx(now, abs=1e-6)


def test_a_mass_below_oven_dry_is_questioned() -> None:
    with pytest.raises(WeighingProblem, match="less than it would weigh with no water"):
        mc_by_mass_pct(1600.0, 1652.2)


def test_sections_must_be_given_and_lose_mass() -> None:
    with pytest.raises(WeighingProblem, match="at least one section"):
        sections_mc_pct([])
    with pytest.raises(WeighingProblem, match="cannot be below the oven-dry mass"):
        sections_mc_pct([(90.0, 100.0)])


@pytest.mark.parametrize(
    ("kg", "metric", "imperial"),
    [
        (2.85, "2850 g", "6.283 lb"),
        (1.6522, "1652.2 g", "3.642 lb"),
        (41.7, "41.7 kg", "91.9 lb"),
        (0.0871, "87.1 g", "3.07 oz"),
        (100.0, "100 kg", "220.5 lb"),
    ],
)
def test_fine_masses_as_a_scale_shows_them(kg: float, metric: str, imperial: str) -> None:
    for system, shown in (("metric", metric), ("imperial", imperial)):
        text = format_mass_fine(kg, system)
        assert text.replace("\N{NO-BREAK SPACE}", " ") == shown
        assert parse_mass_kg(text, "kg") == pytest.approx(kg, rel=2e-3)
