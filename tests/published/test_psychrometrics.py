"""Wet bulb and dew point against printed values and a formula of another kind.

Our functions call PsychroLib, so they are not compared with it here.
"""

from __future__ import annotations

import math

import pytest

from inventory.wood.humidity import emc_pct, rh_from_dew_point, rh_from_wet_bulb


def celsius(temp_f: float) -> float:
    return (temp_f - 32.0) / 1.8


def saturation_hpa(temp_c: float) -> float:
    """Magnus form, Alduchov and Eskridge (J. Appl. Meteorol. 35, 1996): from memory."""
    return 6.1094 * math.exp(17.625 * temp_c / (temp_c + 243.04))


def psychrometer_rh_pct(temp_c: float, wet_bulb_c: float) -> float:
    """Regnault–August with the aspirated coefficient of the WMO guide (No. 8): from memory."""
    a_per_k = 0.000653 * (1.0 + 0.000944 * wet_bulb_c)
    vapour = saturation_hpa(wet_bulb_c) - a_per_k * 1013.25 * (temp_c - wet_bulb_c)
    return 100.0 * vapour / saturation_hpa(temp_c)


def test_example_1_of_the_ashrae_handbook() -> None:
    """ASHRAE Handbook – Fundamentals (2017), ch. 1, example 1: 40 °C dry, 20 °C wet give 14 %
    and a dew point of 7 °C; in inch-pound units 100 °F and 65 °F give 13 % and 40 °F."""
    assert rh_from_wet_bulb(40.0, 20.0) == pytest.approx(14.0, abs=0.7)
    assert rh_from_dew_point(40.0, 7.0) == pytest.approx(14.0, abs=0.7)
    assert rh_from_wet_bulb(celsius(100), celsius(65)) == pytest.approx(13.0, abs=0.5)
    assert rh_from_dew_point(celsius(100), celsius(40)) == pytest.approx(13.0, abs=0.5)


def test_a_field_manuals_worked_reading() -> None:
    """TM 5-3610-285-14, p. 710: dry bulb 68 °F, wet bulb 62 °F, 71 % relative humidity."""
    assert rh_from_wet_bulb(celsius(68), celsius(62)) == pytest.approx(71.0, abs=1.0)


@pytest.mark.parametrize(
    ("temp_c", "tabled"),
    [
        (-10, [93, 87, 80, 74, 67]),
        (-5, [95, 90, 86, 81, 76]),
        (-1, [96, 92, 88, 84, 81]),
    ],
)
def test_frosty_rows_of_the_weather_bureau_table(temp_c: float, tabled: list[int]) -> None:
    """US Weather Bureau Bulletin 1071, condensed; depressions of 0.2 to 1.0 °C at 74.27 cm Hg.

    Its coefficient is for a bulb less well fanned, which lies a little lower the drier the air.
    """
    for step, rh_pct in enumerate(tabled, start=1):
        ours = rh_from_wet_bulb(temp_c, temp_c - 0.2 * step, 74.27 * 1333.22)
        assert rh_pct - 0.6 <= ours <= rh_pct + 3.0


# Saturation pressure over water or ice (Pa): ASHRAE Handbook – Fundamentals (2017), ch. 1, table 3.
TABLE_3_PA = {-20: 103.24, -5: 401.74, 5: 872.6, 25: 3169.7, 50: 12351.3, 100: 101418.0}


@pytest.mark.parametrize("temp_c", [5, 25, 50, 100])
def test_dew_point_is_the_ratio_of_tabled_pressures(temp_c: int) -> None:
    for dew_point_c, pressure in TABLE_3_PA.items():
        if dew_point_c <= temp_c:
            tabled = 100.0 * pressure / TABLE_3_PA[temp_c]
            assert rh_from_dew_point(temp_c, dew_point_c) == pytest.approx(tabled, rel=6e-4)


@pytest.mark.parametrize("temp_c", [5.0, 15.0, 20.0, 30.0, 40.0])
@pytest.mark.parametrize("depression_c", [0.0, 1.0, 2.0, 4.0])
def test_wet_bulb_agrees_with_the_magnus_psychrometer(temp_c: float, depression_c: float) -> None:
    expected = psychrometer_rh_pct(temp_c, temp_c - depression_c)
    assert rh_from_wet_bulb(temp_c, temp_c - depression_c) == pytest.approx(expected, abs=1.2)


def test_both_bulbs_alike_is_saturated_air() -> None:
    assert rh_from_wet_bulb(20.0, 20.0) == pytest.approx(100.0)
    assert rh_from_dew_point(20.0, 20.0) == pytest.approx(100.0)


def test_a_bulb_pair_goes_on_to_a_moisture_content() -> None:
    """68 °F and 62 °F: 71 % by the field manual, 13.4 % by Table 4-2 between 65 and 75 %."""
    rh_pct = rh_from_wet_bulb(celsius(68), celsius(62))
    assert emc_pct(celsius(68), rh_pct) == pytest.approx(13.4, abs=0.4)
