"""Plain air and plain histories for the tests of drying."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from inventory.wood.climate import FutureAir, PlaceClimate, future_air, know_place, past_steps
from inventory.wood.drying import Reading, SlabHistory
from inventory.wood.moisture import AIM_SHARE

Floats = npt.NDArray[np.float64]
FIRST_DAY = 738_000


def daily_air(days: int, emc_pct: float = 12.0, noise: float = 1.0) -> tuple[Floats, Floats]:
    """Daily EMC and temperature: damp cold winters, dry warm summers, and weather."""
    rng = np.random.default_rng(5)
    season = np.cos(2 * np.pi * (FIRST_DAY + np.arange(days)) / 365.2425)
    emc = emc_pct * (1 + 0.12 * season) + noise * rng.normal(0, 1.0, days)
    return emc, 15.0 - 6.0 * season + noise * rng.normal(0, 2.0, days)


def a_place(days: int = 800, emc_pct: float = 12.0) -> PlaceClimate:
    emc, temp = daily_air(days, emc_pct)
    return know_place(np.arange(FIRST_DAY, FIRST_DAY + days).astype(float), emc, temp)


def air_ahead(emc_pct: float = 12.0, *, horizon_days: int = 1096, seed: int = 0) -> FutureAir:
    """Air to come, from day 0 of the histories below."""
    place = a_place(emc_pct=emc_pct)
    return future_air(
        place,
        last_known_day=FIRST_DAY + 799,
        horizon_days=horizon_days,
        step_days=7,
        seed=seed,
    )


def falling(days: float, tau: float, *, start: float = 60.0, to: float = 12.0) -> float:
    """Moisture after some days of first-order drying."""
    return float(to + (start - to) * np.exp(-days / tau))


def a_history(
    *,
    span: int = 120,
    every: int = 20,
    thickness_mm: float = 50.0,
    tau: float = 60.0,
    sg: float | None = 0.55,
    noise: float = 0.3,
    extra: Sequence[Reading] = (),
) -> SlabHistory:
    """A slab sawn `span` days ago, checked from then on, drying as `falling` says."""
    rng = np.random.default_rng(11)
    readings = [
        Reading(day - span, falling(day, tau) + noise * rng.normal(), AIM_SHARE)
        for day in range(0, span, every)
    ]
    emc, temp = a_place().days_between(FIRST_DAY + 800 - span, FIRST_DAY + 799)
    air = past_steps(emc, temp, 3)
    return SlabHistory(thickness_mm, sg, [*readings, *extra], air, starts_even=True)
