"""What a place's own records say of its air: its days, its typical year, and the air to come.

Most of what remains uncertain about a drying date is the weather. So the air to come is not one
line but an ensemble: the place's typical year plus stretches of the departures it has really shown,
EMC and temperature together, beginning from the weather of the last days (`weather`).

Days are ordinals (`date.toordinal()`); EMC in % of oven-dry mass, temperature in °C.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from inventory.wood import weather
from inventory.wood.diffusion import AirSteps

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

YEAR_DAYS = 365.2425
# A curve through the year needs most of a year: enough days, and no long season unseen.
ENOUGH_DAYS = 300
LONGEST_UNSEEN_DAYS = 45
# From here on a third harmonic is borne by the record.
THREE_HARMONICS_FROM_DAYS = 700
BLOCK_DAYS = 60
WEEK_DAYS, MONTH_DAYS = 7, 30
# A departure from the typical year fades over about this long when the record breaks off.
FADE_DAYS = 7.0
# How much whole years differ from one another beyond what the blocks show.
YEAR_TO_YEAR = np.array([0.3, 0.5])
# Without a year on record: how far off the mean may be, and half the swing between the seasons.
UNSEEN_OFFSET = np.array([0.8, 2.0])
UNSEEN_SWING = np.array([1.5, 6.0])
DRIEST_EMC_PCT, WETTEST_EMC_PCT = 1.0, 28.0
COLDEST_C, HOTTEST_C = -40.0, 70.0


@dataclass(frozen=True)
class PlaceClimate:
    """What is known of one place's air. Columns are EMC and temperature throughout.

    `daily` (days, 2) runs from `first_day` without a gap; `is_measured` says which days are
    records and which were filled. `coefficients` (1 + 2 × harmonics, 2) give the typical year; a
    flat mean has one row. `residuals` (measured days, 2) are what the records depart from it by.
    `offset_sd` (2) is how far the coming years' level may lie off.
    """

    first_day: int
    daily: Floats
    is_measured: Flags
    coefficients: Floats
    residuals: Floats
    offset_sd: Floats

    @property
    def has_curve(self) -> bool:
        """Whether the typical year is a curve fitted to the records, not a flat mean."""
        return len(self.coefficients) > 1

    @property
    def days_on_record(self) -> int:
        return int(self.is_measured.sum())

    @property
    def explanation(self) -> str:
        """One sentence for the page: which of the two it is, and from how much."""
        days = f"{self.days_on_record} day{'' if self.days_on_record == 1 else 's'} of records"
        if self.has_curve:
            return f"The year's course is fitted to {days} from this place."
        return (
            f"Only {days} so far: a flat mean is used, with wide uncertainty, "
            f"until most of a year ({ENOUGH_DAYS} days) is known."
        )

    def typical(self, days: npt.ArrayLike) -> tuple[Floats, Floats]:
        """EMC and temperature of the typical year on days given as ordinals."""
        curve = _harmonics(np.asarray(days, dtype=np.float64), self._harmonic_count)
        values = curve @ self.coefficients
        return values[..., 0], values[..., 1]

    def days_between(self, first_day: int, last_day: int) -> tuple[Floats, Floats]:
        """Daily EMC and temperature, both days included: records, then filled, then typical.

        Outside the record the nearest day's departure fades into the typical year.
        """
        days = np.arange(first_day, last_day + 1)
        place = np.clip(days - self.first_day, 0, len(self.daily) - 1)
        distance = np.abs(days - self.first_day - place)
        emc, temp = self.typical(days)
        typical = np.stack([emc, temp], axis=1)
        nearest = self.daily[place] - np.stack(self.typical(place + self.first_day), axis=1)
        values = typical + nearest * np.exp(-distance / FADE_DAYS)[:, None]
        return values[:, 0], values[:, 1]

    @property
    def _harmonic_count(self) -> int:
        return len(self.coefficients) // 2


@dataclass(frozen=True)
class FutureAir:
    """Air to come, many times over: steps from the day after `last_known_day`.

    `steps` has arrays of shape (steps, samples); `days` in it (steps, 1). `is_from_curve` tells
    whether the typical year behind it is a fitted curve.
    """

    last_known_day: int
    steps: AirSteps
    is_from_curve: bool

    @property
    def samples(self) -> int:
        return int(self.steps.emc_pct.shape[1])

    @property
    def ends_after_days(self) -> Floats:
        """Days from `last_known_day` to the end of each step, shape (steps,)."""
        return np.cumsum(self.steps.days[:, 0], dtype=np.float64)


def know_place(record_days: Floats, emc_pct: Floats, temp_c: Floats) -> PlaceClimate:
    """A place's climate from its records, in any order.

    `record_days` are ordinals with a fraction for the time of day; the three arrays are of one
    length. Records of a day are averaged. Raises ValueError for no records, unequal lengths or
    missing numbers.
    """
    columns = _checked_records(record_days, emc_pct, temp_c)
    first_day, daily, measured = _daily_means(columns)
    day_numbers = first_day + np.flatnonzero(measured)
    coefficients = _typical_year(day_numbers, daily[measured])
    residuals = daily[measured] - _harmonics(day_numbers, len(coefficients) // 2) @ coefficients
    filled = _filled(daily, measured, first_day, coefficients)
    offset_sd = _offset_sd(residuals, has_curve=len(coefficients) > 1)
    return PlaceClimate(first_day, filled, measured, coefficients, residuals, offset_sd)


def assumed_place(emc_pct: float, temp_c: float, day: int) -> PlaceClimate:
    """A place without records, of which someone says what its air is: flat, and uncertain."""
    value = np.array([[emc_pct, temp_c]])
    nothing = np.zeros((1, 2))
    return PlaceClimate(day, value, np.array([False]), value, nothing, UNSEEN_OFFSET)


def joined_days(
    stays: Sequence[tuple[PlaceClimate, int, int]],
) -> tuple[Floats, Floats]:
    """Daily EMC and temperature of wood that was moved: (place, first day, last day) in order.

    Raises ValueError when the stays do not follow one another day by day.
    """
    if any(later[1] != earlier[2] + 1 for earlier, later in pairwise(stays)):
        raise ValueError("A slab's stays must follow one another without a gap or an overlap.")
    parts = [place.days_between(first, last) for place, first, last in stays]
    emc, temp = zip(*parts, strict=True)
    return np.concatenate(emc), np.concatenate(temp)


def past_steps(emc_pct: Floats, temp_c: Floats, step_days: int) -> AirSteps:
    """Daily air up to now as steps that end now; the first may be shorter. Arrays (steps,)."""
    starts = np.arange(len(emc_pct) % step_days, len(emc_pct), step_days)
    if len(starts) == 0 or starts[0] > 0:
        starts = np.insert(starts, 0, 0)
    days = np.diff(np.append(starts, len(emc_pct))).astype(np.float64)
    return AirSteps(
        days, np.add.reduceat(emc_pct, starts) / days, np.add.reduceat(temp_c, starts) / days
    )


def future_air(
    place: PlaceClimate,
    *,
    last_known_day: int,
    samples: int = 64,
    horizon_days: int = 1461,
    step_days: int = 3,
    seed: int = 0,
) -> FutureAir:
    """An ensemble of the air to come in a place, the same for the same seed.

    Each sample is the typical year, plus 60-day stretches of the place's own residuals drawn at
    random (EMC and temperature of the same days), plus a constant offset and what of the curve may
    be chance; where only a flat mean is known, plus a yearly swing of unknown size and phase. The
    residuals go on from those of the last days known, as far as such weather lasts. Steps are
    `step_days` long in the first year, a third of that in the first month, and at least a week
    later on.
    """
    rng = np.random.default_rng([seed, 60])
    starts = _step_starts(horizon_days, step_days)
    days = last_known_day + 1 + np.arange(horizon_days)
    air = np.stack(place.typical(days), axis=1)[:, None, :]
    air = air + _departures(place, last_known_day, horizon_days, samples, rng)
    air += rng.standard_normal((samples, 2)) * place.offset_sd
    seasons = _chance_of_curve if place.has_curve else _unseen_seasons
    air += seasons(place, days, samples, rng)
    lengths = np.diff(np.append(starts, horizon_days)).astype(np.float64)
    stepped = np.add.reduceat(air, starts, axis=0) / lengths[:, None, None]
    return FutureAir(
        last_known_day,
        AirSteps(
            lengths[:, None],
            np.clip(stepped[..., 0], DRIEST_EMC_PCT, WETTEST_EMC_PCT),
            np.clip(stepped[..., 1], COLDEST_C, HOTTEST_C),
        ),
        place.has_curve,
    )


def _step_starts(horizon_days: int, step_days: int) -> npt.NDArray[np.int64]:
    """First days of the steps to come: short while much happens, long when little does."""
    near, far = max(1, step_days // 3), max(WEEK_DAYS, step_days)
    month = np.arange(0, MONTH_DAYS, near)
    year = np.arange(MONTH_DAYS, MONTH_DAYS + 336, step_days)
    later = np.arange(MONTH_DAYS + 336, max(horizon_days, MONTH_DAYS + 337), far)
    starts = np.concatenate([month, year, later])
    return starts[starts < horizon_days]


def _checked_records(record_days: Floats, emc_pct: Floats, temp_c: Floats) -> Floats:
    if not (len(record_days) == len(emc_pct) == len(temp_c)):
        raise ValueError("Each record needs a time, an EMC and a temperature.")
    if len(record_days) == 0:
        raise ValueError("A place without records has no air to know.")
    columns = np.stack([record_days, emc_pct, temp_c], axis=1).astype(np.float64)
    if not np.isfinite(columns).all():
        raise ValueError("The record has a missing number.")
    return columns


def _daily_means(columns: Floats) -> tuple[int, Floats, Flags]:
    """First day, means of each day (NaN where none), and which days have records."""
    days = np.floor(columns[:, 0]).astype(np.int64)
    first_day = int(days.min())
    place = days - first_day
    counts = np.bincount(place)
    sums = np.stack([np.bincount(place, columns[:, i]) for i in (1, 2)], axis=1)
    measured = counts > 0
    daily = np.full(sums.shape, np.nan)
    daily[measured] = sums[measured] / counts[measured, None]
    return first_day, daily, measured


def _harmonics(days: npt.NDArray[np.floating | np.integer], count: int) -> Floats:
    """Columns 1, cos, sin, cos 2, sin 2 … of the year, shape (…, 1 + 2 count)."""
    angle = 2.0 * np.pi * np.asarray(days, dtype=np.float64) / YEAR_DAYS
    waves = [wave(n * angle) for n in range(1, count + 1) for wave in (np.cos, np.sin)]
    return np.stack([np.ones_like(angle), *waves], axis=-1)


def _typical_year(days: npt.NDArray[np.int64], values: Floats) -> Floats:
    count = _harmonics_borne(days)
    waves = _harmonics(days, count)
    fitted = np.asarray(np.linalg.lstsq(waves, values, rcond=None)[0], dtype=np.float64)
    return _less_chance(fitted, _coefficient_sd(values - waves @ fitted))


def _less_chance(coefficients: Floats, sd: Floats) -> Floats:
    """Each harmonic drawn in by as much of its size as chance would give (positive-part shrinkage).

    After James and Stein (1961, from memory); a season that stands out of the weather stays as is.
    """
    kept = coefficients.copy()
    for first in range(1, len(kept), 2):
        size = (kept[first : first + 2] ** 2).sum(axis=0)
        kept[first : first + 2] *= np.maximum(1.0 - 2.0 * sd**2 / np.maximum(size, 1e-12), 0.0)
    return kept


def _harmonics_borne(days: npt.NDArray[np.int64]) -> int:
    """How many harmonics the record bears: none until it has seen most of the year."""
    if len(days) < ENOUGH_DAYS or _longest_unseen(days) > LONGEST_UNSEEN_DAYS:
        return 0
    return 3 if len(days) >= THREE_HARMONICS_FROM_DAYS else 2


def _longest_unseen(days: npt.NDArray[np.int64]) -> float:
    """Longest part of the year, in days, of which no year has a record."""
    seen = np.unique(np.mod(days, YEAR_DAYS))
    gaps = np.diff(np.append(seen, seen[0] + YEAR_DAYS))
    return float(gaps.max())


def _filled(daily: Floats, measured: Flags, first_day: int, coefficients: Floats) -> Floats:
    """Gaps filled by the typical year and the departures of both sides, each fading inwards."""
    places = np.arange(len(daily))
    known = np.flatnonzero(measured)
    typical = _harmonics(first_day + places, len(coefficients) // 2) @ coefficients
    before = known[np.searchsorted(known, places, side="right") - 1]
    after = known[np.minimum(np.searchsorted(known, places), len(known) - 1)]
    left = np.exp(-(places - before) / FADE_DAYS)[:, None]
    right = np.exp(-(after - places) / FADE_DAYS)[:, None]
    departure = left * (daily - typical)[before] + right * (daily - typical)[after]
    filled: Floats = typical + departure / np.maximum(left + right, 1.0)
    filled[measured] = daily[measured]
    return filled


def _offset_sd(residuals: Floats, *, has_curve: bool) -> Floats:
    """How far the level of the years to come may lie off, by the means of the 60-day blocks."""
    if not has_curve:
        return UNSEEN_OFFSET
    means = _block_means(residuals)
    return np.asarray(np.sqrt(means.var(axis=0) / len(means) + YEAR_TO_YEAR**2))


def _coefficient_sd(residuals: Floats) -> Floats:
    """How far weather that lasts puts a harmonic's coefficients off, by the means of the blocks."""
    means = _block_means(residuals)
    return np.asarray(np.sqrt(2.0 * means.var(axis=0) / len(means)))


def _block_means(residuals: Floats) -> Floats:
    """Means of the 60-day blocks (or of all that is less), (blocks, 2)."""
    blocks = max(len(residuals) // BLOCK_DAYS, 1)
    return np.asarray(residuals[: blocks * BLOCK_DAYS].reshape(blocks, -1, 2).mean(axis=1))


def _departures(
    place: PlaceClimate, last_known_day: int, days: int, samples: int, rng: np.random.Generator
) -> Floats:
    """Departures from the typical year to come, (days, samples, 2).

    Where the year is known, those of the last days are taken up: how far they lie from what the
    same sample drew for them is carried on for as long as the place's weather lasts.
    """
    before = weather.LOOK_BACK_DAYS if place.has_curve else 0
    drawn = _drawn_residuals(place.residuals, before, days, samples, rng)
    past, coming = drawn[:before], drawn[before:]
    seen = _seen_last(place, last_known_day, before)
    if len(seen) == 0:
        return coming
    when = last_known_day + seen
    departures = place.daily[when - place.first_day] - np.stack(place.typical(when), axis=1)
    off = departures[:, None] - past[before - 1 + seen]
    ahead = np.arange(1, min(days, weather.LOOK_AHEAD_DAYS) + 1)
    for column in range(2):
        lasting = weather.memory_weights(place.residuals[:, column])
        coming[: len(ahead), :, column] += weather.gain(seen, ahead, lasting) @ off[..., column]
    return coming


def _seen_last(place: PlaceClimate, last_known_day: int, days: int) -> npt.NDArray[np.int64]:
    """Which of the last so many days are on record, as days from the last known (0, −1 …)."""
    back = -np.arange(days)
    at = last_known_day - place.first_day + back
    back = back[(at >= 0) & (at < len(place.daily))]
    return np.asarray(back[place.is_measured[last_known_day - place.first_day + back]])


def _drawn_residuals(
    residuals: Floats, before: int, days: int, samples: int, rng: np.random.Generator
) -> Floats:
    """Blocks of residuals end to end, (before + days, samples, 2); the record is taken as a ring.

    The first block has `before` days more: it runs through from the days before.
    """
    block = min(BLOCK_DAYS, len(residuals))
    more = max(-(-days // block) - 1, 0)
    starts = rng.integers(0, len(residuals), size=(1 + more, 1, samples))
    first = starts[0] + np.arange(before + block)[:, None]
    others = (starts[1:] + np.arange(block)[:, None]).reshape(more * block, samples)
    places = np.concatenate([first, others])[: before + days]
    return np.asarray(residuals[places % len(residuals)])


def _chance_of_curve(
    place: PlaceClimate, days: npt.NDArray[np.int64], samples: int, rng: np.random.Generator
) -> Floats:
    """What of the fitted curve the weather of the recorded years may have made up."""
    waves = _harmonics(days, len(place.coefficients) // 2)[:, 1:]
    off = rng.standard_normal((waves.shape[1], samples, 2)) * _coefficient_sd(place.residuals)
    return np.asarray(np.einsum("dw,wsc->dsc", waves, off))


def _unseen_seasons(
    place: PlaceClimate, days: npt.NDArray[np.int64], samples: int, rng: np.random.Generator
) -> Floats:
    """A yearly swing no record has shown yet, nil on the mean of the days that were recorded."""
    size = rng.standard_normal((2, samples, 2)) * UNSEEN_SWING / np.sqrt(2.0)
    recorded = place.first_day + np.arange(len(place.daily))
    at_record = _harmonics(recorded, 1)[:, 1:].mean(axis=0)
    waves = _harmonics(days, 1)[:, 1:] - at_record
    return np.asarray(np.einsum("dw,wsc->dsc", waves, size))
