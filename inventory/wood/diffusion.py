"""Moisture moving out of a slab: one-dimensional diffusion through half the thickness.

Half the thickness is cut into a few cells that widen from the face inwards. Up to fibre saturation
water moves bound in the cell walls, exponentially faster the wetter they are, and as vapour through
the lumens, for which moisture matters little (Siau, *Transport Processes in Wood*, 1984, from
memory); above it diffusivity goes over to φ times what it was. Warmth speeds it by Arrhenius. At
the face a conductance stands in series with the first half cell. What drives water off the face is
the difference in vapour pressure, so the conductance, in moisture, follows the slope of the
sorption isotherm: a point of moisture drives less the damper the wood. Each step is semi-implicit
(coefficients from its beginning, moistures from its end), so no step is too long to be stable; the
tridiagonal system is symmetric and is solved by Thomas's algorithm over the cells, for any number
of slabs and samples at once.

Arrays are shaped (cells, …), where … is whatever the caller carries: slabs, samples, or both.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.floating[Any]]

CELLS = 10
WIDENING = 1.3
FSP_PCT = 29.0
REFERENCE_MC_PCT = 12.0
REFERENCE_KELVIN = 293.15
ZERO_C_KELVIN = 273.15
# Over this many % MC above fibre saturation φ comes in, as water comes to hang together.
PHI_RAMP_PCT = 15.0
# What of the diffusivity at 12 % is vapour: with Siau's 0.115 per 1 % MC in the cell wall it
# leaves whole wood the usual 0.075 there.
VAPOUR_SHARE = 0.35
# Fog reaches fibre saturation; the driving force must keep its sign all the same.
WETTEST_EMC_PCT = FSP_PCT - 1.0
# Relative humidity over wood of moisture M: 1 − exp(−(A + B M) M), after Henderson (1952), fitted
# to the Wood Handbook's EMC at 20 °C within 0.02 (a test holds it there).
ISOTHERM_A, ISOTHERM_B = 0.0323, 0.00438
LEAST_GAP_PCT = 0.05


@dataclass(frozen=True)
class Wood:
    """How moisture moves in each slab or sample. Arrays broadcast to the state's trailing shape.

    `rate_per_day`: D20 / L², with D20 the diffusivity (mm²/day) at 20 °C and 12 % MC and L half
    the thickness (mm). `face_resistance`: D20 / (κ L), κ the face's conductance (mm/day) about
    12 % MC. `rise_per_pct`: b, so that bound water's part of D grows by exp(b) per 1 % MC.
    `ln_phi`: ln of the factor above fibre saturation. `kelvin`: E/R of Arrhenius (K), which speeds
    the face too. `emc_factor`: this piece's equilibrium over the air's EMC.
    """

    rate_per_day: Array
    face_resistance: Array
    rise_per_pct: Array
    ln_phi: Array
    kelvin: Array
    emc_factor: Array

    def kept_as(self, kind: npt.DTypeLike) -> Wood:
        """The same in numbers of another kind (float32 is quicker)."""
        values = {field.name: getattr(self, field.name).astype(kind) for field in fields(self)}
        return Wood(**values)


@dataclass(frozen=True)
class AirSteps:
    """Air in steps: `days` each lasts, its mean EMC (%) and temperature (°C).

    Steps come first, shape (steps, …), and … broadcasts to the state's trailing shape. A step of
    no days leaves its slabs as they were.
    """

    days: Array
    emc_pct: Array
    temp_c: Array


@cache
def cell_widths(cells: int = CELLS, widening: float = WIDENING) -> Array:
    """Widths of the cells from the face inwards, as shares of half the thickness."""
    widths = widening ** np.arange(cells, dtype=np.float64)
    widths /= widths.sum()
    widths.setflags(write=False)
    return widths


@cache
def cell_centres(cells: int = CELLS, widening: float = WIDENING) -> Array:
    """Centres of the cells, from 0 (face) to 1 (mid-thickness)."""
    widths = cell_widths(cells, widening)
    centres: Array = np.cumsum(widths) - widths / 2.0
    centres.setflags(write=False)
    return centres


def dryness(mc_pct: npt.ArrayLike) -> Array:
    """1 − the relative humidity (0 to 1) that wood of this moisture (%) is at rest with."""
    mc = np.asarray(mc_pct)
    return np.asarray(np.exp(-(ISOTHERM_A + ISOTHERM_B * mc) * mc))


# Slope of the isotherm at REFERENCE_MC_PCT, per 1 % MC.
REFERENCE_SLOPE = float(
    (ISOTHERM_A + 2.0 * ISOTHERM_B * REFERENCE_MC_PCT) * dryness(REFERENCE_MC_PCT)
)


def mean_of_cells(state: Array) -> Array:
    """Mean moisture content of each slab from its cells, shape (cells, …) → (…)."""
    widths = cell_widths(len(state)).astype(state.dtype)
    return np.asarray(np.tensordot(widths, state, axes=1))


@cache
def cell_bends(cells: int = CELLS, widening: float = WIDENING) -> Array:
    """Each cell's mean of (1 − x)², x from 0 at the face to 1 at mid-thickness."""
    inward = 1.0 - cell_centres(cells, widening)
    bends: Array = inward**2 + cell_widths(cells, widening) ** 2 / 12.0
    bends.setflags(write=False)
    return bends


def depth_weights(depth_share: Array, cells: int = CELLS) -> Array:
    """Weights that read a state at a depth: shape (…) → (…, cells).

    `depth_share` is the depth from a face over the thickness, 0 to 1 (from the far face it counts
    back). Moisture is taken as linear in (1 − x)² between neighbouring cells and beyond the
    outermost: exact for a parabolic profile, and level at mid-thickness as it must be.
    """
    bend = (1.0 - 2.0 * np.minimum(depth_share, 1.0 - np.asarray(depth_share))) ** 2
    bends = cell_bends(cells)
    right = np.clip(np.searchsorted(-bends, -bend), 1, cells - 1)
    share = ((bends[right - 1] - bend) / (bends[right - 1] - bends[right]))[..., None]
    unit = np.eye(cells)
    return np.asarray((1.0 - share) * unit[right - 1] + share * unit[right])


def parabolic_start(mean_pct: Array, gradient: Array, emc_pct: Array, cells: int = CELLS) -> Array:
    """A starting profile: even for `gradient` 0, parabolic with its face at the EMC for 1.

    Arrays of one shape (…) → (cells, …). The mean over the cells is `mean_pct` either way.
    """
    shape = 0.5 - 1.5 * cell_bends(cells)
    drop = gradient * (np.minimum(mean_pct, FSP_PCT) - emc_pct)
    return np.asarray(mean_pct + np.multiply.outer(shape, drop))


def march(start: Array, wood: Wood, air: AirSteps) -> Iterator[Array]:
    """Carry a state (cells, …) in % MC through the air, yielding it after each step.

    The array yielded is overwritten by the next step: copy what is kept.
    """
    stepper = _Stepper(start, wood)
    coldness = 1.0 / REFERENCE_KELVIN - 1.0 / (air.temp_c + ZERO_C_KELVIN)
    for step in range(len(coldness)):
        reach = air.days[step] * wood.rate_per_day * np.exp(wood.kelvin * coldness[step])
        emc = np.minimum(air.emc_pct[step] * wood.emc_factor, WETTEST_EMC_PCT)
        stepper.advance(reach, emc)
        yield stepper.state


class _Stepper:
    """The arithmetic of a step, with its scratch arrays made once."""

    def __init__(self, start: Array, wood: Wood) -> None:
        self.state = start.copy()
        self._wood = wood
        cells = len(start)
        kind = start.dtype
        upright = (-1, *[1] * (start.ndim - 1))
        self._widths = cell_widths(cells).astype(kind).reshape(upright)
        self._nearness = (0.5 / np.diff(cell_centres(cells))).astype(kind).reshape(upright)
        self._half = kind.type(cell_widths(cells)[0] / 2.0)
        self._relative = np.empty_like(start)
        self._links = np.empty_like(start[1:])
        self._diagonal = np.empty_like(start)
        self._scratch = np.empty_like(start[0])

    def advance(self, reach: Array, emc: Array) -> None:
        """One step of `reach` = days × rate × warmth, in air of `emc`."""
        self._set_relative_diffusivity()
        face = self._face_link(reach, emc)
        links, relative = self._links, self._relative
        np.add(relative[1:], relative[:-1], out=links)
        links *= self._nearness
        links *= reach
        self._solve(face, emc)

    def _set_relative_diffusivity(self) -> None:
        """D over D20: bound water's exp(b (min(M, FSP) − 12)) beside vapour, times φ when wet."""
        wood, state, out = self._wood, self.state, self._relative
        np.minimum(state, FSP_PCT, out=out)
        out -= REFERENCE_MC_PCT
        out *= wood.rise_per_pct
        np.exp(out, out=out)
        out *= 1.0 - VAPOUR_SHARE
        out += VAPOUR_SHARE
        if state.max() > FSP_PCT:
            above = np.clip((state - FSP_PCT) * (1.0 / PHI_RAMP_PCT), 0.0, 1.0)
            above *= wood.ln_phi
            out *= np.exp(above, out=above)

    def _face_link(self, reach: Array, emc: Array) -> Array:
        """Link of the first cell to the air, scaled so that it acts on M − EMC."""
        outer = self.state[0]
        gap = np.minimum(outer, FSP_PCT)
        gap -= emc
        gap[np.abs(gap) < LEAST_GAP_PCT] = LEAST_GAP_PCT
        driven = dryness(emc)
        driven -= dryness(emc + gap)
        gap *= REFERENCE_SLOPE
        gap /= driven
        gap *= self._wood.face_resistance
        gap += self._half / self._relative[0]
        link = np.divide(reach, gap, out=gap)
        if outer.max() > FSP_PCT:
            wet = outer > FSP_PCT
            link = np.where(wet, link * (FSP_PCT - emc) / np.maximum(outer - emc, 1.0), link)
        return np.asarray(link)

    def _solve(self, face: Array, emc: Array) -> None:
        """The system of a step, set up and solved in place."""
        state, links, diagonal = self.state, self._links, self._diagonal
        state *= self._widths
        state[0] += face * emc
        diagonal[:] = self._widths
        diagonal[0] += face
        diagonal[:-1] += links
        diagonal[1:] += links
        self._eliminate()

    def _eliminate(self) -> None:
        """Thomas's algorithm from the core to the face and back, in place."""
        state, links, diagonal, scratch = self.state, self._links, self._diagonal, self._scratch
        last = len(state) - 1
        for i in range(last, 0, -1):
            np.divide(links[i - 1], diagonal[i], out=scratch)
            state[i - 1] += scratch * state[i]
            scratch *= links[i - 1]
            diagonal[i - 1] -= scratch
        state[0] /= diagonal[0]
        for i in range(1, last + 1):
            np.multiply(links[i - 1], state[i - 1], out=scratch)
            state[i] += scratch
            state[i] /= diagonal[i]
