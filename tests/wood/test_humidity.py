"""Air to equilibrium moisture content and back, and the mean of an irregular record."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.wood.humidity import (
    OutOfRange,
    emc_pct,
    rh_from_dew_point,
    rh_from_wet_bulb,
    rh_pct_for_emc,
    time_weighted_mean,
)

DAY = 86400.0
temps = st.floats(-40, 120)
humidities = st.floats(0, 100)


@given(temps, humidities, humidities)
def test_damper_air_never_holds_wood_drier(temp_c: float, one: float, other: float) -> None:
    drier, damper = sorted((one, other))
    assert emc_pct(temp_c, drier) <= emc_pct(temp_c, damper)


@given(temps, temps, st.floats(0, 95))
def test_warmer_air_never_holds_wood_wetter(one: float, other: float, rh_pct: float) -> None:
    cold, warm = sorted((one, other))
    # The fitted curve rises by a few hundredths between freezing and about 5 °C, no more.
    assert emc_pct(warm, rh_pct) <= emc_pct(cold, rh_pct) + 0.06


@given(temps, st.floats(0.01, 100))
def test_humidity_comes_back_from_the_moisture_it_gives(temp_c: float, rh_pct: float) -> None:
    assert rh_pct_for_emc(temp_c, emc_pct(temp_c, rh_pct)) == pytest.approx(rh_pct, abs=1e-6)


def test_bone_dry_air_dries_wood_wholly() -> None:
    assert emc_pct(20.0, 0.0) == 0.0
    assert rh_pct_for_emc(20.0, 0.0) == pytest.approx(0.0, abs=1e-9)


def test_frost_is_given_the_coldest_tabled_curve() -> None:
    assert emc_pct(-30.0, 65.0) == emc_pct((30 - 32) / 1.8, 65.0)


def test_floats_give_a_float_and_arrays_an_array_of_their_shape() -> None:
    assert isinstance(emc_pct(20.0, 50.0), float)
    assert isinstance(rh_pct_for_emc(20.0, 9.0), float)
    grid = emc_pct(np.array([[10.0], [20.0]]), np.array([30.0, 50.0, 70.0]))
    assert grid.shape == (2, 3)
    assert grid[1, 1] == emc_pct(20.0, 50.0)
    back = rh_pct_for_emc(np.array([[10.0], [20.0]]), grid)
    np.testing.assert_allclose(back, [[30.0, 50.0, 70.0]] * 2, atol=1e-9)
    assert rh_pct_for_emc(20.0, np.array([6.0, 9.0])).shape == (2,)


def test_whole_numbers_are_taken_as_numbers() -> None:
    assert emc_pct(20, 50) == emc_pct(20.0, 50.0)


@pytest.mark.parametrize("rh_pct", [-0.1, 100.1, float("nan"), float("inf")])
def test_impossible_humidity_is_refused_in_a_sentence(rh_pct: float) -> None:
    with pytest.raises(OutOfRange, match=r"^Relative humidity must be between 0 and 100 %"):
        emc_pct(20.0, rh_pct)


@pytest.mark.parametrize("temp_c", [-40.1, 120.1, float("nan")])
def test_impossible_air_is_refused_in_a_sentence(temp_c: float) -> None:
    for ask in (emc_pct, rh_pct_for_emc, rh_from_wet_bulb, rh_from_dew_point):
        with pytest.raises(OutOfRange, match=r"^The air's temperature must be between −40 and 120"):
            ask(temp_c, 5.0)


def test_one_bad_number_in_an_array_is_refused_and_named() -> None:
    with pytest.raises(OutOfRange, match="not 130"):
        emc_pct(np.array([20.0, 20.0]), np.array([50.0, 130.0]))


@pytest.mark.parametrize("target", [-1.0, 40.0, float("nan")])
def test_a_moisture_no_air_gives_is_refused(target: float) -> None:
    with pytest.raises(OutOfRange, match="No air at this temperature"):
        rh_pct_for_emc(20.0, target)
    with pytest.raises(OutOfRange):
        rh_pct_for_emc(20.0, np.array([9.0, target]))


def test_a_bulb_warmer_than_the_air_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"wet bulb \(21 °C\) cannot be above the air's own"):
        rh_from_wet_bulb(20.0, 21.0)
    with pytest.raises(OutOfRange, match=r"dew point \(21 °C\) cannot be above the air's own"):
        rh_from_dew_point(20.0, 21.0)


def test_a_bulb_colder_than_bone_dry_air_gives_is_refused() -> None:
    assert 0 < rh_from_wet_bulb(20.0, 6.0) < 2
    with pytest.raises(OutOfRange, match="colder than even bone-dry air"):
        rh_from_wet_bulb(20.0, 4.0)


def test_air_past_boiling_has_no_wet_bulb() -> None:
    with pytest.raises(OutOfRange, match="above boiling"):
        rh_from_wet_bulb(110.0, 90.0)


@pytest.mark.parametrize("pressure_pa", [0.0, 1013.25, float("nan")])
def test_a_pressure_in_another_unit_is_refused(pressure_pa: float) -> None:
    with pytest.raises(OutOfRange, match="Air pressure"):
        rh_from_wet_bulb(20.0, 15.0, pressure_pa)


def test_a_missing_bulb_is_refused() -> None:
    with pytest.raises(OutOfRange, match="must be between"):
        rh_from_wet_bulb(20.0, float("nan"))


@given(st.floats(-20, 50), st.floats(0, 30), st.floats(0, 30))
def test_a_wider_depression_is_never_damper(temp_c: float, one: float, other: float) -> None:
    less, more = sorted((one, other))
    assert rh_from_dew_point(temp_c, temp_c - more) <= rh_from_dew_point(temp_c, temp_c - less)


def test_records_weigh_by_the_time_they_cover() -> None:
    found = time_weighted_mean([0, DAY], [10, 20], end_s=4 * DAY, window_s=4 * DAY)
    assert found.mean == pytest.approx((10 * 1 + 20 * 3) / 4)
    assert (found.covered_share, found.records) == (1.0, 2)


def test_a_record_before_the_window_covers_into_it() -> None:
    found = time_weighted_mean([0, 5 * DAY], [10, 20], end_s=8 * DAY, window_s=4 * DAY)
    assert found.mean == pytest.approx((10 * 1 + 20 * 3) / 4)


def test_a_gap_over_a_week_is_a_gap_and_not_an_average() -> None:
    times = [0, 5 * DAY, 20 * DAY, 25 * DAY]
    found = time_weighted_mean(times, [10, 99, 20, 30], end_s=30 * DAY)
    assert found.mean == pytest.approx(20.0)
    assert found.covered_share == pytest.approx(0.5)
    assert found.records == 3


def test_exactly_a_week_is_no_gap_yet() -> None:
    assert time_weighted_mean([0], [9], end_s=7 * DAY).mean == 9
    assert time_weighted_mean([0], [9], end_s=7 * DAY + 1).mean is None


def test_nothing_known_is_none() -> None:
    for times in ([], [40 * DAY]):
        found = time_weighted_mean(times, [9] * len(times), end_s=30 * DAY)
        assert (found.mean, found.covered_share, found.records) == (None, 0.0, 0)


def test_a_record_of_this_instant_is_known_though_it_covers_nothing() -> None:
    found = time_weighted_mean([30 * DAY], [9], end_s=30 * DAY)
    assert (found.mean, found.covered_share, found.records) == (9.0, 0.0, 1)


def test_of_two_records_at_once_the_later_entered_holds() -> None:
    assert time_weighted_mean([0, 0], [9, 11], end_s=DAY).mean == 11


def test_records_that_do_not_pair_or_are_missing_are_refused() -> None:
    with pytest.raises(ValueError, match="one value"):
        time_weighted_mean([0, 1], [9], end_s=DAY)
    with pytest.raises(ValueError, match="missing"):
        time_weighted_mean([0], [float("nan")], end_s=DAY)


records = st.lists(
    st.tuples(st.integers(0, 60 * 24), st.floats(0, 30)),
    min_size=1,
    max_size=30,
    unique_by=lambda r: r[0],
)


@given(records, st.randoms())
def test_order_does_not_matter_and_the_mean_lies_among_the_values(
    rows: list[tuple[int, float]], shuffler: object
) -> None:
    mixed = list(rows)
    shuffler.shuffle(mixed)  # type: ignore[attr-defined]
    one, other = (
        time_weighted_mean([h * 3600.0 for h, _ in r], [v for _, v in r], end_s=60 * DAY)
        for r in (rows, mixed)
    )
    assert one == other
    assert 0 <= one.covered_share <= 1
    if one.mean is not None:
        values = [value for _, value in rows]
        assert min(values) - 1e-9 <= one.mean <= max(values) + 1e-9


@given(records, st.integers(1, 200))
def test_mean_agrees_with_an_hour_by_hour_count(
    rows: list[tuple[int, float]], window_hours: int
) -> None:
    """Brute force: ask of every hour which record holds it."""
    end, gap = 60 * 24, 7 * 24
    rows = sorted(rows)
    held = []
    for hour in range(end - window_hours, end):
        before = [row for row in rows if row[0] <= hour]
        after = [row[0] for row in rows if row[0] > hour] or [end]
        if before and after[0] - before[-1][0] <= gap:
            held.append(before[-1][1])
    found = time_weighted_mean(
        [h * 3600.0 for h, _ in rows],
        [v for _, v in rows],
        end_s=end * 3600.0,
        window_s=window_hours * 3600.0,
    )
    assert found.covered_share == pytest.approx(len(held) / window_hours)
    if held:
        assert found.mean == pytest.approx(sum(held) / len(held))
