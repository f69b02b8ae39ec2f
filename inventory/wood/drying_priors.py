"""What is believed of a slab before it is measured: wide priors from published anchors.

Diffusivity and face conductance: an inch of red oak at the medians dries between the tunnel
times of Tschernitz and Simpson, Wood Science 11(4):202-208 (1979), and the shortest time of a pile
in a yard, FPL Technical Note 233 (from memory); a test holds them there. Above fibre saturation:
as at it, more or less by φ (common practice in drying models). With density: between the geometry
of the lumens (Siau, *Transport Processes in Wood*, 1984, from memory: D ∝ G^-2.2) and the shortest
air-drying times by species (FPL Technical Note 233: about G^-1.2). With moisture: b = 0.115 per
1 % in the cell wall (Siau 1984). With warmth: E/R is 1860 K in the red-oak times, 4200 K in
Siau's bound water, and 5300 K for the vapour pressure that drives the face.

Unknowns are carried as z, each with a standard normal prior.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inventory.wood.diffusion import Array, Wood

RED_OAK_SG = 0.56
D20_RED_OAK_MM2_PER_DAY = 4.3
KAPPA_RED_OAK_MM_PER_DAY = 3.65
DENSITY_EXPONENT = -1.6
# A flux of water through the face dries light wood faster, in % of its oven-dry mass.
KAPPA_DENSITY_EXPONENT = -1.0
SG_UNKNOWN = 0.55
LIGHTEST_SG, HEAVIEST_SG = 0.15, 1.3

D20, PHI, KAPPA, RISE, KELVIN, EMC, START, GRADIENT = range(8)
NAMES = ("D20", "φ", "κ", "b", "E/R", "EMC factor", "start", "starting gradient")
# Medians and spreads of the logarithm, in the order above; the last is not a logarithm.
MEDIAN_PHI, MEDIAN_RISE, MEDIAN_KELVIN = 1.0, 0.115, 4000.0
SPREAD = np.array([0.40, 0.60, 0.45, 0.25, 0.20, 0.035, 0.35, 0.40])
MEAN_GRADIENT = 0.5


@dataclass(frozen=True)
class Piece:
    """What is fixed of each slab. Arrays of shape (slabs, 1).

    `half_mm`: half the thickness; `sg`: basic specific gravity; `start_pct`: the middle of what
    is believed of its mean moisture at the start.
    """

    half_mm: Array
    sg: Array
    start_pct: Array


def wood_of(z: Array, piece: Piece) -> Wood:
    """Diffusion constants of unknowns z, shape (unknowns, slabs, columns)."""
    relative = np.clip(piece.sg, LIGHTEST_SG, HEAVIEST_SG) / RED_OAK_SG
    d20 = D20_RED_OAK_MM2_PER_DAY * relative**DENSITY_EXPONENT * np.exp(SPREAD[D20] * z[D20])
    kappa = KAPPA_RED_OAK_MM_PER_DAY * relative**KAPPA_DENSITY_EXPONENT
    kappa = kappa * np.exp(SPREAD[KAPPA] * z[KAPPA])
    return Wood(
        rate_per_day=d20 / piece.half_mm**2,
        face_resistance=d20 / (kappa * piece.half_mm),
        rise_per_pct=MEDIAN_RISE * np.exp(SPREAD[RISE] * z[RISE]),
        ln_phi=np.log(MEDIAN_PHI) + SPREAD[PHI] * z[PHI],
        kelvin=MEDIAN_KELVIN * np.exp(SPREAD[KELVIN] * z[KELVIN]),
        emc_factor=np.exp(SPREAD[EMC] * z[EMC]),
    )


def start_of(z: Array, piece: Piece) -> tuple[Array, Array]:
    """Mean moisture (%) at the start and the gradient then (0 even, 1 face at the EMC)."""
    mean = piece.start_pct * np.exp(SPREAD[START] * z[START])
    if len(z) <= GRADIENT:
        return mean, np.zeros_like(mean)
    return mean, MEAN_GRADIENT + SPREAD[GRADIENT] * z[GRADIENT]
