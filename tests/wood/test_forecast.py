"""When a slab will be dry: sane, steady, and honest about what it does not know."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.wood import diffusion, drying_priors
from inventory.wood.drying import Forecast, Reading, SlabHistory, fit_one, fit_parts, forecast_many
from inventory.wood.drying_fit import Fitted, standard_points
from inventory.wood.drying_history import batch_of, kept_readings
from inventory.wood.forecast import carry
from tests.wood.drying_cases import FIRST_DAY, a_history, a_place, air_ahead, falling


@cache
def usual_fit() -> Fitted:
    return fit_one(a_history())


def answer(history: SlabHistory, target_pct: float = 14.0, emc_pct: float = 12.0) -> Forecast:
    return forecast_many([history], air_ahead(emc_pct), target_pct)[0]


def median_of(forecast: Forecast) -> float:
    assert forecast.median_day is not None
    return forecast.median_day


def width_of(forecast: Forecast) -> float:
    assert forecast.low_day is not None
    assert forecast.high_day is not None
    return forecast.high_day - forecast.low_day


# Answers


def made_history(d20: float, kappa: float) -> tuple[SlabHistory, float]:
    """A history made by the model itself with constants off the middle, and its true 15 % day.

    `d20`, `kappa`: how many spreads the diffusivity and the face's conductance lie off. The air
    to come is the typical year.
    """
    plain, place = a_history(span=60), a_place()
    emc, temp = place.typical(np.arange(FIRST_DAY + 800, FIRST_DAY + 1800))
    days = np.concatenate([plain.air.days, np.ones(1000)])
    air = diffusion.AirSteps(
        days, np.concatenate([plain.air.emc_pct, emc]), np.concatenate([plain.air.temp_c, temp])
    )
    z = np.zeros((drying_priors.GRADIENT, 1, 1))
    z[drying_priors.D20], z[drying_priors.KAPPA] = d20, kappa
    piece = drying_priors.Piece(np.array([[25.0]]), np.array([[0.55]]), np.array([[70.0]]))
    start = np.full((diffusion.CELLS, 1, 1), 70.0)
    states = diffusion.march(start, drying_priors.wood_of(z, piece), air)
    found = np.array([state[:, 0, 0].copy() for state in states])
    when, means = np.cumsum(days) - 60.0, diffusion.mean_of_cells(found.T)
    rng = np.random.default_rng(3)
    readings = [
        Reading(when[i], float(diffusion.depth_weights(np.array(at)) @ found[i]) + noise, at)
        for i in range(1, 20, 2)
        for at, noise in zip((0.211, 0.211, 0.5), rng.normal(0, 0.5, 3), strict=True)
    ]
    return replace(plain, readings=readings), float(np.interp(-15.0, -means, when))


@pytest.mark.parametrize(("d20", "kappa"), [(0.0, 0.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)])
def test_wood_off_the_middle_of_what_is_believed_is_found_out(d20: float, kappa: float) -> None:
    history, truly_left = made_history(d20, kappa)
    forecast = answer(history, 15.0)
    assert forecast.low_day is not None
    assert forecast.high_day is not None
    assert forecast.low_day < truly_left < forecast.high_day
    assert median_of(forecast) == pytest.approx(truly_left, rel=0.35)
    assert not forecast.is_never
    assert forecast.emc_in_the_way_pct is None


def test_the_probability_by_a_date_agrees_with_the_interval() -> None:
    forecast = carry(usual_fit(), air_ahead(), 15.0)[0]
    assert forecast.low_day is not None
    assert forecast.high_day is not None
    assert forecast.p_by(-1.0) == 0.0
    assert forecast.p_by(forecast.low_day) == pytest.approx(0.1, abs=0.08)
    assert forecast.p_by(median_of(forecast)) == pytest.approx(0.5, abs=0.08)
    assert forecast.p_by(forecast.high_day) == pytest.approx(0.9, abs=0.08)
    assert forecast.shares.sum() == pytest.approx(1.0)


@given(st.floats(0, 1000), st.floats(0, 1000))
def test_the_probability_never_falls_with_time(one: float, other: float) -> None:
    forecast = carried_to(15.0)
    earlier, later = sorted((one, other))
    assert 0.0 <= forecast.p_by(earlier) <= forecast.p_by(later) <= 1.0


@cache
def carried_to(target_pct: float) -> Forecast:
    return carry(usual_fit(), air_ahead(), target_pct)[0]


def test_the_curve_starts_now_and_its_band_holds_the_middle() -> None:
    forecast = carried_to(15.0)
    assert forecast.curve_days[0] == 0.0
    assert forecast.curve_pct[0] == pytest.approx(falling(120, 60.0), abs=1.5)
    assert forecast.now_pct == forecast.curve_pct[0]
    assert (forecast.curve_low_pct <= forecast.curve_pct).all()
    assert (forecast.curve_pct <= forecast.curve_high_pct).all()
    assert forecast.curve_days[-1] == forecast.horizon_days


def test_it_will_not_get_there_in_air_that_is_too_damp_and_the_air_is_named() -> None:
    forecast = carried_to(8.0)
    assert forecast.is_never
    assert forecast.median_day is None
    assert forecast.high_day is None
    assert forecast.emc_in_the_way_pct == pytest.approx(12.0, abs=0.8)
    assert forecast.p_by(forecast.horizon_days) < 0.05


def test_a_slab_too_slow_for_the_horizon_is_late_not_never() -> None:
    thick = a_history(span=60, thickness_mm=150.0, tau=900.0, sg=0.8)
    forecast = forecast_many([thick], air_ahead(horizon_days=365), 14.0)[0]
    assert forecast.median_day is None
    assert not forecast.is_never


def test_a_slab_already_there_is_there_today() -> None:
    forecast = carried_to(30.0)
    assert forecast.is_there
    assert forecast.median_day == 0.0
    assert forecast.p_by(0.0) > 0.95


# What moves the answer


def test_the_same_slab_is_ready_sooner_in_drier_air() -> None:
    """What if it moved: fitted once, carried through another place's air."""
    places = [air_ahead(emc) for emc in (6.0, 8.0, 10.0, 12.0)]
    medians = [median_of(carry(usual_fit(), air, 14.0)[0]) for air in places]
    assert medians == sorted(medians)
    assert medians[0] < 0.7 * medians[-1]


@settings(max_examples=8, deadline=None)
@given(st.floats(13.5, 30.0), st.floats(13.5, 30.0))
def test_a_lower_target_is_never_reached_sooner(one: float, other: float) -> None:
    lower, higher = sorted((one, other))
    late, soon = (carry(usual_fit(), air_ahead(), target)[0] for target in (lower, higher))
    assert (late.arrivals >= soon.arrivals - 1e-6).all()


def test_thicker_wood_of_which_the_same_is_known_takes_longer() -> None:
    medians = [
        median_of(answer(a_history(span=21, every=20, thickness_mm=mm), 20.0))
        for mm in (25.0, 38.0, 54.0, 80.0)
    ]
    assert medians == sorted(medians)
    assert medians[-1] > 2.0 * medians[0]


def test_heavier_wood_of_which_the_same_is_known_takes_longer() -> None:
    medians = [median_of(answer(a_history(span=21, sg=sg), 20.0)) for sg in (0.35, 0.55, 0.8)]
    assert medians == sorted(medians)


def test_more_checks_narrow_the_interval() -> None:
    few, many = (answer(a_history(every=every), 17.0) for every in (100, 5))
    assert width_of(many) < 0.8 * width_of(few)


def test_a_core_reading_counts_as_core_and_a_shell_reading_as_shell() -> None:
    """10 % at the shell is wetter wood than 10 % where the mean lies, and at the core drier."""
    means = []
    for share in (0.1, 0.211, 0.5):
        last = [Reading(-day, 14.0, share) for day in (40.0, 20.0, 1.0)]
        history = replace(a_history(span=60, every=60), readings=[Reading(-60, 50.0), *last])
        means.append(float((fit_one(history).mean_now_pct * fit_one(history).weights).sum()))
    assert means[0] > means[1] + 0.3
    assert means[1] > means[2] + 0.3


def test_an_untrusted_reading_moves_the_answer_less() -> None:
    def now(weight: float) -> float:
        return answer(a_history(extra=[Reading(-1.0, 24.0, weight=weight)])).now_pct

    assert now(0.0) < now(0.1) < now(1.0)
    assert now(0.0) == pytest.approx(answer(a_history()).now_pct)


def test_a_slip_of_the_pen_hardly_moves_the_answer() -> None:
    plain = median_of(answer(a_history(), 15.0))
    slipped = median_of(answer(a_history(extra=[Reading(-3.0, 180.0)]), 15.0))
    assert slipped == pytest.approx(plain, rel=0.02)


def test_a_wild_reading_that_is_no_slip_is_outweighed_by_the_rest() -> None:
    plain = answer(a_history(every=10), 15.0)
    wild = answer(a_history(every=10, extra=[Reading(-15.0, 30.0)]), 15.0)
    assert abs(median_of(wild) - median_of(plain)) < 0.5 * width_of(plain)


# Slips


def test_ninety_two_for_nine_point_two_is_set_aside() -> None:
    readings = [Reading(0, 12.0), Reading(10, 10.1), Reading(20, 92.0), Reading(30, 9.0)]
    assert [r.mc_pct for r in kept_readings(readings)] == [12.0, 10.1, 9.0]


def test_green_wood_that_has_dried_since_is_not_a_slip() -> None:
    readings = [Reading(0, 95.0), Reading(40, 40.0), Reading(90, 14.0), Reading(130, 9.0)]
    assert kept_readings(readings) == readings


def test_a_first_check_is_compared_within_itself() -> None:
    check = [Reading(0, 9.1), Reading(0, 8.8), Reading(0, 92.0)]
    assert [r.mc_pct for r in kept_readings(check)] == [9.1, 8.8]
    shell_and_core = [Reading(0, 9.0, 0.1), Reading(0, 30.0, 0.5)]
    assert kept_readings(shell_and_core) == shell_and_core


def test_a_weighing_sees_the_mean_of_the_whole_thickness() -> None:
    """A profile of k (1 − x)⁴ from the middle has its mean at k / 5 (exact): a scale finds that,
    and pins at 0.211, where a parabola has its mean, find k / 9 (exact).
    """
    edges = np.concatenate([[0.0], np.cumsum(diffusion.cell_widths())])
    state = -np.diff((1.0 - edges) ** 5) / 5.0 / diffusion.cell_widths() * 10.0
    readings = [Reading(-1.0, 15.0, None), Reading(-1.0, 15.0, (1.0 - 1.0 / np.sqrt(3.0)) / 2.0)]
    visits = batch_of([replace(a_history(), readings=readings)]).visits
    seen = np.zeros(2)
    for visit in visits:
        if visit is not None:
            np.add.at(seen, visit.reading, visit.weights @ state)
    assert seen[0] == pytest.approx(10.0 / 5.0, rel=1e-9)
    assert seen[1] == pytest.approx(10.0 / 9.0, abs=0.1)


def test_a_weighing_is_compared_with_weighings_alone() -> None:
    """Four times a shell reading is a slip of the shell, and may be the mean of wet wood."""
    readings = [Reading(-9, 10.0, 0.1), Reading(-9, 10.4, 0.1), Reading(-1, 48.0, None)]
    assert kept_readings(readings) == readings


# Steadiness


def test_the_same_question_has_the_same_answer() -> None:
    one, two = answer(a_history(), 15.0), answer(a_history(), 15.0)
    assert one.median_day == two.median_day
    assert (one.arrivals == two.arrivals).all()


def test_another_draw_of_the_weather_hardly_changes_the_answer() -> None:
    draws = [carry(usual_fit(), air_ahead(seed=seed), 15.0)[0] for seed in (0, 1, 2)]
    medians = [median_of(draw) for draw in draws]
    assert len(set(medians)) > 1
    assert np.ptp(medians) < 0.5 * width_of(draws[0])


def test_many_at_once_get_the_answers_each_would_get_alone() -> None:
    histories = [
        a_history(),
        replace(a_history(span=200, thickness_mm=80.0), starts_even=False),
        a_history(span=40, every=7, thickness_mm=27.0),
        replace(a_history(span=90), starts_even=False),
    ]
    airs = [air_ahead(), air_ahead(9.0), air_ahead(9.0), air_ahead()]
    together = forecast_many(histories, airs, [15.0, 12.0, 11.0, 14.0])
    for history, air, target, found in zip(
        histories, airs, (15.0, 12.0, 11.0, 14.0), together, strict=True
    ):
        alone = forecast_many([history], air, target)[0]
        assert found.target_pct == target
        assert found.arrivals == pytest.approx(alone.arrivals, rel=1e-3, abs=0.05)


def test_parts_hold_every_slab_once_and_its_fit_stays_with_it() -> None:
    histories = [a_history(span=span, every=span) for span in (30, 90, 60)]
    found = {
        int(place): fitted.take(np.array([i])).piece.half_mm[0, 0]
        for places, fitted in fit_parts(histories)
        for i, place in enumerate(places)
    }
    assert sorted(found) == [0, 1, 2]
    assert forecast_many([], air_ahead(), 12.0) == []


def test_the_samples_are_spread_evenly_and_never_change() -> None:
    points = standard_points(64, 7)
    assert points.mean(axis=1) == pytest.approx(np.zeros(7), abs=1e-9)
    assert points.std(axis=1) == pytest.approx(np.ones(7), abs=0.1)
    assert points is standard_points(64, 7)


def test_weights_sum_to_one_and_none_rules() -> None:
    weights = usual_fit().weights
    assert weights.sum() == pytest.approx(1.0)
    assert weights.max() < 0.2


# What cannot be asked


def test_a_slab_without_readings_thickness_or_air_is_refused() -> None:
    plain = a_history()
    with pytest.raises(ValueError, match="moisture reading"):
        answer(replace(plain, readings=[]))
    with pytest.raises(ValueError, match="moisture reading"):
        answer(replace(plain, readings=[Reading(-3, 20.0, weight=0.0)]))
    with pytest.raises(ValueError, match="thickness"):
        answer(replace(plain, thickness_mm=0.0))
    nothing = diffusion.AirSteps(np.zeros(0), np.zeros(0), np.zeros(0))
    with pytest.raises(ValueError, match="air"):
        answer(replace(plain, air=nothing))


def test_a_fit_and_an_air_of_different_samples_are_refused() -> None:
    with pytest.raises(ValueError, match="as many samples"):
        carry(fit_one(a_history(span=20), samples=32), air_ahead(), 12.0)


def test_one_reading_and_no_density_still_give_an_answer_with_a_wide_interval() -> None:
    history = replace(a_history(span=20, every=20, sg=None), starts_even=False)
    forecast = answer(history, 15.0)
    assert width_of(forecast) > 0.5 * median_of(forecast)


# The steps underneath


@settings(max_examples=60, deadline=None)
@given(
    st.floats(4.0, 120.0),
    st.floats(2.0, 27.0),
    st.floats(0.05, 200.0),
    st.floats(0.0005, 0.5),
    st.floats(0.02, 0.2),
)
def test_no_step_however_long_leaves_the_bounds_of_wood_and_air(
    start_pct: float, emc_pct: float, days: float, rate: float, rise: float
) -> None:
    one = np.ones(1)
    wood = diffusion.Wood(rate * one, 0.1 * one, rise * one, 0.5 * one, 3000.0 * one, one)
    air = diffusion.AirSteps(np.full(5, days), np.full(5, emc_pct), np.full(5, 15.0))
    low, high = sorted((start_pct, emc_pct))
    for state in diffusion.march(np.full((diffusion.CELLS, 1), start_pct), wood, air):
        assert (state >= low - 1e-6).all()
        assert (state <= high + 1e-6).all()


def test_a_step_of_no_days_leaves_the_wood_as_it_was() -> None:
    one = np.ones(1)
    wood = diffusion.Wood(0.01 * one, 0.1 * one, 0.08 * one, 0.0 * one, 3000.0 * one, one)
    start = np.linspace(12.0, 40.0, diffusion.CELLS)[:, None]
    air = diffusion.AirSteps(np.zeros(1), np.full(1, 9.0), np.full(1, 15.0))
    for state in diffusion.march(start, wood, air):
        assert state == pytest.approx(start)


def test_unknowns_at_their_middle_give_the_middle_of_what_is_believed() -> None:
    piece = drying_priors.Piece(np.array([[25.0]]), np.array([[0.56]]), np.array([[70.0]]))
    z = np.zeros((drying_priors.GRADIENT + 1, 1, 1))
    wood = drying_priors.wood_of(z, piece)
    assert wood.rate_per_day[0, 0] == pytest.approx(drying_priors.D20_RED_OAK_MM2_PER_DAY / 625.0)
    assert wood.emc_factor[0, 0] == 1.0
    mean, gradient = drying_priors.start_of(z, piece)
    assert (mean[0, 0], gradient[0, 0]) == (70.0, drying_priors.MEAN_GRADIENT)
