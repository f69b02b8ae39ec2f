"""Slabs whose drying is known, by other physics than the forecast's, for the bench to ask about.

Moisture here moves through the whole thickness on a fine grid, a day a step, each step iterated
until its coefficients are its own; the forecast has half the thickness, ten cells, steps of
days and lagged coefficients. Diffusivity here is bound water (activation energy falling with
moisture, after Siau 1984) beside vapour through the lumens (following the saturation pressure,
fading as the wood gets wet), with capillary water above a fibre saturation point of the piece's
own; the forecast has one exponential and one Arrhenius. The faces here are driven by relative
humidity through the sorption isotherm, and the two faces differ; there by moisture, and alike.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt
from scipy.linalg import solve_banded
from scipy.signal import lfilter

from inventory.wood.humidity import emc_pct

Floats = npt.NDArray[np.float64]

GAS = 8.314
KELVIN_20 = 293.15
CELLS = 40
YEAR = 365.2425
# Ordinal of a 1 January: where the bench's time begins.
DAY_ZERO = 738156
RECORD_BEFORE = 760
DAYS = RECORD_BEFORE + 6 * 366


@dataclass(frozen=True)
class Climate:
    """A kind of place: mean and seasonal swing of humidity (%) and temperature (°C), and weather.

    Weather is two autoregressive parts each: of some days and of some weeks. `arrives` are targets
    (% MC) wood comes down to here, `never` one it does not, or only by a rare dry spell.
    """

    name: str
    rh: float
    rh_swing: float
    rh_weather: tuple[float, float]
    temp: float
    temp_swing: float
    temp_weather: tuple[float, float]
    arrives: tuple[float, ...]
    never: float


OPEN_SHED = Climate("open shed", 66.0, 7.0, (7.0, 3.0), 10.5, -10.0, (3.0, 1.5), (20.0, 15.0), 8.0)
HEATED_SHOP = Climate(
    "heated shop", 34.0, -7.0, (3.0, 2.0), 20.0, -3.0, (1.0, 1.0), (12.0, 8.0), 5.0
)
CLIMATES = (OPEN_SHED, HEATED_SHOP)
THICKNESSES_MM = (27.0, 54.0, 105.0)
DENSITIES = (0.35, 0.45, 0.55, 0.65, 0.75)


@dataclass(frozen=True)
class Air:
    """Daily EMC (%) and temperature (°C) from RECORD_BEFORE days before the slab's day 0.

    `day_zero` is the ordinal of the slab's day 0.
    """

    emc: Floats
    temp: Floats
    day_zero: int


@dataclass(frozen=True)
class Wood:
    """Constants of pieces, scattered about the usual; arrays (slabs, 1), the faces' (slabs,)."""

    fsp: Floats
    scale: Floats
    vapour_share: Floats
    free: Floats
    near_face: Floats
    far_face: Floats
    sorption: Floats
    start: Floats

    def take(self, which: npt.NDArray[np.intp] | Sequence[int]) -> Wood:
        """The same for some of the pieces, in the order asked for."""
        return Wood(**{field.name: getattr(self, field.name)[which] for field in fields(self)})


@dataclass(frozen=True)
class TrueSlab:
    """A slab, its wood, its air, and its truth: the moisture of every cell on every day.

    `profile` is (days, cells) from day 0 on, `mean` its mean over the thickness.
    """

    climate: Climate
    thickness_mm: float
    sg: float
    air: Air
    wood: Wood
    profile: npt.NDArray[np.float32]
    mean: Floats

    def at_depth(self, share: float, day: float) -> float:
        """Moisture at a share of the thickness from the near face, on a day with a fraction."""
        cut = edges(np.array([self.thickness_mm]))[0]
        middles = (cut[1:] + cut[:-1]) / 2
        first = int(day)
        two = [
            np.interp(share * self.thickness_mm, middles, self.profile[first + k]) for k in (0, 1)
        ]
        return float(two[0] + (day - first) * (two[1] - two[0]))

    def arrival(self, target_pct: float) -> float | None:
        """First day the mean is at the target, or None within the years simulated."""
        below = np.flatnonzero(self.mean <= target_pct)
        if not below.size:
            return None
        day = int(below[0])
        if day == 0:
            return 0.0
        high, low = self.mean[day - 1], self.mean[day]
        return float(day - 1 + (high - target_pct) / (high - low))


def weather(climate: Climate, rng: np.random.Generator, days: int = DAYS) -> Air:
    """Years of daily air from a random day of the year, with a level of its own for each year."""
    day_zero = DAY_ZERO + int(rng.integers(0, 365))
    day = day_zero - RECORD_BEFORE + np.arange(days)
    season = np.cos(2 * np.pi * (day - DAY_ZERO - 15) / YEAR)
    rh = climate.rh + climate.rh_swing * season + _weather(climate.rh_weather, days, rng)
    rh += 3.0 * np.cos(4 * np.pi * (day - DAY_ZERO - 60) / YEAR)
    temp = climate.temp + climate.temp_swing * season + _weather(climate.temp_weather, days, rng)
    years = (day - day[0]) // 365
    rh += rng.normal(0, 1.2, years.max() + 1)[years]
    temp += rng.normal(0, 0.5, years.max() + 1)[years]
    return Air(emc_pct(temp, np.clip(rh, 8.0, 98.0)), temp, day_zero)


def _weather(sizes: tuple[float, float], days: int, rng: np.random.Generator) -> Floats:
    return _wandering(sizes[0], 3.0, days, rng) + _wandering(sizes[1], 25.0, days, rng)


def _wandering(size: float, memory_days: float, days: int, rng: np.random.Generator) -> Floats:
    """A first-order autoregression of standard deviation `size`."""
    keep = np.exp(-1.0 / memory_days)
    shocks = rng.normal(0, size * np.sqrt(1 - keep**2), days)
    shocks[0] = rng.normal(0, size)
    return np.asarray(lfilter([1.0], [1.0, -keep], shocks))


def pieces(sg: Floats, rng: np.random.Generator, scatter: float = 1.0) -> Wood:
    """Pieces of given basic specific gravities, each unlike the next by as much as wood is.

    With `scatter` 0 a piece is what its density says, and its faces are alike.
    """
    count = len(sg)
    face = 2.5 * (0.55 / sg) * np.exp(scatter * rng.normal(0, 0.30, count))
    uneven = np.exp(scatter * rng.normal(0, 0.10, count))
    scale = 3.8 * (0.55 / sg) ** 1.5 * np.exp(scatter * rng.normal(0, 0.30, count))
    return Wood(
        fsp=28.5 + scatter * rng.normal(0, 1.2, count)[:, None],
        scale=scale[:, None],
        vapour_share=0.35 + scatter * rng.uniform(-0.15, 0.15, count)[:, None],
        free=np.exp(-0.2 + scatter * rng.normal(0, 0.4, count))[:, None],
        near_face=face * uneven,
        far_face=face / uneven,
        sorption=np.exp(scatter * rng.normal(0, 0.02, count)),
        start=np.clip(110 - 65 * sg + scatter * rng.normal(0, 10, count), 42, 110),
    )


def diffusivity(mc: Floats, kelvin: Floats, wood: Wood) -> Floats:
    """mm²/day. Bound water and vapour up to fibre saturation, capillary water above."""
    bound_mc = np.minimum(mc, wood.fsp)
    bound = np.exp(
        (38500 - 290 * 12) / (GAS * KELVIN_20) - (38500 - 290 * bound_mc) / (GAS * kelvin)
    )
    vapour = saturation(kelvin) * np.maximum(1.35 - bound_mc / 34.0, 0.3)
    below = (1 - wood.vapour_share) * bound + wood.vapour_share * vapour
    wetness = np.clip((mc - wood.fsp) / 25.0, 0, 1)
    return wood.scale * below * (1 + (wood.free - 1) * wetness * (2 - wetness))


def saturation(kelvin: Floats) -> Floats:
    """Saturation vapour pressure over that at 20 °C (Clausius-Clapeyron)."""
    return np.asarray(np.exp(5300.0 * (1 / KELVIN_20 - 1 / kelvin)))


_ISOTHERM_RH = np.linspace(0.0, 100.0, 401)
_ISOTHERM_MC = emc_pct(20.0, _ISOTHERM_RH)


def activity(mc: Floats) -> Floats:
    """Relative humidity (share) wood of this moisture is at rest with, at 20 °C."""
    return np.asarray(np.interp(mc, _ISOTHERM_MC, _ISOTHERM_RH / 100.0))


def edges(thickness_mm: Floats) -> Floats:
    """Edges of the cells through the whole thickness, finer at the faces, (slabs, cells + 1)."""
    share = (1 - np.cos(np.pi * np.arange(CELLS + 1) / CELLS)) / 2
    return np.asarray(thickness_mm[:, None] * share)


def profiles(
    thickness_mm: Floats, wood: Wood, emc: Floats, temp: Floats, substeps: int = 1
) -> Floats:
    """Moisture of every cell day by day, (days + 1, slabs, cells); air (days, slabs)."""
    widths = np.diff(edges(thickness_mm), axis=1)
    found = np.empty((len(emc) + 1, *widths.shape))
    found[0] = wood.start[:, None]
    for day in range(len(emc)):
        now = found[day]
        for _ in range(substeps):
            now = step(now, widths, wood, emc[day] * wood.sorption, temp[day], 1.0 / substeps)
        found[day + 1] = now
    return found


def step(
    old: Floats, widths: Floats, wood: Wood, emc: Floats, temp_c: Floats, days: float = 1.0
) -> Floats:
    """One implicit step, iterated until its coefficients belong to its end."""
    kelvin = temp_c + 273.15
    guess = old
    for _ in range(6):
        new = _solved(guess, old, widths, wood, emc, kelvin, days)
        change = float(np.abs(new - guess).max())
        guess = new
        if change < 0.01:
            break
    return guess


def _solved(
    guess: Floats,
    old: Floats,
    widths: Floats,
    wood: Wood,
    emc: Floats,
    kelvin: Floats,
    days: float,
) -> Floats:
    """The linear system with coefficients at `guess`: all slabs in one band, not coupled."""
    inner = diffusivity(guess, kelvin[:, None], wood)
    link = days * 2.0 / (widths[:, :-1] / inner[:, :-1] + widths[:, 1:] / inner[:, 1:])
    near = days * _face(
        guess[:, 0], widths[:, 0] / 2 / inner[:, 0], wood.near_face, kelvin, emc, wood
    )
    far = days * _face(
        guess[:, -1], widths[:, -1] / 2 / inner[:, -1], wood.far_face, kelvin, emc, wood
    )
    apart = np.zeros((len(old), 1))
    bands = np.zeros((3, old.size))
    above = np.hstack([link, apart])
    bands[0, 1:] = -above.ravel()[:-1]
    bands[2] = -above.ravel()
    diagonal = widths + above + np.hstack([apart, link])
    right = widths * old
    for column, face in ((0, near), (-1, far)):
        diagonal[:, column] += face
        right[:, column] += face * emc
    bands[1] = diagonal.ravel()
    return np.asarray(
        solve_banded((1, 1), bands, right.ravel(), check_finite=False).reshape(old.shape)
    )


def _face(
    outer: Floats, within: Floats, face: Floats, kelvin: Floats, emc: Floats, wood: Wood
) -> Floats:
    """Conductance from the outer cell's middle to the air, acting on its moisture less the EMC.

    Driven by the difference in relative humidity; 1/25 per % MC is the isotherm's usual slope.
    """
    wet = np.minimum(outer, wood.fsp[:, 0])
    gap = np.where(np.abs(wet - emc) < 0.05, 0.05, wet - emc)
    slope = (activity(emc + gap) - activity(emc)) / gap
    outside = np.maximum(face * 25.0 * slope * saturation(kelvin) ** 0.8, 1e-9)
    through = 1.0 / (1.0 / outside + within)
    return np.asarray(np.where(outer > wet, through * gap / np.maximum(outer - emc, 1.0), through))


def true_slabs(seed: int, replicates: int, scatter: float = 1.0) -> list[TrueSlab]:
    """Slabs of every climate, thickness and density, `replicates` of each, each in its own air.

    `scatter` is how far pieces stray from what their density says: 1 as wood does, 0 not at all.
    """
    rng = np.random.default_rng(seed)
    kinds = [
        (climate, thickness, sg)
        for _ in range(replicates)
        for climate in CLIMATES
        for thickness in THICKNESSES_MM
        for sg in DENSITIES
    ]
    thickness = np.array([kind[1] for kind in kinds])
    airs = [weather(kind[0], rng) for kind in kinds]
    wood = pieces(np.array([kind[2] for kind in kinds]), rng, scatter)
    lived = slice(RECORD_BEFORE, None)
    emc = np.stack([air.emc[lived] for air in airs], axis=1)
    temp = np.stack([air.temp[lived] for air in airs], axis=1)
    found = profiles(thickness, wood, emc, temp)
    return [_true_slab(kind, airs[i], wood.take([i]), found[:, i]) for i, kind in enumerate(kinds)]


def _true_slab(kind: tuple[Climate, float, float], air: Air, wood: Wood, found: Floats) -> TrueSlab:
    widths = np.diff(edges(np.array([kind[1]]))[0])
    return TrueSlab(*kind, air, wood, found.astype(np.float32), found @ widths / kind[1])
