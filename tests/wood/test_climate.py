"""What a place's records say of its year, and the air to come made from them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.wood import climate, weather
from inventory.wood.climate import PlaceClimate, future_air, know_place, past_steps
from tests.wood.drying_cases import FIRST_DAY, Floats, a_place, daily_air

LAST_DAY = FIRST_DAY + 799


def test_records_of_a_day_are_averaged_whatever_their_order() -> None:
    days = FIRST_DAY + np.array([1.75, 0.25, 1.25, 0.5])
    place = know_place(days, np.array([14.0, 10.0, 12.0, 11.0]), np.array([4.0, 1.0, 2.0, 3.0]))
    assert place.first_day == FIRST_DAY
    assert place.daily.tolist() == [[10.5, 2.0], [13.0, 3.0]]
    assert place.days_on_record == 2


def test_a_year_of_records_gives_a_curve_that_finds_the_seasons() -> None:
    place = a_place(days=800)
    assert place.has_curve
    days = np.arange(FIRST_DAY, FIRST_DAY + 365)
    emc, temp = place.typical(days)
    true_emc, true_temp = daily_air(365, noise=0.0)
    assert np.abs(emc - true_emc).max() < 0.5
    assert np.abs(temp - true_temp).max() < 1.2
    assert "fitted to 800 days of records" in place.explanation


@pytest.mark.parametrize("days", [1, 40, 299])
def test_less_than_most_of_a_year_gives_a_flat_mean_and_says_so(days: int) -> None:
    place = a_place(days=days)
    assert not place.has_curve
    emc, _ = place.typical(np.arange(FIRST_DAY, FIRST_DAY + 365))
    assert np.ptp(emc) == 0
    assert emc[0] == pytest.approx(place.daily[:, 0].mean())
    assert "flat mean" in place.explanation
    assert "wide uncertainty" in place.explanation


def test_two_summers_without_a_winter_are_not_a_year() -> None:
    emc, temp = daily_air(800)
    days = np.arange(FIRST_DAY, FIRST_DAY + 800)
    summer = np.mod(days, climate.YEAR_DAYS) > 150
    assert summer.sum() > climate.ENOUGH_DAYS
    place = know_place(days[summer].astype(float), emc[summer], temp[summer])
    assert not place.has_curve


def test_gaps_are_filled_between_what_stands_on_either_side() -> None:
    emc, temp = daily_air(800)
    days = np.arange(FIRST_DAY, FIRST_DAY + 800)
    kept = np.ones(800, dtype=bool)
    kept[200:203], kept[400:450] = False, False
    place = know_place(days[kept].astype(float), emc[kept], temp[kept])
    assert np.isfinite(place.daily).all()
    assert place.daily[kept, 0] == pytest.approx(emc[kept])
    typical, _ = place.typical(days)
    # In the middle of a long gap nothing but the typical year is left.
    assert place.daily[425, 0] == pytest.approx(typical[425], abs=0.15)
    assert not place.is_measured[[201, 425]].any()


def test_outside_the_record_the_last_days_departure_fades() -> None:
    place = a_place(days=800)
    emc, _ = place.days_between(LAST_DAY, LAST_DAY + 60)
    typical, _ = place.typical(np.arange(LAST_DAY, LAST_DAY + 61))
    assert emc[0] == pytest.approx(place.daily[-1, 0])
    departure = np.abs(emc - typical)
    assert (np.diff(departure) <= 1e-9).all()
    assert departure[-1] < 0.01


def test_the_stays_of_a_moved_slab_are_joined() -> None:
    damp, dry = a_place(), a_place(emc_pct=7.0)
    emc, temp = climate.joined_days(
        [(damp, LAST_DAY - 9, LAST_DAY - 5), (dry, LAST_DAY - 4, LAST_DAY)]
    )
    assert len(emc) == len(temp) == 10
    assert emc[:5] == pytest.approx(damp.daily[-10:-5, 0])
    assert emc[5:] == pytest.approx(dry.daily[-5:, 0])
    with pytest.raises(ValueError, match="without a gap"):
        climate.joined_days([(damp, 10, 20), (dry, 22, 30)])


@given(st.integers(1, 400), st.integers(1, 9))
def test_steps_keep_the_mean_and_end_now(days: int, step_days: int) -> None:
    emc, temp = daily_air(days)
    steps = past_steps(emc, temp, step_days)
    assert steps.days.sum() == days
    assert (steps.days[1:] == step_days).all()
    assert 0 < steps.days[0] <= step_days
    assert (steps.days * steps.emc_pct).sum() / days == pytest.approx(emc.mean())
    assert (steps.days * steps.temp_c).sum() / days == pytest.approx(temp.mean())


# The air to come


def test_the_ensemble_lies_about_the_typical_year_with_the_places_own_weather() -> None:
    place = a_place()
    air = future_air(place, last_known_day=LAST_DAY, samples=256, horizon_days=731)
    middles = LAST_DAY + 1 + air.ends_after_days - air.steps.days[:, 0] / 2
    typical, warmth = place.typical(middles)
    assert np.abs(air.steps.emc_pct.mean(axis=1) - typical).mean() < 0.2
    assert np.abs(air.steps.temp_c.mean(axis=1) - warmth).mean() < 0.5
    first_days = air.steps.emc_pct[:30].std()
    assert first_days == pytest.approx(place.residuals[:, 0].std(), rel=0.35)


def test_emc_and_temperature_are_drawn_from_the_same_days() -> None:
    emc, temp = daily_air(800)
    noise = np.random.default_rng(8).normal(0, 1.5, 800)
    days = np.arange(FIRST_DAY, FIRST_DAY + 800).astype(float)
    place = know_place(days, emc + noise, temp - 2.0 * noise)
    air = future_air(place, last_known_day=LAST_DAY, samples=64, horizon_days=365)
    emc_off = air.steps.emc_pct - air.steps.emc_pct.mean(axis=1, keepdims=True)
    temp_off = air.steps.temp_c - air.steps.temp_c.mean(axis=1, keepdims=True)
    assert np.corrcoef(emc_off[:30].ravel(), temp_off[:30].ravel())[0, 1] < -0.4


def test_the_same_seed_gives_the_same_air_and_another_seed_another() -> None:
    place = a_place()
    one, same, other = (
        future_air(place, last_known_day=LAST_DAY, seed=seed).steps.emc_pct for seed in (3, 3, 4)
    )
    assert (one == same).all()
    assert not (one == other).all()


def test_a_place_hardly_known_has_a_wider_future() -> None:
    known, unknown = (
        future_air(place, last_known_day=LAST_DAY, samples=256).steps.emc_pct
        for place in (a_place(days=800), a_place(days=20))
    )
    yearly = [air[30:150].mean(axis=0).std() for air in (known, unknown)]
    assert yearly[1] > 2.0 * yearly[0]


def test_a_place_of_which_only_someones_word_is_known_lies_about_that_word() -> None:
    place = climate.assumed_place(9.0, 20.0, FIRST_DAY)
    air = future_air(place, last_known_day=FIRST_DAY, samples=256)
    assert not air.is_from_curve
    assert air.steps.emc_pct.mean() == pytest.approx(9.0, abs=0.4)
    assert air.steps.emc_pct.std() > 0.8


@settings(max_examples=25)
@given(st.integers(1, 1500), st.integers(1, 9))
def test_the_steps_to_come_fill_the_horizon(horizon_days: int, step_days: int) -> None:
    air = future_air(
        climate.assumed_place(9.0, 20.0, FIRST_DAY),
        last_known_day=FIRST_DAY,
        samples=2,
        horizon_days=horizon_days,
        step_days=step_days,
    )
    assert air.ends_after_days[-1] == horizon_days
    assert (air.steps.days > 0).all()
    assert np.isfinite(air.steps.emc_pct).all()


@pytest.mark.parametrize(
    ("days", "emc", "temp", "message"),
    [
        ([], [], [], "without records"),
        ([1.0], [9.0, 9.0], [20.0], "needs a time"),
        ([1.0], [np.nan], [20.0], "missing number"),
    ],
)
def test_a_record_that_cannot_be_used_is_refused(
    days: list[float], emc: list[float], temp: list[float], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        know_place(np.array(days), np.array(emc), np.array(temp))


def test_a_place_known_for_one_day_says_day_not_days() -> None:
    assert "Only 1 day of records" in place_of_one_day().explanation


def place_of_one_day() -> PlaceClimate:
    return a_place(days=1)


# How long weather lasts


def spell(memory_days: float, days: int = 1500, *, seed: int = 4) -> Floats:
    """A first-order autoregression of variance one."""
    rng = np.random.default_rng(seed)
    keep = float(np.exp(-1.0 / memory_days))
    shocks = rng.normal(0, np.sqrt(1 - keep**2), days)
    found = [0.0]
    for shock in shocks:
        found.append(keep * found[-1] + shock)
    return np.array(found[1:])


@pytest.mark.parametrize("memory_days", [3.0, 20.0])
def test_how_long_weather_lasts_is_found_in_its_record(memory_days: float) -> None:
    """Against the exact autocovariance of a first-order autoregression, exp(−lag / memory)."""
    lags = np.array([0, 1, 3, 7, 14])
    found = weather.covariance(lags, weather.memory_weights(spell(memory_days, 20_000)))
    assert found == pytest.approx(np.exp(-lags / memory_days), abs=0.1)


def test_of_weather_with_one_memory_only_the_last_day_counts() -> None:
    """Exact: the best prediction of a first-order autoregression is its last value, fading."""
    weights = (weather.MEMORIES_DAYS == 8.0).astype(float)
    seen, ahead = np.array([0, -1, -4]), np.array([1, 5, 30])
    gain = weather.gain(seen, ahead, weights)
    assert gain[:, 0] == pytest.approx(np.exp(-ahead / 8.0), abs=1e-3)
    assert gain[:, 1:] == pytest.approx(np.zeros((3, 2)), abs=1e-3)


def test_a_damp_spell_goes_on_for_some_days_and_then_is_forgotten() -> None:
    emc, temp = daily_air(800, noise=0.0)
    emc += spell(12.0, 800)
    emc[-15:] += 2.5 - (emc[-15:] - daily_air(800, noise=0.0)[0][-15:])
    place = know_place(np.arange(FIRST_DAY, FIRST_DAY + 800).astype(float), emc, temp)
    air = future_air(place, last_known_day=LAST_DAY, samples=256, horizon_days=200)
    middles = LAST_DAY + 1 + air.ends_after_days - air.steps.days[:, 0] / 2
    departure = air.steps.emc_pct.mean(axis=1) - place.typical(middles)[0]
    assert departure[0] > 1.5
    assert departure[0] > departure[10] > 0.3
    assert abs(departure[-10:].mean()) < 0.4


def test_days_known_later_do_not_leak_into_an_older_question() -> None:
    """Asked as of a day within the record, what came after it does not steer the weather."""
    emc, temp = daily_air(800)
    days = np.arange(FIRST_DAY, FIRST_DAY + 800).astype(float)
    place = know_place(days, emc, temp)
    seen = climate._seen_last(place, LAST_DAY - 100, weather.LOOK_BACK_DAYS)
    assert seen.max() == 0
    assert len(seen) == weather.LOOK_BACK_DAYS
    assert len(climate._seen_last(place, LAST_DAY + 500, weather.LOOK_BACK_DAYS)) == 0


def test_a_swing_that_may_be_chance_is_drawn_in_and_a_plain_season_is_not() -> None:
    plain = np.array([[12.0, 10.0], [3.0, -9.0], [0.1, 0.1], [0.2, 0.1], [0.1, 0.2]])
    kept = climate._less_chance(plain, np.array([0.3, 0.3]))
    assert (kept[0] == plain[0]).all()
    assert kept[1] == pytest.approx(plain[1], rel=0.03)
    assert (np.abs(kept[3:]) <= np.abs(plain[3:])).all()
    assert (kept[3:] == 0.0).all()
    assert climate._less_chance(np.zeros((1, 2)), np.ones(2)).shape == (1, 2)
