"""Corrections are made once, in order, and said; a check's figures are what they claim."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.wood.moisture import (
    CorrectedReading,
    Method,
    ReadingAt,
    aim_depth_mm,
    at_calibration_temperature,
    check_figures,
    correct_reading,
    has_species_table,
    oven_dry_mc_pct,
    range_flag,
    sample_board_oven_dry_mass,
    zone_of,
)

WALNUT = "Juglans nigra"


def corrected(raw_pct: float, **changes: Any) -> CorrectedReading:
    settings: dict[str, Any] = {
        "method": Method.PIN,
        "wood_temp_c": 5.0,
        "species_botanical": WALNUT,
        "meter_corrects_temperature": False,
        "meter_corrects_species": False,
    }
    return correct_reading(raw_pct, **(settings | changes))


def test_temperature_first_then_species() -> None:
    found = corrected(10.0)
    at_70f = at_calibration_temperature(10.0, 5.0)
    warm = corrected(at_70f, meter_corrects_temperature=True)
    assert found.temperature_step_pct == pytest.approx(at_70f - 10.0)
    assert found.species_step_pct == pytest.approx(warm.species_step_pct)
    assert found.is_corrected
    assert found.explanation == "1.4 added for wood at 5 °C. 0.4 added for the species."


@given(
    st.floats(0, 60),
    st.none() | st.floats(-20, 60),
    st.sampled_from([None, WALNUT, "Quercus alba", "Olea europaea"]),
    st.booleans(),
    st.booleans(),
    st.sampled_from(list(Method)),
)
def test_steps_always_add_up_and_something_is_always_said(
    raw: float, temp: float | None, species: str | None, warm: bool, named: bool, method: Method
) -> None:
    found = correct_reading(
        raw,
        method=method,
        wood_temp_c=temp,
        species_botanical=species,
        meter_corrects_temperature=warm,
        meter_corrects_species=named,
    )
    steps = found.temperature_step_pct + found.species_step_pct
    assert found.corrected_pct == pytest.approx(found.raw_pct + steps)
    assert found.corrected_pct >= 0
    assert found.explanation.endswith(".")
    assert found.is_corrected == ("Not corrected" not in found.explanation)


def test_what_the_meter_corrects_is_not_corrected_again() -> None:
    found = corrected(10.0, meter_corrects_temperature=True, meter_corrects_species=True)
    assert found.corrected_pct == 10.0
    assert found.is_corrected
    found = corrected(10.0, meter_corrects_species=True)
    assert found.species_step_pct == 0
    assert found.temperature_step_pct > 1


def test_without_a_temperature_the_reading_stays_as_read_and_says_why() -> None:
    found = corrected(10.0, wood_temp_c=None)
    assert (found.corrected_pct, found.is_corrected) == (10.0, False)
    assert "temperature was not taken" in found.explanation


def test_a_temperature_nothing_is_published_for_is_not_corrected() -> None:
    found = corrected(10.0, wood_temp_c=-35.0)
    assert (found.corrected_pct, found.is_corrected) == (10.0, False)
    assert "-35 °C" in found.explanation


@pytest.mark.parametrize(("species", "said"), [(None, "not known"), ("Olea europaea", "no table")])
def test_a_species_without_a_table_is_corrected_for_temperature_only(
    species: str | None, said: str
) -> None:
    found = corrected(10.0, species_botanical=species)
    assert not found.is_corrected
    assert found.species_step_pct == 0
    assert found.temperature_step_pct > 1
    assert said in found.explanation


def test_groups_of_the_trade_stand_for_their_species() -> None:
    assert has_species_table("Quercus rubra")
    assert has_species_table("Carya ovata")
    assert not has_species_table("Quercus robur")
    assert not has_species_table("Carya illinoinensis")
    assert not has_species_table(None)
    red, white = (
        corrected(16.0, species_botanical="Quercus rubra"),
        corrected(16.0, species_botanical="Quercus alba"),
    )
    assert red.species_step_pct > white.species_step_pct


def test_the_shops_own_table_comes_before_ours() -> None:
    found = corrected(
        10.0, meter_corrects_temperature=True, own_species_table=[(20.0, 23.0), (6.0, 6.5)]
    )
    assert found.species_step_pct == pytest.approx(0.5 + 2.5 * 4 / 14)
    assert "the shop's own table" in found.explanation


def test_weighing_needs_no_correction() -> None:
    found = corrected(85.0, method="weighing", wood_temp_c=None, species_botanical=None)
    assert (found.corrected_pct, found.is_corrected, found.range_flag) == (85.0, True, "")


def test_pinless_needs_its_setting_declared_and_no_temperature() -> None:
    undeclared = corrected(10.0, method="pinless", wood_temp_c=None)
    assert (undeclared.corrected_pct, undeclared.is_corrected) == (10.0, False)
    declared = corrected(10.0, method="pinless", wood_temp_c=None, meter_corrects_species=True)
    assert (declared.corrected_pct, declared.is_corrected) == (10.0, True)


@pytest.mark.parametrize(
    ("raw", "flag"), [(5.9, "below"), (6.0, ""), (30.0, ""), (30.1, "above"), (0.0, "below")]
)
def test_readings_outside_the_meters_range_are_kept_and_flagged(raw: float, flag: str) -> None:
    assert range_flag(raw) == corrected(raw).range_flag == flag
    assert ("the meter's range" in corrected(raw).explanation) == bool(flag)


@pytest.mark.parametrize("raw", [-1.0, 401.0, float("nan")])
def test_a_reading_that_is_no_reading_is_refused(raw: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 400"):
        corrected(raw)


def test_an_unknown_method_is_refused() -> None:
    with pytest.raises(ValueError, match="guess"):
        corrected(10.0, method="guess")


TABLED = ("Ulmus americana", "Tilia americana", "Khaya ivorensis", "Quercus alba", WALNUT)


@given(st.floats(0, 40), st.floats(0, 40), st.floats(-20, 60), st.sampled_from(TABLED))
def test_a_higher_reading_is_never_corrected_below_a_lower_one(
    one: float, other: float, temp: float, species: str
) -> None:
    low, high = sorted((one, other))
    drier = corrected(low, wood_temp_c=temp, species_botanical=species)
    wetter = corrected(high, wood_temp_c=temp, species_botanical=species)
    assert drier.corrected_pct <= wetter.corrected_pct + 1e-9


@given(st.floats(6, 30), st.floats(-20, 60), st.floats(-20, 60))
def test_the_colder_the_wood_the_more_is_added(raw: float, one: float, other: float) -> None:
    cold, warm = sorted((one, other))
    assert at_calibration_temperature(raw, cold) >= at_calibration_temperature(raw, warm)


def test_pins_at_twelve_millimetres_for_a_57_millimetre_slab() -> None:
    assert round(aim_depth_mm(57)) == 12


@pytest.mark.parametrize(
    ("depth_mm", "zone"),
    [
        (0, "shell"), (10, "shell"), (11, "between"), (19, "between"), (20, "core"), (25, "core"),
        (30, "core"), (31, "between"), (40, "shell"), (50, "shell"),
    ],
)  # fmt: skip
def test_zones_of_a_50_millimetre_slab_from_either_face(depth_mm: float, zone: str) -> None:
    assert zone_of(depth_mm, 50) == zone


@pytest.mark.parametrize("depth_mm", [-1, 51, float("nan")])
def test_a_depth_outside_the_slab_is_refused(depth_mm: float) -> None:
    with pytest.raises(ValueError, match="within the thickness"):
        zone_of(depth_mm, 50)


def test_the_aimed_depth_is_neither_shell_nor_core() -> None:
    assert zone_of(aim_depth_mm(50), 50) == "between"


def at(
    mc_pct: float, along: float | None, zone: str = "between", trusted: bool = True
) -> ReadingAt:
    return ReadingAt(mc_pct, along, zone, trusted)


def test_figures_of_a_plain_check() -> None:
    found = check_figures(
        [at(8, 0.2), at(9, 0.5), at(10, 0.8), at(11, 0.5, "core"), at(7, 0.5, "shell")]
    )
    assert (found.mean_pct, found.max_pct, found.min_pct) == (9, 11, 7)
    assert (found.shell_pct, found.core_pct, found.gradient_pct) == (7, 11, 4)
    assert (found.places, found.readings, found.trusted) == (3, 5, 5)


def test_spread_compares_like_with_like() -> None:
    """Aimed readings at three places differ by 2; the core at one of them is no spread."""
    readings = [at(8, 0.2), at(9, 0.5), at(10, 0.8), at(14, 0.5, "core")]
    assert check_figures(readings).spread_pct == 2


def test_spread_uses_the_means_of_places() -> None:
    readings = [at(8, 0.2, "shell"), at(10, 0.2, "core"), at(9, 0.8, "shell"), at(12, 0.8, "core")]
    assert check_figures(readings).spread_pct == pytest.approx(1.5)
    assert check_figures([at(8, 0.2), at(10, 0.2), at(9.5, 0.8)]).spread_pct == pytest.approx(0.5)


def test_spread_without_a_zone_common_to_all_places_takes_each_with_itself() -> None:
    readings = [at(8, 0.2, "shell"), at(9, 0.8, "shell"), at(14, 0.5, "core")]
    assert check_figures(readings).spread_pct == 1


def test_spread_is_not_known_from_one_place_or_from_unlike_ones() -> None:
    assert check_figures([at(8, 0.2), at(9, 0.2)]).spread_pct is None
    assert check_figures([at(8, None), at(9, None)]).spread_pct is None
    assert check_figures([at(8, 0.2, "shell"), at(12, 0.8, "core")]).spread_pct is None


def test_gradient_is_not_known_without_both_zones() -> None:
    assert check_figures([at(8, 0.2, "core")]).gradient_pct is None
    assert check_figures([at(8, 0.2, "shell")]).gradient_pct is None


def test_readings_without_a_place_count_as_one_place() -> None:
    assert check_figures([at(8, None), at(9, None), at(9, None)]).places == 1
    assert check_figures([at(8, None), at(9, 0.2), at(9, 0.8)]).places == 2


def test_untrusted_readings_count_so_that_wet_wood_is_not_left_out() -> None:
    found = check_figures([at(9, 0.2), at(45, 0.8, trusted=False)])
    assert (found.max_pct, found.readings, found.trusted) == (45, 2, 1)


def test_a_check_without_readings_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one reading"):
        check_figures([])


@given(
    st.lists(
        st.tuples(
            st.floats(4, 60),
            st.sampled_from([0.1, 0.5, 0.9]),
            st.sampled_from(["shell", "core", "between"]),
        ),
        min_size=1,
        max_size=12,
    )
)
def test_no_figure_leaves_the_range_of_the_readings(rows: list[tuple[float, float, str]]) -> None:
    found = check_figures([at(*row) for row in rows])
    span = found.max_pct - found.min_pct + 1e-9
    assert found.min_pct - 1e-9 <= found.mean_pct <= found.max_pct + 1e-9
    assert found.spread_pct is None or 0 <= found.spread_pct <= span
    assert found.gradient_pct is None or abs(found.gradient_pct) <= span


def test_impossible_weighings_are_refused() -> None:
    for wet_g, dry_g in ((100, 0), (90, 100), (100, -1), (float("nan"), 50)):
        with pytest.raises(ValueError, match="mass"):
            oven_dry_mc_pct(wet_g, dry_g)
    with pytest.raises(ValueError, match="sample board"):
        sample_board_oven_dry_mass(0, 70)
