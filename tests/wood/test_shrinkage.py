"""Movement and weight hold together at the edges of what is known."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.wood.shrinkage import (
    WoodMovement,
    changes_mm,
    density_kg_m3,
    dimension_change_mm,
    directions,
    mass_kg,
    movement_mm,
    shrinkage_pct,
)

WALNUT = WoodMovement(cr=0.0019, ct=0.00274, radial_pct=5.5, tangential_pct=7.8)
moistures = st.floats(0, 120)


@given(st.floats(1, 3000), moistures, moistures, st.floats(1, 15))
def test_there_and_back_is_no_movement(
    size_mm: float, one: float, other: float, total_pct: float
) -> None:
    out = dimension_change_mm(size_mm, one, other, coefficient=None, total_shrinkage_pct=total_pct)
    assert out is not None
    back = dimension_change_mm(
        size_mm + out, other, one, coefficient=None, total_shrinkage_pct=total_pct
    )
    assert out + (back or 0.0) == pytest.approx(0, abs=1e-6)


@given(st.floats(1, 3000), st.floats(30, 120), st.floats(30, 120))
def test_nothing_moves_above_fibre_saturation(size_mm: float, one: float, other: float) -> None:
    assert (
        dimension_change_mm(size_mm, one, other, coefficient=0.0027, total_shrinkage_pct=7.8) == 0
    )


def test_green_to_oven_dry_is_the_whole_shrinkage() -> None:
    change = dimension_change_mm(1000, 80, 0, coefficient=0.00274, total_shrinkage_pct=7.8)
    assert change == pytest.approx(-78)
    assert shrinkage_pct(7.8, 0) == 7.8
    assert shrinkage_pct(7.8, 30) == shrinkage_pct(7.8, 60) == 0


def test_within_6_to_14_the_coefficient_is_used_and_outside_the_total() -> None:
    inside = dimension_change_mm(1000, 14, 6, coefficient=0.00274, total_shrinkage_pct=7.8)
    outside = dimension_change_mm(1000, 14, 5.9, coefficient=0.00274, total_shrinkage_pct=7.8)
    assert inside == movement_mm(1000, 0.00274, 14, 6) == pytest.approx(-21.92)
    assert outside == pytest.approx(-1000 / (1 - 0.078 * 16 / 30) * 0.078 * 8.1 / 30)


def test_a_species_without_the_figure_is_not_known() -> None:
    assert dimension_change_mm(1000, 12, 8, coefficient=None, total_shrinkage_pct=None) is None
    assert dimension_change_mm(1000, 20, 8, coefficient=0.002, total_shrinkage_pct=None) is None


@pytest.mark.parametrize(("from_mc", "to_mc"), [(5.9, 8), (8, 14.1), (20, 8)])
def test_a_coefficient_is_refused_where_it_does_not_hold(from_mc: float, to_mc: float) -> None:
    with pytest.raises(ValueError, match="between 6 and 14"):
        movement_mm(600, 0.002, from_mc, to_mc)


def test_flat_sawn_width_is_tangential_and_its_thickness_radial() -> None:
    assert directions("flat") == directions("quarter", of="thickness") == ("tangential",)
    assert directions("quarter") == directions("flat", of="thickness") == ("radial",)
    assert directions("rift") == directions("") == ("radial", "tangential")


def test_unknown_sawing_shows_both_ways() -> None:
    found = changes_mm(600, 12, 8, wood=WALNUT, sawn="")
    assert found == {
        "radial": pytest.approx(-600 * 0.0019 * 4),
        "tangential": pytest.approx(-600 * 0.00274 * 4),
    }
    assert list(changes_mm(600, 12, 8, wood=WALNUT, sawn="flat")) == ["tangential"]
    assert changes_mm(600, 12, 8, wood=WoodMovement(), sawn="flat") == {"tangential": None}


@given(st.floats(0.2, 1.2), moistures, moistures)
def test_wetter_wood_is_heavier_as_a_piece(sg: float, one: float, other: float) -> None:
    """Not always denser, for it swells, but never less than the formula's dry density."""
    drier, wetter = sorted((one, other))
    if drier >= 30:
        assert density_kg_m3(sg, drier) <= density_kg_m3(sg, wetter)
    assert density_kg_m3(sg, wetter) >= 1000 * sg


@given(st.floats(1, 1e10), st.floats(0.1, 5))
def test_mass_grows_with_volume(volume_mm3: float, scale: float) -> None:
    assert mass_kg(scale * volume_mm3, 0.5, 10) == pytest.approx(
        scale * mass_kg(volume_mm3, 0.5, 10)
    )


def test_figures_no_wood_has_are_refused() -> None:
    for sg, mc in (
        (0, 10),
        (2, 10),
        (0.5, -1),
        (0.5, 500),
        (float("nan"), 10),
        (0.5, float("nan")),
    ):
        with pytest.raises(ValueError, match="No wood has"):
            density_kg_m3(sg, mc)
    with pytest.raises(ValueError, match="less than nothing"):
        mass_kg(-1, 0.5, 10)
    with pytest.raises(ValueError, match="less than nothing"):
        shrinkage_pct(7.8, -1)
