"""Meter corrections, pin depth and weighing against published formulas.

James, *Electric moisture meters for wood*, FPL-GTR-6 (1988), and Pfaff and Garrahan, Forest Prod.
J. 36(3):28-30 (1986), are from memory throughout: sign, size and neutral point are tested, tenths
are not.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from inventory.wood.moisture import (
    AIM_SHARE,
    aim_depth_mm,
    at_calibration_temperature,
    correct_reading,
    oven_dry_mc_pct,
    sample_board_oven_dry_mass,
)


def celsius(temp_f: float) -> float:
    return (temp_f - 32.0) / 1.8


def species_step(reading_pct: float, botanical: str) -> float:
    return correct_reading(
        reading_pct,
        method="pin",
        wood_temp_c=None,
        species_botanical=botanical,
        meter_corrects_temperature=True,
        meter_corrects_species=False,
    ).species_step_pct


@pytest.mark.parametrize("reading_pct", [8, 10, 12, 14, 16, 20])
def test_neutral_point_is_70_fahrenheit(reading_pct: float) -> None:
    assert at_calibration_temperature(reading_pct, celsius(70)) == pytest.approx(
        reading_pct, abs=0.02
    )


@pytest.mark.parametrize("temp_f", [30, 40, 50, 60])
def test_cold_wood_reads_low(temp_f: float) -> None:
    for reading_pct in (8, 12, 16, 22):
        assert at_calibration_temperature(reading_pct, celsius(temp_f)) > reading_pct


@pytest.mark.parametrize("temp_f", [80, 90, 110, 130])
def test_warm_wood_reads_high(temp_f: float) -> None:
    for reading_pct in (8, 12, 16, 22):
        assert at_calibration_temperature(reading_pct, celsius(temp_f)) < reading_pct


@pytest.mark.parametrize("temp_f", [50, 60, 70, 80, 90])
@pytest.mark.parametrize("reading_pct", [8, 12, 16])
def test_size_is_a_point_in_twenty_degrees(temp_f: float, reading_pct: float) -> None:
    """The rule of thumb (from memory): 1 % MC for every 20 °F off 70, within 0.8 from 50 to 90."""
    by_rule = reading_pct - (temp_f - 70) / 20
    ours = at_calibration_temperature(reading_pct, celsius(temp_f))
    assert ours == pytest.approx(by_rule, abs=0.8)


def test_douglas_fir_is_the_meters_own_species() -> None:
    assert all(species_step(mc, "Pseudotsuga menziesii") == 0 for mc in range(7, 26))


@pytest.mark.parametrize(
    ("botanical", "reading_pct", "tabled"),
    [
        ("Tilia americana", 16, 14.7),
        ("Ulmus americana", 17, 14.0),
        ("Khaya ivorensis", 14, 17.2),
        ("Pinus ponderosa", 15, 16.6),
        ("Juglans nigra", 16, 16.3),
    ],
)
def test_species_steps_have_the_tables_sign_and_size(
    botanical: str, reading_pct: float, tabled: float
) -> None:
    """Derived from James's Table 1 (from memory): half a point either way."""
    assert reading_pct + species_step(reading_pct, botanical) == pytest.approx(tabled, abs=0.5)


def test_aim_depth_is_where_a_parabola_meets_its_mean() -> None:
    """A drying section's moisture is a parabola over the thickness (James 1988, from memory)."""

    def moisture(share: float) -> float:
        return 8.0 + 6.0 * (1.0 - (2.0 * share - 1.0) ** 2)

    mean, _ = quad(moisture, 0.0, 1.0)
    depth = brentq(lambda share: moisture(share) - mean, 0.0, 0.5)
    assert pytest.approx(depth, abs=5e-4) == AIM_SHARE
    assert pytest.approx((1 - 1 / np.sqrt(3)) / 2, abs=5e-4) == AIM_SHARE


def test_pins_go_half_an_inch_into_a_nine_quarter_slab() -> None:
    """The reference: 0.47 in for 2.25 in; James's rule is a fifth to a quarter (from memory)."""
    assert aim_depth_mm(2.25 * 25.4) / 25.4 == pytest.approx(0.47, abs=0.006)
    assert 0.2 < aim_depth_mm(1.0) < 0.25


def test_the_sample_board_example() -> None:
    """*Drying Hardwood Lumber* / AH-188, ch. 6 (formulas): sections of 71 and 74 %, 2850 g green;
    oven-dry 1652.2 g; at 2150 g, 30.1 %."""
    dry_g = sample_board_oven_dry_mass(2850, (71.0 + 74.0) / 2)
    assert dry_g == pytest.approx(1652.2, abs=0.05)
    assert oven_dry_mc_pct(2150, dry_g) == pytest.approx(30.1, abs=0.05)


def test_moisture_content_is_on_the_oven_dry_basis() -> None:
    """ASTM D4442: as much water as wood is 100 %."""
    assert oven_dry_mc_pct(200, 100) == 100
