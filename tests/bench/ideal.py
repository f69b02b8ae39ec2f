"""What nobody could better: the true wood, carried from its true state through other weather.

The physics, the constants, the profile and the climate are all known; only the weather to come is
not. What is then missed is the weather's, and no forecast can be asked to do better.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tests.bench import truth
from tests.bench.questions import Question
from tests.bench.truth import RECORD_BEFORE, Floats, TrueSlab

WEATHERS = 15
HORIZON_DAYS = 900
AT_ONCE = 60


def best_possible(asked: Sequence[Question], seed: int) -> Floats:
    """For each question the share the best median is off by; NaN where it does not arrive."""
    rng = np.random.default_rng(seed)
    off = np.full(len(asked), np.nan)
    places = [i for i, q in enumerate(asked) if q.remaining < HORIZON_DAYS * 0.8]
    for begin in range(0, len(places), AT_ONCE):
        some = places[begin : begin + AT_ONCE]
        days = np.median(_arrivals([asked[i] for i in some], rng), axis=1)
        remaining = np.array([asked[i].remaining for i in some])
        off[some] = np.abs(days - remaining) / remaining
    return off


def _arrivals(asked: Sequence[Question], rng: np.random.Generator) -> Floats:
    """Days to the target in each of WEATHERS other weathers, (questions, weathers)."""
    each = [question for question in asked for _ in range(WEATHERS)]
    airs = [_weather_from(q.slab, q.day, rng) for q in each]
    emc, temp = (np.stack(column, axis=1) for column in zip(*airs, strict=True))
    wood = wood_of([question.slab for question in each])
    thickness = np.array([question.slab.thickness_mm for question in each])
    now = np.stack([question.slab.profile[question.day] for question in each]).astype(float)
    target = np.array([question.target_pct for question in each])
    widths = np.diff(truth.edges(thickness), axis=1)
    found = np.full(len(each), np.inf)
    for day in range(HORIZON_DAYS):
        left = np.flatnonzero(np.isinf(found))
        if not left.size:
            break
        part = wood.take(left)
        air = emc[day, left] * part.sorption
        now[left] = truth.step(now[left], widths[left], part, air, temp[day, left])
        mean = (now[left] * widths[left]).sum(axis=1) / thickness[left]
        found[left[mean <= target[left]]] = day + 0.5
    return found.reshape(len(asked), WEATHERS)


def _weather_from(slab: TrueSlab, day: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Air of the slab's climate from the question's day of the year on."""
    air = truth.weather(slab.climate, rng, days=HORIZON_DAYS + 366)
    skip = (slab.air.day_zero + day - (air.day_zero - RECORD_BEFORE)) % 365
    return air.emc[skip : skip + HORIZON_DAYS], air.temp[skip : skip + HORIZON_DAYS]


def wood_of(slabs: Sequence[TrueSlab]) -> truth.Wood:
    """The true constants of slabs, side by side."""
    names = truth.Wood.__dataclass_fields__
    return truth.Wood(
        **{name: np.concatenate([getattr(slab.wood, name) for slab in slabs]) for name in names}
    )
