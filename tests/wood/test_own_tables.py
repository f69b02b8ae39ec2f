"""A correction is made once or not at all, whoever makes it: every combination."""

from __future__ import annotations

from itertools import product

import pytest

from inventory.wood.moisture import (
    CALIBRATION_C,
    Method,
    at_calibration_temperature,
    correct_reading,
    is_calibration_wood,
)

OWN = [(6.0, 7.0), (12.0, 14.0), (20.0, 21.0)]
COMBINATIONS = list(
    product(Method, (False, True), (False, True), (None, OWN), (False, True), (None, 5.0, 35.0))
)


@pytest.mark.parametrize(("method", "warm", "named", "own", "fits", "temp_c"), COMBINATIONS)
def test_no_correction_is_made_twice(
    method: Method,
    warm: bool,
    named: bool,
    own: list[tuple[float, float]] | None,
    fits: bool,
    temp_c: float | None,
) -> None:
    found = correct_reading(
        12.0,
        method=method,
        wood_temp_c=temp_c,
        species_botanical="Ulmus americana",
        meter_corrects_temperature=warm,
        meter_corrects_species=named,
        own_species_table=own,
        our_table_fits=fits,
    )
    for_warmth = method is Method.PIN and not warm and temp_c is not None
    settled = method is Method.PINLESS or for_warmth or warm
    may_name = method is not Method.WEIGHING and not named and settled
    by_own = may_name and own is not None
    by_ours = may_name and own is None and fits and method is Method.PIN
    assert (found.temperature_step_pct != 0) == for_warmth
    assert (found.species_step_pct != 0) == (by_own or by_ours)
    assert ("shop's own table" in found.explanation) == by_own
    is_done = method is Method.WEIGHING or (settled and (named or by_own or by_ours))
    assert found.is_corrected == is_done


def test_the_own_table_is_entered_after_the_temperature() -> None:
    found = correct_reading(
        11.0,
        method=Method.PIN,
        wood_temp_c=5.0,
        species_botanical=None,
        meter_corrects_temperature=False,
        meter_corrects_species=False,
        own_species_table=OWN,
    )
    warmed = at_calibration_temperature(11.0, 5.0)
    assert 12.0 < warmed < 13.0
    step = 2.0 - (warmed - 12.0) / 8.0
    assert found.corrected_pct == pytest.approx(warmed + step)
    assert found.is_corrected
    assert found.explanation == "1.5 added for wood at 5 °C. 1.9 added for the species, by the " + (
        "shop's own table."
    )


def test_a_meter_true_at_another_temperature_leaves_wood_there_alone() -> None:
    for reading in (8.0, 12.0, 18.0):
        assert at_calibration_temperature(reading, 20.0, 20.0) == pytest.approx(reading, abs=0.02)
        moved = at_calibration_temperature(reading, 20.0, CALIBRATION_C)
        assert moved == pytest.approx(reading + 1.1 / 11.1, abs=0.1)


@pytest.mark.parametrize("name", ["Douglas-fir", "douglas fir", "Pseudotsuga menziesii", "", " "])
def test_the_published_table_is_for_meters_set_to_douglas_fir(name: str) -> None:
    assert is_calibration_wood(name)
    assert not is_calibration_wood("Norway spruce")
