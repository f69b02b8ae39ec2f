"""When a slab will be dry: its weighted samples carried through the air to come.

Each sample of a slab's unknowns lives through its own sample of the air. The day its mean
moisture first comes down to the target is one possible date; the weighted dates are the answer.
Fit once, carry through as many places as are asked about.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inventory.wood.climate import FutureAir
from inventory.wood.diffusion import WETTEST_EMC_PCT, AirSteps, Array, march, mean_of_cells
from inventory.wood.drying_fit import Fitted, standard_points

LOW, MIDDLE, HIGH = 0.10, 0.50, 0.90
INTERVAL = np.array([LOW, MIDDLE, HIGH])
# Slabs × samples carried at once: what stays in a processor's nearer cache.
COLUMNS_AT_ONCE = 4096
# Seven figures are plenty for the years to come, and half as long to reckon.
CARRIED_AS = np.float32
CURVE_EVERY_DAYS = 14
YEAR_DAYS = 365
SEASON_DAYS = 90
# Within this of the year's EMC a slab has settled: what has not come by then will not come.
SETTLED_PCT = 0.8
# Said to be never when this share of the samples is stopped by the air.
NEVER_FROM_SHARE = 0.85
# What the fit does not know of itself, as a spread of the time that remains; and the share by
# which its medians would run late (both set on the bench's tuning slabs).
REMAINING_SPREAD = 0.04
RUNS_LATE_SHARE = 0.015


@dataclass(frozen=True)
class Forecast:
    """The answer for one slab in one place's air.

    Days count from now; `median_day`, `low_day` and `high_day` (an 80 % interval) are None beyond
    the horizon. `arrivals` (samples, sorted) and `shares` (their weights, summing to 1) are the
    whole distribution, infinite where a sample does not arrive. The curve has the mean moisture
    on `curve_days`: 10, 50 and 90 % points. `is_never` says that it will not get there in this
    air; then `emc_in_the_way_pct` is the EMC it settles at, through the year.
    """

    target_pct: float
    horizon_days: float
    median_day: float | None
    low_day: float | None
    high_day: float | None
    is_never: bool
    emc_in_the_way_pct: float | None
    now_pct: float
    curve_days: Array
    curve_low_pct: Array
    curve_pct: Array
    curve_high_pct: Array
    arrivals: Array
    shares: Array

    @property
    def is_there(self) -> bool:
        """Whether it has probably come down to the target already."""
        return self.now_pct <= self.target_pct

    def p_by(self, day: float) -> float:
        """Probability of having come down to the target by a day from now."""
        return float(np.clip(self.shares[self.arrivals <= day].sum(), 0.0, 1.0))


@dataclass(frozen=True)
class _Carried:
    """What a march through the air to come leaves: all (slabs, samples) but the means."""

    means: Array
    arrivals: Array
    stopped: Array
    settles_at_pct: Array


def carry(fitted: Fitted, air: FutureAir, targets_pct: npt.ArrayLike) -> list[Forecast]:
    """Answers for every slab of a fit in one place's air; `targets_pct` one each, or one for all.

    Raises ValueError when the air does not have as many samples as the fit.
    """
    if air.samples != fitted.weights.shape[1]:
        raise ValueError("The air to come must have as many samples as the fit.")
    targets = np.broadcast_to(np.asarray(targets_pct, dtype=np.float64), (len(fitted),))
    at_once = max(1, COLUMNS_AT_ONCE // air.samples)
    answers: list[Forecast] = []
    for begin in range(0, len(fitted), at_once):
        part = slice(begin, begin + at_once)
        answers += _answers(fitted.take(part), air, targets[part])
    return answers


def _answers(fitted: Fitted, air: FutureAir, targets: Array) -> list[Forecast]:
    carried = _carried(fitted, air, targets)
    points = _quantiles(carried.arrivals, fitted.weights)
    never = (carried.stopped * fitted.weights).sum(axis=1) >= NEVER_FROM_SHARE
    settles = (carried.settles_at_pct * fitted.weights).sum(axis=1)
    shown, curve_days = _shown(air)
    curve = _quantiles(carried.means[shown], fitted.weights)
    order = np.argsort(carried.arrivals, axis=1)
    arrivals = np.take_along_axis(carried.arrivals, order, axis=1)
    shares = np.take_along_axis(fitted.weights, order, axis=1)
    horizon = float(air.ends_after_days[-1])
    return [
        Forecast(
            target_pct=float(targets[i]),
            horizon_days=horizon,
            low_day=_within(points[0, i]),
            median_day=None if never[i] else _within(points[1, i]),
            high_day=None if never[i] else _within(points[2, i]),
            is_never=bool(never[i]),
            emc_in_the_way_pct=float(settles[i]) if never[i] else None,
            now_pct=float(curve[1, 0, i]),
            curve_days=curve_days,
            curve_low_pct=curve[0, :, i],
            curve_pct=curve[1, :, i],
            curve_high_pct=curve[2, :, i],
            arrivals=arrivals[i],
            shares=shares[i],
        )
        for i in range(len(fitted))
    ]


def _within(day: float) -> float | None:
    return float(day) if np.isfinite(day) else None


def _shown(air: FutureAir) -> tuple[npt.NDArray[np.intp], Array]:
    """Which of the means (now first) make the curve, and the days from now they stand at."""
    days = np.concatenate([[0.0], air.ends_after_days])
    wanted = np.append(np.arange(0.0, days[-1], CURVE_EVERY_DAYS), days[-1])
    shown = np.unique(np.searchsorted(days, wanted - 1e-6).clip(max=len(days) - 1))
    return shown, days[shown]


def _carried(fitted: Fitted, air: FutureAir, targets: Array) -> _Carried:
    """March the samples and note when each first comes down to its target."""
    wood = fitted.wood
    steps = AirSteps(
        air.steps.days[:, :, None].astype(CARRIED_AS),
        air.steps.emc_pct[:, None].astype(CARRIED_AS),
        air.steps.temp_c[:, None].astype(CARRIED_AS),
    )
    means = np.empty((len(air.steps.days) + 1, *fitted.weights.shape))
    means[0] = fitted.mean_now_pct
    for i, state in enumerate(
        march(fitted.state.astype(CARRIED_AS), wood.kept_as(CARRIED_AS), steps)
    ):
        means[i + 1] = mean_of_cells(state)
    arrivals = _spread_out(_first_passage(means, targets, air.ends_after_days))
    yearly, driest = _air_levels(air)
    settles_at = np.minimum(yearly * wood.emc_factor, WETTEST_EMC_PCT)
    lowest = means[-_last_year(air) :].min(axis=0)
    out_of_reach = driest * wood.emc_factor >= targets[:, None]
    stopped = np.isinf(arrivals) & (out_of_reach | (lowest < settles_at + SETTLED_PCT))
    return _Carried(means, arrivals, stopped, settles_at)


def _first_passage(means: Array, targets: Array, ends: Array) -> Array:
    """Day each sample's mean first is at its target, (slabs, samples); infinite if never."""
    below = means <= targets[:, None]
    first = below.argmax(axis=0)
    arrives = np.take_along_axis(below, first[None], axis=0)[0]
    before = np.maximum(first - 1, 0)
    high = np.take_along_axis(means, before[None], axis=0)[0]
    low = np.take_along_axis(means, first[None], axis=0)[0]
    share = (high - targets[:, None]) / np.maximum(high - low, 1e-9)
    days = np.concatenate([[0.0], ends])
    reached = days[before] + np.clip(share, 0.0, 1.0) * (days[first] - days[before])
    return np.where(arrives, np.where(first == 0, 0.0, reached), np.inf)


def _spread_out(arrivals: Array) -> Array:
    """Times that remain, centred and spread by what the fit does not know of itself."""
    odd = standard_points(arrivals.shape[1], 9)[8]
    return np.asarray(arrivals * (1.0 - RUNS_LATE_SHARE) * np.exp(REMAINING_SPREAD * odd))


def _last_year(air: FutureAir) -> int:
    """Number of the steps that make up the last year of the air to come."""
    ends = air.ends_after_days
    return max(1, int((ends > ends[-1] - YEAR_DAYS).sum()))


def _air_levels(air: FutureAir) -> tuple[Array, Array]:
    """Mean EMC over whole years and of the driest season of each sample, (samples,)."""
    days, ends = air.steps.days, air.ends_after_days
    whole = ends <= max(1.0, ends[-1] // YEAR_DAYS) * YEAR_DAYS
    yearly = np.average(air.steps.emc_pct[whole], axis=0, weights=days[whole, 0])
    sums = np.cumsum(air.steps.emc_pct * days, axis=0)
    before = np.searchsorted(ends, ends - SEASON_DAYS, side="right") - 1
    full = before >= 0
    if not full.any():
        return yearly, yearly
    lengths = (ends - ends[before])[full, None]
    return yearly, ((sums - sums[before])[full] / lengths).min(axis=0)


def _quantiles(values: Array, weights: Array) -> Array:
    """Weighted 10, 50 and 90 % points over the last axis: (…, slabs, samples) → (3, …, slabs).

    Each sample stands for the middle of its weight; between samples the points are interpolated.
    """
    order = np.argsort(values, axis=-1)
    ordered = np.take_along_axis(values, order, axis=-1)
    weight = np.take_along_axis(np.broadcast_to(weights, values.shape), order, axis=-1)
    middle = np.cumsum(weight, axis=-1) - weight / 2.0
    return np.stack([_at_share(ordered, middle, share) for share in INTERVAL])


def _at_share(ordered: Array, middle: Array, share: float) -> Array:
    """The value where the cumulated weight `middle` passes `share`, along the last axis."""
    right = np.clip((middle < share).sum(axis=-1), 1, ordered.shape[-1] - 1)[..., None]
    low, high = (_picked(ordered, right - k) for k in (1, 0))
    low_share, high_share = (_picked(middle, right - k) for k in (1, 0))
    part = np.clip((share - low_share) / np.maximum(high_share - low_share, 1e-12), 0.0, 1.0)
    known = np.isfinite(high)
    inside = low + part * np.subtract(high, low, out=np.zeros_like(low), where=known)
    return np.where(known | (part <= 0.0), inside, np.inf)


def _picked(values: Array, place: npt.NDArray[np.intp]) -> Array:
    return np.asarray(np.take_along_axis(values, place, axis=-1)[..., 0])
