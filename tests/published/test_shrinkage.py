"""Shrinkage, density and movement against published figures, and the species table with itself."""

from __future__ import annotations

import numpy as np
import pytest

from inventory.wood.measure import format_fine
from inventory.wood.shrinkage import (
    WoodMovement,
    density_kg_m3,
    dimension_change_mm,
    mass_at_kg,
    mass_kg,
    movement_mm,
    oversize_mm,
    shrinkage_pct,
    size_changes,
)
from inventory.wood.species import SpeciesRow, published_species, species_by_key

IN = 25.4
WALNUT = species_by_key()["walnut-black"]


def known(*names: str) -> list[SpeciesRow]:
    return [r for r in published_species() if all(getattr(r, name) is not None for name in names)]


def column(rows: list[SpeciesRow], name: str) -> np.ndarray:
    return np.array([getattr(row, name) for row in rows], dtype=np.float64)


def test_the_mesquite_boards_published_movement() -> None:
    """A 5 in mesquite board, CT 0.00129, from 6 to 9 %: 0.019 in (published example)."""
    assert movement_mm(5 * IN, 0.00129, 6, 9) / IN == pytest.approx(0.019, abs=0.0005)


def test_a_wide_walnut_top_drying_from_12_to_7() -> None:
    """30 in flat-sawn, CT 0.00274 (Wood Handbook, Table 13-5): 0.41 in narrower."""
    assert WALNUT.ct == 0.00274
    assert movement_mm(30 * IN, WALNUT.ct, 12, 7) / IN == pytest.approx(-0.41, abs=0.005)


def test_the_same_walnut_top_as_a_slab_is_reckoned_13_thirty_seconds_narrower() -> None:
    """The same 0.41 in through the slab's own door, and as the trade would read it: 13/32 in."""
    wood = WoodMovement(WALNUT.cr, WALNUT.ct, WALNUT.shrink_radial_pct)
    (flat,) = size_changes(30 * IN, 2 * IN, 12, 7, wood=wood, sawn="flat")
    assert (flat.width_mm or 0) / IN == pytest.approx(-0.41, abs=0.005)
    assert format_fine(flat.width_mm or 0, "imperial") == "−¹³⁄₃₂\N{NO-BREAK SPACE}in"


@pytest.mark.parametrize(
    ("key", "thickness_pct", "width_pct"),
    [("walnut-black", 4.0, 5.7), ("oak-white", 4.1, 7.7)],
)
def test_a_green_flat_sawn_slab_dried_to_8_per_cent(
    key: str, thickness_pct: float, width_pct: float
) -> None:
    """Wood Handbook, Table 4-3 (walnut from memory), through S = S0 × 22/30: walnut thickness
    4.0 %, width 5.7 %; white oak 4.1 and 7.7 %."""
    row = species_by_key()[key]
    wood = WoodMovement(row.cr, row.ct, row.shrink_radial_pct, row.shrink_tangential_pct)
    (flat,) = size_changes(1000, 1000, 80, 8, wood=wood, sawn="flat")
    assert -(flat.width_mm or 0) / 10 == pytest.approx(width_pct, abs=0.05)
    assert -(flat.thickness_mm or 0) / 10 == pytest.approx(thickness_pct, abs=0.05)


def test_a_slabs_mass_at_8_per_cent_by_its_water_and_by_its_density_agree() -> None:
    """Walnut, 663 kg/m³ at 30 % and 611 at 8 % (FPL-GTR-190, ch. 4; from memory): the water lost
    and the density of the shrunken slab give one mass, within 2 %."""
    then_kg = mass_at_kg(663.0, 30, 8)
    shrunk_m3 = 1 - shrinkage_pct(WALNUT.shrink_volumetric_pct or 0, 8) / 100
    assert then_kg == pytest.approx(611 * shrunk_m3, rel=0.02)


@pytest.mark.parametrize(("mc_pct", "kg_m3"), [(85, 944), (30, 663), (12, 622), (8, 611)])
def test_walnuts_density_wet_and_dry(mc_pct: float, kg_m3: float) -> None:
    """FPL-GTR-190, ch. 4 (the formula from memory): basic specific gravity 0.51."""
    assert density_kg_m3(0.51, mc_pct) == pytest.approx(kg_m3, abs=0.6)


def test_specific_gravity_at_12_per_cent_follows_from_green() -> None:
    """Against every pair the table has (Miles and Smith, NRS-38, 2009, and others). The reference
    found a mean departure of 0.017, and up to 0.18 for dense woods that shrink little."""
    rows = known("sg_green", "sg_12")
    ours = np.array([density_kg_m3(row.sg_green or 0, 12) / 1120.0 for row in rows])
    off = np.abs(ours - column(rows, "sg_12"))
    assert len(rows) > 100
    assert off.mean() == pytest.approx(0.017, abs=0.003)
    assert off.max() < 0.19
    temperate = [row.group != "tropical / imported" for row in rows]
    assert off[temperate].max() < 0.05


def test_volume_shrinks_by_about_the_sum_of_both_ways() -> None:
    """Wood Handbook, Tables 4-3 and 4-4: volumetric is near radial + tangential (less their small
    product, plus a little along the grain). A column shifted by one row would not pass."""
    rows = known("shrink_radial_pct", "shrink_tangential_pct", "shrink_volumetric_pct")
    r, t = column(rows, "shrink_radial_pct"), column(rows, "shrink_tangential_pct")
    v = column(rows, "shrink_volumetric_pct")
    assert len(rows) > 70
    assert np.abs(v - (r + t)).mean() < 0.7
    assert np.abs(v - (r + t)).max() < 2.5
    assert np.abs(np.roll(v, 1) - (r + t)).mean() > 1.5


def test_tangential_always_exceeds_radial() -> None:
    """Common practice, and Tables 4-3, 4-4 and 13-5 throughout."""
    for row in known("shrink_radial_pct", "shrink_tangential_pct"):
        assert (row.shrink_tangential_pct or 0) > (row.shrink_radial_pct or 0)
    for row in known("cr", "ct"):
        assert (row.ct or 0) > (row.cr or 0)


def test_coefficients_are_near_total_shrinkage_over_thirty() -> None:
    """The handbook's coefficients for temperate woods; redwood, western redcedar and northern
    white-cedar imply fibre saturation at 22 %, a ratio of 30/22 = 1.36 (from memory)."""
    low_saturation = {"redwood-old-growth", "redwood-young-growth"}
    low_saturation |= {"cedar-western-red", "cedar-northern-white"}
    ratios = {
        row.key: (row.ct or 0) / ((row.shrink_tangential_pct or 1) / 3000.0)
        for row in known("ct", "shrink_tangential_pct")
        if row.group in ("NA hardwood", "NA softwood")
    }
    usual = np.array([ratio for key, ratio in ratios.items() if key not in low_saturation])
    assert np.median(usual) == pytest.approx(1.04, abs=0.03)
    assert 0.85 < usual.min() < usual.max() < 1.35
    for key in low_saturation:
        assert ratios[key] == pytest.approx(1.36, abs=0.06)


def test_green_walnut_dried_to_8_per_cent() -> None:
    """The reference: thickness 5.5 × 22/30 = 4.0 %, width 5.7 %, volume 9.4 %; 2.25 in dry needs
    2.34 in green."""
    assert shrinkage_pct(WALNUT.shrink_radial_pct or 0, 8) == pytest.approx(4.0, abs=0.05)
    assert shrinkage_pct(WALNUT.shrink_tangential_pct or 0, 8) == pytest.approx(5.7, abs=0.05)
    assert shrinkage_pct(WALNUT.shrink_volumetric_pct or 0, 8) == pytest.approx(9.4, abs=0.05)
    assert oversize_mm(2.25 * IN, 5.5, 8) / IN == pytest.approx(2.34, abs=0.005)


def test_redcedar_shrinks_from_its_own_lower_saturation() -> None:
    """Western redcedar, fibre saturation 22 %: 6.8 × 14/22 = 4.3 % of its volume."""
    cedar = species_by_key()["cedar-western-red"]
    assert shrinkage_pct(cedar.shrink_volumetric_pct or 0, 8, 22) == pytest.approx(4.3, abs=0.05)


def test_both_ways_of_reckoning_agree_where_both_hold() -> None:
    """From 14 to 6 %, coefficient against total shrinkage, within a tenth for common hardwoods."""
    for key in ("walnut-black", "cherry-black", "ash-white", "maple-sugar", "yellow-poplar"):
        row = species_by_key()[key]
        total = row.shrink_tangential_pct
        by_ct = dimension_change_mm(600, 14, 6, coefficient=row.ct, total_shrinkage_pct=total)
        by_total = dimension_change_mm(600, 14, 6, coefficient=None, total_shrinkage_pct=total)
        assert by_ct == pytest.approx(by_total, rel=0.1)


def test_weight_by_green_volume_equals_weight_by_volume_now() -> None:
    """Basic specific gravity × green volume × (1 + MC/100), the same slab measured dry: within
    2 %, because 0.265 stands for walnut's 12.8 % of volume only nearly."""
    green_mm3 = 60.0 * 700.0 * 2500.0
    dry_mm3 = green_mm3 * (1 - shrinkage_pct(WALNUT.shrink_volumetric_pct or 0, 8) / 100)
    by_green = 0.51 * green_mm3 / 1e9 * 1000 * 1.08
    assert mass_kg(dry_mm3, 0.51, 8) == pytest.approx(by_green, rel=0.02)
