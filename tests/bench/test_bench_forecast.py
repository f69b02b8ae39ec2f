"""The forecast against slabs whose truth is known, and how fast it is in bulk.

Tuning was done on the seeds of TUNED_ON; what is reported comes from REPORTED alone, and from
REPORTED_PLAIN, where every piece is what its density says. Run with `-m bench -n 0 -s` to see the
tables. REPLICATES of every climate, thickness and density.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from statistics import median
from time import process_time

import numpy as np
import pytest

from inventory.wood.climate import FutureAir, PlaceClimate, future_air, know_place, past_steps
from inventory.wood.diffusion import CELLS
from inventory.wood.drying import FITTED_AT_ONCE, Reading, SlabHistory, forecast_many
from inventory.wood.drying_fit import ITERATIONS
from inventory.wood.drying_history import step_days_for
from inventory.wood.drying_priors import GRADIENT
from inventory.wood.forecast import COLUMNS_AT_ONCE
from tests.bench import ideal_fit, score
from tests.bench.ideal import best_possible
from tests.bench.questions import FRACTIONS, Answer, Question, answered, questions
from tests.bench.truth import THICKNESSES_MM, Floats, true_slabs

# 2001, 3001 and 4001 were reported once: a table that was looked at is no longer fresh.
TUNED_ON = (101, 103, 105, 107, 109, 111, 201, 203, 2001, 3001, 4001)
REPORTED, REPORTED_PLAIN = 5001, 6001
REPLICATES = int(os.environ.get("BENCH_REPLICATES", "8"))

SLABS = 2048
SAMPLES = 64
ROUNDS = 3

pytestmark = pytest.mark.bench


@cache
def scored(seed: int) -> tuple[list[Answer], Floats]:
    """Everything asked of the reported slabs, answered, and the best anyone could have done."""
    scatter = 0.0 if seed == REPORTED_PLAIN else 1.0
    asked = list(questions(true_slabs(seed, REPLICATES, scatter), seed + 1))
    return answered(asked), best_possible(asked, seed + 2)


both = pytest.mark.parametrize("seed", [REPORTED, REPORTED_PLAIN])


@both
def test_the_reported_slabs_are_not_the_ones_tuned_on(seed: int) -> None:
    assert seed not in TUNED_ON


@both
def test_the_table(seed: int) -> None:
    answers, best = scored(seed)
    kind = "pieces as their density says" if seed == REPORTED_PLAIN else "pieces that scatter"
    sys.stdout.write(f"\n{kind}, seed {seed}\n" + score.table(answers, best) + "\n")
    assert len(answers) > 60 * REPLICATES


@both
def test_the_interval_covers_as_often_as_it_says(seed: int) -> None:
    """Pieces as their density says are covered oftener: they are surer than wood is."""
    come = score.arriving(scored(seed)[0])
    most = 0.94 if seed == REPORTED_PLAIN else 0.88
    assert 0.75 <= score.share(a.is_covered for a in come) <= most
    for thickness in THICKNESSES_MM:
        same = [a for a in come if a.question.slab.thickness_mm == thickness]
        assert score.share(a.is_covered for a in same) >= 0.70


@both
def test_never_is_said_rightly_and_seldom_wrongly(seed: int) -> None:
    rightly, wrongly = score.never_rates(scored(seed)[0])
    assert rightly >= 0.92
    assert wrongly <= 0.02


@both
def test_the_median_is_neither_always_early_nor_always_late(seed: int) -> None:
    come = score.arriving(scored(seed)[0])
    assert 0.20 <= score.share(a.median < a.question.remaining for a in come) <= 0.65


@both
def test_better_than_both_rivals_in_every_cell(seed: int) -> None:
    for fraction, climate, thickness, group in score.cells(scored(seed)[0]):
        ours = score.median_miss(group)
        where = f"{climate}, {thickness:g} mm at {fraction:g}"
        assert ours < score.median_miss(group, "line"), where
        assert ours < score.median_miss(group, "year_an_inch"), where


def test_the_miss_is_at_most_a_few_times_what_the_weather_alone_costs() -> None:
    answers, best = scored(REPORTED)
    for fraction in FRACTIONS:
        at = [i for i, a in enumerate(answers) if a.question.fraction == fraction]
        ours = score.median_miss(score.arriving([answers[i] for i in at]))
        assert ours < 3.5 * np.nanmedian(best[at])


@pytest.mark.parametrize(
    ("seed", "limits"),
    [
        # Tuning slabs: 10.4, 10.1 and 11.8 % at a quarter, half and three quarters of the way.
        (REPORTED, (0.125, 0.115, 0.135)),
        # Tuning slabs: 7.1, 8.7 and 11.5 %. Aimed at: 7, 8 and 12 %.
        (REPORTED_PLAIN, (0.078, 0.09, 0.13)),
    ],
)
def test_the_miss_stays_where_tuning_left_it(seed: int, limits: tuple[float, ...]) -> None:
    come = score.arriving(scored(seed)[0])
    for fraction, most in zip(FRACTIONS, limits, strict=True):
        assert score.median_miss([a for a in come if a.question.fraction == fraction]) < most


def test_what_the_readings_could_tell_and_no_more() -> None:
    """On tuning slabs: the true physics fitted to the same readings does no better than we do.

    Not even that, told how true pieces scatter, comes to the misses aimed at (7 and 8 % at a
    quarter and half of the way): what is left is the meter's, the few checks' and the weather's.
    """
    asked = list(_tuning_questions())
    misses = {
        "wood known, air by the record": _shares_off(
            asked, ideal_fit.medians_knowing_the_wood(asked)
        ),
        "true physics, same readings": _shares_off(asked, ideal_fit.medians(asked)),
        "the forecast": np.array([a.share_off(a.median) for a in answered(asked)]),
    }
    sys.stdout.write(f"\n{len(asked)} questions\n" + score.by_fraction(asked, misses) + "\n")
    known, truly, ours = (float(np.median(off)) for off in misses.values())
    assert known < truly
    assert ours < 1.15 * truly


def _tuning_questions() -> Iterator[Question]:
    """Every third that arrives within the days the true physics is carried."""
    for seed in TUNED_ON[:3]:
        come = [q for q in questions(true_slabs(seed, 2), seed + 1) if q.remaining < 560]
        yield from come[::3]


def _shares_off(asked: list[Question], days: Floats) -> Floats:
    remaining = np.array([question.remaining for question in asked])
    return np.asarray(np.abs(days - remaining) / remaining)


# Speed


def a_place() -> PlaceClimate:
    rng = np.random.default_rng(1)
    days = np.arange(738_000.0, 738_800.0)
    season = np.cos(2 * np.pi * days / 365.2425)
    emc = 12 + 2 * season + rng.normal(0, 1.5, len(days))
    return know_place(days, emc, 11 - 9 * season + rng.normal(0, 3, len(days)))


def many_histories(place: PlaceClimate) -> list[SlabHistory]:
    """Two months to a year and a half of monthly checks, five readings each."""
    rng = np.random.default_rng(2)
    histories = []
    for _ in range(SLABS):
        span, thickness = int(rng.integers(60, 550)), float(rng.choice(THICKNESSES_MM))
        emc, temp = place.days_between(738_800 - span, 738_799)
        readings = [
            Reading(-day, 12 + 40 * np.exp((day - span) / thickness / 2) + rng.normal(0, 0.5), at)
            for day in range(span - 2, 0, -30)
            for at in (0.211, 0.211, 0.211, 0.1, 0.5)
        ]
        air = past_steps(emc, temp, 7)
        sg = float(rng.uniform(0.35, 0.8))
        histories.append(SlabHistory(thickness, sg, readings, air))
    return histories


def bare_arithmetic(columns: int, steps: int) -> None:
    """The floor: an exponential of every cell and a Thomas solve a step, in place, and no more."""
    state, widths = np.full((CELLS, columns), 20.0), np.linspace(0.04, 0.26, CELLS)
    diffusivity, diagonal = np.empty_like(state), np.empty_like(state)
    for _ in range(steps):
        np.exp(np.multiply(state, 0.08, out=diffusivity), out=diffusivity)
        np.add(diffusivity, widths[:, None], out=diagonal)
        for i in range(CELLS - 1, 0, -1):
            share = diffusivity[i] / diagonal[i]
            state[i - 1] += share * state[i]
            diagonal[i - 1] -= share * diffusivity[i]
        state[0] /= diagonal[0]
        for i in range(1, CELLS):
            state[i] = (state[i] + diffusivity[i] * state[i - 1]) / diagonal[i]
        state[:] = 20.0


def floor(histories: list[SlabHistory], air: FutureAir) -> None:
    """The bare arithmetic of as many steps on arrays as large as the forecast's own."""
    steps = sorted(len(history.air.days) for history in histories)
    for begin in range(0, len(steps), FITTED_AT_ONCE):
        longest = steps[begin + FITTED_AT_ONCE - 1]
        bare_arithmetic(FITTED_AT_ONCE * (GRADIENT + 2), longest * (ITERATIONS + 1))
        bare_arithmetic(FITTED_AT_ONCE * SAMPLES, longest)
        rounds = FITTED_AT_ONCE * SAMPLES // COLUMNS_AT_ONCE
        bare_arithmetic(COLUMNS_AT_ONCE, rounds * len(air.steps.days))


def seconds(work: Callable[[], object]) -> float:
    begin = process_time()
    work()
    return process_time() - begin


@pytest.mark.parametrize("horizon_days", [731, 1461])
def test_bulk_forecasts_against_the_bare_arithmetic(horizon_days: int) -> None:
    place = a_place()
    air = future_air(place, last_known_day=738_799, horizon_days=horizon_days, step_days=7)
    histories = many_histories(place)
    forecast_many(histories[:FITTED_AT_ONCE], air, 12.0)
    pairs = [
        (
            seconds(lambda: forecast_many(histories, air, 12.0)),
            seconds(lambda: floor(histories, air)),
        )
        for _ in range(ROUNDS)
    ]
    ours, bare = (median(column) for column in zip(*pairs, strict=True))
    sys.stdout.write(
        f"\n{horizon_days} days ahead: {SLABS / ours:.0f} slabs a second, "
        f"{1e3 * ours / SLABS:.2f} ms a slab, {ours / bare:.2f} times the bare arithmetic\n"
    )
    assert ours / bare < 4.0


def test_one_slab_after_one_check() -> None:
    place = a_place()
    [history] = [h for h in many_histories(place) if h.span_days > 500][:1]
    emc, temp = place.days_between(738_800 - int(history.span_days), 738_799)
    fine = past_steps(emc, temp, step_days_for(history.span_days))
    history = replace(history, air=fine)
    air = future_air(place, last_known_day=738_799)
    took = [seconds(lambda: forecast_many([history], air, 12.0)) for _ in range(7)]
    sys.stdout.write(f"\none slab, {len(fine.days)} steps behind it: {median(took):.3f} s\n")
    assert median(took) < 1.0
