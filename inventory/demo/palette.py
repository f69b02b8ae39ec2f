"""Colour of wood by tone, and the order of rings by depth under the bark.

A picture is drawn as one number a pixel, its tone (0 the species' usual colour, -1
its dark lines, above 0 paler), and a share of heartwood; both index one table.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from inventory.demo.look import SpeciesLook
from inventory.demo.noise import F32

TONE_MIN, TONE_MAX = -3.0, 1.5
TONES, SAP_LEVELS = 256, 16
RING_STEP_MM = 0.05
_RING_DEPTH_MM = 1400.0
_DRAWN_SPACING = 1.5
"""Rings are drawn this much wider than they grow: a screen cannot show every one."""


@lru_cache(maxsize=128)
def colour_table(look: SpeciesLook, wet: bool) -> NDArray[np.uint32]:
    """Packed RGBA by (heart share level * TONES + tone level), flat."""
    heart, sap, late = (np.array(c, dtype=np.float64) for c in (look.heart, look.sap, look.late))
    heart_ramp = _ramp(late * 0.16, late, heart, _paler(heart, sap))
    sap_ramp = _ramp(late * 0.18, 0.5 * late + 0.5 * sap, sap, _paler(sap, np.full(3, 255.0)))
    share = np.linspace(0, 1, SAP_LEVELS)[:, None, None]
    table = _wetted(heart_ramp, sap_ramp, share) if wet else _mixed(heart_ramp, sap_ramp, share)
    packed = np.full((SAP_LEVELS * TONES, 4), 255, dtype=np.uint8)
    packed[:, :3] = np.clip(table, 0, 255).reshape(-1, 3).round()
    return packed.view(np.uint32)[:, 0].copy()


def _paler(colour: NDArray[np.float64], towards: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(0.68 * colour + 0.32 * towards + 6)


def _ramp(*stops: NDArray[np.float64]) -> NDArray[np.float64]:
    """Colours (TONES, 3) through four stops at tones -3, -1, 0 and 1."""
    tones = np.linspace(TONE_MIN, TONE_MAX, TONES)
    at = [-3.0, -1.0, 0.0, 1.0]
    return np.column_stack([np.interp(tones, at, [s[c] for s in stops]) for c in range(3)])


def _mixed(
    heart: NDArray[np.float64], sap: NDArray[np.float64], share: NDArray[np.float64]
) -> NDArray[np.float64]:
    return np.asarray(sap * (1 - share) + heart * share)


def _wetted(
    heart: NDArray[np.float64], sap: NDArray[np.float64], share: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Darker, richer and with more contrast, as water or finish makes it."""
    dry = _mixed(heart, sap, share) / 255.0
    deep = dry**1.32 * 0.93
    grey = deep.mean(axis=-1, keepdims=True)
    return np.asarray((grey + 1.28 * (deep - grey)) * 255.0)


@lru_cache(maxsize=256)
def ring_tones(look: SpeciesLook, px_per_m: int) -> F32:
    """Tone by depth under the bark in steps of RING_STEP_MM, softened for the scale."""
    rng = np.random.default_rng([len(look.common_name), sum(map(ord, look.common_name))])
    fine = _ring_profile(look, rng)
    softened = ndimage.gaussian_filter1d(fine, 0.5 * 1000 / px_per_m / RING_STEP_MM)
    return np.asarray(softened + _slow_bands(fine.size, rng), dtype=np.float32)


def _ring_widths(look: SpeciesLook, rng: np.random.Generator) -> NDArray[np.float64]:
    count = int(_RING_DEPTH_MM / look.ring_mm)
    seasons = rng.normal(0, 0.22, count)
    decades = ndimage.gaussian_filter1d(rng.normal(0, 1, count), 5) * 0.75
    return np.asarray(_DRAWN_SPACING * look.ring_mm * np.exp(seasons + decades))


def _ring_profile(look: SpeciesLook, rng: np.random.Generator) -> NDArray[np.float64]:
    """One saw-tooth a ring, each with its own strength; depth grows towards the pith."""
    edges = np.concatenate([[0.0], np.cumsum(_ring_widths(look, rng))])
    depth = np.arange(int(_RING_DEPTH_MM / RING_STEP_MM)) * RING_STEP_MM
    ring = np.searchsorted(edges, depth, side="right") - 1
    ring = np.minimum(ring, edges.size - 2)
    age = 1 - (depth - edges[ring]) / (edges[ring + 1] - edges[ring])
    strength = np.exp(rng.normal(0, 0.42, edges.size))[ring]
    wave = np.maximum(_season(look.porosity, age) * strength, -1.1)
    return np.asarray(wave - wave.mean())


def _season(porosity: str, age: NDArray[np.float64]) -> NDArray[np.float64]:
    """Tone through one year; `age` 0 is spring, 1 the winter boundary."""
    if porosity == "ring":
        return -0.95 * np.exp(-((age / 0.30) ** 2)) + 0.22 * age
    if porosity == "semi-ring":
        return -0.55 * np.exp(-age / 0.22) - 0.55 * np.exp(-(((age - 0.97) / 0.09) ** 2))
    if porosity == "softwood":
        return 0.35 - 1.25 * np.clip((age - 0.30) / 0.70, 0, 1) ** 2.2
    return -0.8 * np.exp(-(((age - 0.94) / 0.09) ** 2)) - 0.35 * age


def _slow_bands(size: int, rng: np.random.Generator) -> NDArray[np.float64]:
    """Groups of rings that grew darker or paler together."""
    coarse = rng.normal(0, 1, size // 40 + 2)
    bands = 0.6 * _unit(coarse, 9.0) + 0.5 * _unit(rng.normal(0, 1, coarse.size), 3.0)
    return np.asarray(0.42 * np.interp(np.arange(size) / 40, np.arange(coarse.size), bands))


def _unit(values: NDArray[np.float64], blur: float) -> NDArray[np.float64]:
    smooth = ndimage.gaussian_filter1d(values, blur)
    return np.asarray(smooth / smooth.std())
