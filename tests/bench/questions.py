"""Questions put to the forecast and its rivals about slabs whose truth is known, and the score."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from inventory.reading_plan import CORE_SHARE, SHELL_SHARE, Depth, plan
from inventory.wood.climate import FutureAir, PlaceClimate, future_air, know_place, past_steps
from inventory.wood.drying import Forecast, Reading, SlabHistory, forecast_many
from inventory.wood.drying_history import step_days_for
from inventory.wood.moisture import AIM_SHARE
from tests.bench.truth import RECORD_BEFORE, THICKNESSES_MM, TrueSlab

FRACTIONS = (0.25, 0.5, 0.75)
METER_NOISE_PCT = 0.5
# A week between checks of the thinnest, three weeks for the thickest, give or take 40 %.
USUAL_DAYS_BETWEEN = (7.0, 14.0, 21.0)
LENGTH_MM = 2400.0
DEPTH_SHARES = {Depth.AIM: AIM_SHARE, Depth.SHELL: SHELL_SHARE, Depth.CORE: CORE_SHARE}
HORIZON_DAYS = 1826


@dataclass(frozen=True)
class Question:
    """Asked on `day` of a slab's life: when will it be at `target_pct`? `arrival` is the truth."""

    slab: TrueSlab
    readings: tuple[Reading, ...]
    target_pct: float
    fraction: float
    day: int
    arrival: float | None

    @property
    def remaining(self) -> float:
        return (self.arrival if self.arrival is not None else np.inf) - self.day


@dataclass(frozen=True)
class Answer:
    """Days from now, infinite where not within sight, of the forecast and the rivals."""

    question: Question
    median: float
    low: float
    high: float
    is_never: bool
    line: float
    year_an_inch: float

    def share_off(self, days: float) -> float:
        return abs(days - self.question.remaining) / self.question.remaining

    @property
    def is_covered(self) -> bool:
        return self.low <= self.question.remaining <= self.high

    @property
    def is_open(self) -> bool:
        """Whether the interval has no end within the horizon: one that cannot fail to cover."""
        return bool(np.isinf(self.high))

    @property
    def width_share(self) -> float:
        return np.inf if self.is_open else (self.high - self.low) / self.question.remaining


def questions(slabs: Iterable[TrueSlab], seed: int) -> Iterator[Question]:
    """Every slab's targets at a quarter, half and three quarters of the way, with its checks."""
    rng = np.random.default_rng(seed)
    for slab in slabs:
        checks = _checks(slab, rng)
        for target in (*slab.climate.arrives, slab.climate.never):
            arrival = slab.arrival(target)
            for fraction in FRACTIONS:
                day = int(fraction * (arrival if arrival is not None else _settled(slab)))
                if day >= 2 and (arrival is None or arrival - day >= 3):
                    known = tuple(r for r in checks if r.day <= day)
                    yield Question(slab, known, target, fraction, day, arrival)


def _settled(slab: TrueSlab) -> float:
    """When a slab that never arrives has come within 1 % of its driest: its way's end."""
    return float(np.flatnonzero(slab.mean <= slab.mean.min() + 1.0)[0])


def _checks(slab: TrueSlab, rng: np.random.Generator) -> list[Reading]:
    """Irregular checks from the first days on, of the readings the entry page asks for."""
    usual = float(np.interp(slab.thickness_mm, THICKNESSES_MM, USUAL_DAYS_BETWEEN))
    depths = [DEPTH_SHARES[planned.depth] for planned in plan(LENGTH_MM, slab.thickness_mm)]
    readings: list[Reading] = []
    day = float(rng.uniform(0, 2))
    while day < len(slab.mean) - 2:
        for depth in depths:
            true = slab.at_depth(depth, day)
            readings.append(Reading(day, true + rng.normal(0, METER_NOISE_PCT), depth))
        day += usual * float(np.exp(rng.normal(0, 0.4)))
    return readings


def place_of(question: Question) -> PlaceClimate:
    """What the place's logger had recorded by the day of the question, a tenth of it missing."""
    air = question.slab.air
    rng = np.random.default_rng(question.day)
    known = RECORD_BEFORE + question.day
    days = air.day_zero - RECORD_BEFORE + np.arange(known)
    kept = rng.random(known) > 0.1
    return know_place(days[kept].astype(float), air.emc[:known][kept], air.temp[:known][kept])


def history_of(question: Question, place: PlaceClimate) -> SlabHistory:
    zero, now = question.slab.air.day_zero, question.day
    emc, temp = place.days_between(zero, zero + now - 1)
    readings = [Reading(r.day - now, r.mc_pct, r.depth_share, r.weight) for r in question.readings]
    air = past_steps(emc, temp, step_days_for(now))
    return SlabHistory(
        question.slab.thickness_mm, question.slab.sg, readings, air, starts_even=True
    )


def answered(asked: Sequence[Question], samples: int = 64) -> list[Answer]:
    """Every question put to the forecast, all slabs fitted together, and to the rivals."""
    places = [place_of(question) for question in asked]
    histories = [history_of(q, place) for q, place in zip(asked, places, strict=True)]
    airs = [air_to_come(q, place, samples) for q, place in zip(asked, places, strict=True)]
    forecasts = forecast_many(histories, airs, [question.target_pct for question in asked])
    return [_answer(q, forecast) for q, forecast in zip(asked, forecasts, strict=True)]


def air_to_come(question: Question, place: PlaceClimate, samples: int = 64) -> FutureAir:
    return future_air(
        place,
        last_known_day=question.slab.air.day_zero + question.day - 1,
        samples=samples,
        horizon_days=HORIZON_DAYS,
        seed=question.day,
    )


def _answer(question: Question, forecast: Forecast) -> Answer:
    return Answer(
        question,
        _days(forecast.median_day),
        _days(forecast.low_day),
        _days(forecast.high_day),
        forecast.is_never,
        straight_line(question),
        365.0 * question.slab.thickness_mm / 25.4 - question.day,
    )


def _days(day: float | None) -> float:
    return np.inf if day is None else day


def straight_line(question: Question) -> float:
    """Days until the line through the last two checks (at 0.211) meets the target."""
    days = sorted({r.day for r in question.readings})[-2:]
    if len(days) < 2:
        return float(np.inf)
    earlier, later = (_aimed_mean(question, day) for day in days)
    slope = (later - earlier) / (days[1] - days[0])
    if slope >= 0:
        return float(np.inf)
    return max(0.0, days[1] + (question.target_pct - later) / slope - question.day)


def _aimed_mean(question: Question, day: float) -> float:
    aimed = [r.mc_pct for r in question.readings if r.day == day and r.depth_share == AIM_SHARE]
    return float(np.mean(aimed))
