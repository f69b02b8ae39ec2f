"""Air to equilibrium moisture content (EMC) and back.

The two-hydrate sorption equation of Hailwood and Horrobin with the degree-Celsius coefficients of
W. T. Simpson, *Equilibrium moisture content of wood in outdoor locations in the United States and
worldwide*, USDA FPL Research Note FPL-RN-0268 (1998); the same form stands in the *Wood Handbook*,
FPL-GTR-190 (2010), chapter 4. It is one curve for all species: real pieces scatter by 1 to 2 points
of moisture content around it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import overload

import numpy as np
import numpy.typing as npt
import psychrolib

Floats = npt.NDArray[np.float64]

LEAST_TEMP_C = -40.0
GREATEST_TEMP_C = 120.0
# The published table begins at 30 °F. Carried on into deeper frost, the fitted polynomials turn
# downwards (3 points of EMC too low at −40 °C), so colder air is given the coefficients of 30 °F.
COLDEST_TABLED_C = (30.0 - 32.0) / 1.8
BISECTION_STEPS = 60

psychrolib.SetUnitSystem(psychrolib.SI)


class OutOfRange(ValueError):
    """A number that no air, or no wood in air, can have. Its text is a sentence for the screen."""


@dataclass(frozen=True)
class WindowMean:
    """The mean of a record over a window, and how much of the window the record covers.

    `mean` is None when nothing is covered; `covered_share` runs from 0 to 1; `records` counts the
    records that carry weight.
    """

    mean: float | None
    covered_share: float
    records: int


@overload
def emc_pct(temp_c: float, rh_pct: float) -> float: ...
@overload
def emc_pct(temp_c: Floats, rh_pct: Floats | float) -> Floats: ...
@overload
def emc_pct(temp_c: float, rh_pct: Floats) -> Floats: ...
def emc_pct(temp_c: float | Floats, rh_pct: float | Floats) -> float | Floats:
    """Equilibrium moisture content (% of oven-dry mass) in air of `temp_c` (°C) and `rh_pct` (%).

    Floats give a float; arrays are broadcast together and give an array. Raises OutOfRange for a
    relative humidity outside 0–100, air outside −40…120 °C, or a number that is missing (NaN).
    Below 30 °F, where the published table ends, the coefficients of 30 °F are held.
    """
    temp, rh = _checked_temp(temp_c), _checked_rh(rh_pct)
    return _same_kind(_two_hydrate(np.maximum(temp, COLDEST_TABLED_C), rh / 100.0))


@overload
def rh_pct_for_emc(temp_c: float, emc_pct: float) -> float: ...
@overload
def rh_pct_for_emc(temp_c: Floats, emc_pct: Floats | float) -> Floats: ...
@overload
def rh_pct_for_emc(temp_c: float, emc_pct: Floats) -> Floats: ...
def rh_pct_for_emc(temp_c: float | Floats, emc_pct: float | Floats) -> float | Floats:
    """Relative humidity (%) at which air of `temp_c` (°C) holds wood at `emc_pct` (%).

    The inverse of `emc_pct`, by bisection (the equation rises steadily with humidity). Raises
    OutOfRange where no humidity from 0 to 100 % reaches that moisture content.
    """
    temp = np.maximum(_checked_temp(temp_c), COLDEST_TABLED_C)
    target = np.asarray(emc_pct, dtype=np.float64)
    _refuse_unreachable(temp, target)
    temp, target = np.broadcast_arrays(temp, target)
    low, high = np.zeros(target.shape), np.ones(target.shape)
    for _ in range(BISECTION_STEPS):
        middle = (low + high) / 2.0
        too_dry = _two_hydrate(temp, middle) < target
        low, high = np.where(too_dry, middle, low), np.where(too_dry, high, middle)
    return _same_kind((low + high) * 50.0)


def rh_from_wet_bulb(temp_c: float, wet_bulb_c: float, pressure_pa: float = 101325.0) -> float:
    """Relative humidity (%) from dry and wet bulb (°C) at a pressure in Pa, through PsychroLib.

    Raises OutOfRange when the wet bulb is warmer than the dry bulb, or so cold that no air could
    give it.
    """
    dry, wet = _checked_pair(temp_c, wet_bulb_c, "wet bulb")
    if not 30_000.0 <= pressure_pa <= 120_000.0:
        raise OutOfRange(f"Air pressure of {pressure_pa:g} Pa is not found where wood is kept.")
    saturated = psychrolib.GetSatVapPres(dry)
    if saturated >= pressure_pa:
        raise OutOfRange(f"Air at {dry:g} °C is above boiling: a wet bulb says nothing there.")
    rh_pct = 100.0 * float(psychrolib.GetRelHumFromTWetBulb(dry, wet, pressure_pa))
    # The library floors its humidity ratio at 1e-7, so a bulb too cold for any air comes out as
    # bone dry instead of impossible; the driest wet bulb possible tells the two apart.
    if rh_pct < 0.05 and wet < dry - 1.0:
        raise OutOfRange(
            f"A wet bulb of {wet:g} °C is colder than even bone-dry air at {dry:g} °C would give."
        )
    return min(rh_pct, 100.0)


def rh_from_dew_point(temp_c: float, dew_point_c: float) -> float:
    """Relative humidity (%) from the air's temperature and dew point (°C), through PsychroLib.

    Raises OutOfRange when the dew point is above the air's temperature or below −100 °C.
    """
    dry, dew = _checked_pair(temp_c, dew_point_c, "dew point")
    return min(100.0 * float(psychrolib.GetRelHumFromTDewPoint(dry, dew)), 100.0)


def time_weighted_mean(
    times_s: Sequence[float] | Floats,
    values: Sequence[float] | Floats,
    *,
    end_s: float,
    window_s: float = 30 * 86400,
    gap_s: float = 7 * 86400,
) -> WindowMean:
    """Mean of an irregular record over the `window_s` seconds that end at `end_s`.

    Each record holds until the next one (the last until `end_s`) and weighs by the part of the
    window it so covers; one taken before the window opens still covers into it. A stretch longer
    than `gap_s` without a record is a gap: not covered by anything. Order does not matter; of two
    records at one instant the later in the list holds; records after `end_s` are not looked at.

    `times_s` and `values` are of equal length, seconds on one clock and any one unit. Raises
    ValueError for unequal lengths or numbers that are missing.
    """
    times, numbers = _checked_record(times_s, values, window_s, gap_s)
    known = times <= end_s
    times, numbers = times[known], numbers[known]
    order = np.argsort(times, kind="stable")
    times, numbers = times[order], numbers[order]
    until = np.append(times[1:], end_s)[: times.size]
    held = until - np.maximum(times, end_s - window_s)
    weight = np.where(until - times > gap_s, 0.0, np.maximum(held, 0.0))
    covered = float(weight.sum())
    if covered <= 0.0:
        return _at_the_instant(times, numbers, end_s)
    mean = float((weight * numbers).sum() / covered)
    return WindowMean(mean, min(covered / window_s, 1.0), int((weight > 0).sum()))


def _at_the_instant(times: Floats, numbers: Floats, end_s: float) -> WindowMean:
    """A record taken this very moment has covered no time yet, but is all we need to know."""
    if times.size and times[-1] == end_s:
        return WindowMean(float(numbers[-1]), 0.0, 1)
    return WindowMean(None, 0.0, 0)


def _two_hydrate(temp_c: Floats, h: Floats) -> Floats:
    """The bare equation: no limits, h as a fraction."""
    t = temp_c
    w = 349.0 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    kh = k * h
    hydrated = (k1 * kh + 2.0 * k1 * k2 * kh**2) / (1.0 + k1 * kh + k1 * k2 * kh**2)
    return np.asarray(1800.0 / w * (kh / (1.0 - kh) + hydrated), dtype=np.float64)


def _same_kind(numbers: Floats) -> float | Floats:
    return float(numbers) if numbers.ndim == 0 else numbers


def _checked_temp(temp_c: float | Floats) -> Floats:
    temp = np.asarray(temp_c, dtype=np.float64)
    wrong = ~((temp >= LEAST_TEMP_C) & (temp <= GREATEST_TEMP_C))
    if wrong.any():
        raise OutOfRange(
            f"The air's temperature must be between −40 and 120 °C, not {_first(temp, wrong)}."
        )
    return temp


def _checked_rh(rh_pct: float | Floats) -> Floats:
    rh = np.asarray(rh_pct, dtype=np.float64)
    wrong = ~((rh >= 0.0) & (rh <= 100.0))
    if wrong.any():
        raise OutOfRange(f"Relative humidity must be between 0 and 100 %, not {_first(rh, wrong)}.")
    return rh


def _first(numbers: Floats, wrong: npt.NDArray[np.bool_]) -> str:
    number = float(numbers[wrong].flat[0])
    return "a missing number" if np.isnan(number) else f"{number:g}"


def _refuse_unreachable(temp: Floats, target: Floats) -> None:
    wettest = _two_hydrate(temp, np.ones(1))
    wrong = ~((target >= 0.0) & (target <= wettest))
    if wrong.any():
        number = _first(np.broadcast_to(target, wrong.shape), wrong)
        raise OutOfRange(f"No air at this temperature keeps wood at {number} % moisture content.")


def _checked_pair(temp_c: float, other_c: float, name: str) -> tuple[float, float]:
    dry, other = float(_checked_temp(temp_c)), float(other_c)
    if not -100.0 <= other <= 200.0:
        raise OutOfRange(f"The {name} must be between −100 and 200 °C, not {other:g}.")
    if other > dry:
        raise OutOfRange(
            f"The {name} ({other:g} °C) cannot be above the air's own temperature ({dry:g} °C)."
        )
    return dry, other


def _checked_record(
    times_s: Sequence[float] | Floats,
    values: Sequence[float] | Floats,
    window_s: float,
    gap_s: float,
) -> tuple[Floats, Floats]:
    times, numbers = np.asarray(times_s, dtype=np.float64), np.asarray(values, dtype=np.float64)
    if times.shape != numbers.shape or times.ndim != 1:
        raise ValueError("Each time needs one value.")
    if not (np.isfinite(times).all() and np.isfinite(numbers).all()):
        raise ValueError("The record has a missing number.")
    if window_s <= 0 or gap_s <= 0:
        raise ValueError("The window and the gap must be longer than nothing.")
    return times, numbers
