"""Drying against published times, rates and exact solutions.

Tschernitz and Simpson, Wood Science 11(4):202-208 (1979), red oak; FOR-128, Table 9, safe rates;
Crank, *The Mathematics of Diffusion* (2nd ed., 1975), section 4.3, the plane sheet.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import brentq

from inventory.wood import diffusion, drying_rates
from inventory.wood.drying_priors import GRADIENT, Piece, wood_of
from inventory.wood.humidity import emc_pct, rh_pct_for_emc
from inventory.wood.moisture import AIM_SHARE
from inventory.wood.species import published_species

# °F; p_sat mmHg; τ at 1 in; days from 85 to 20 % with EMC 12 % at 1, 2 and 3 in.
RED_OAK = [
    (60, 13.2, 13.1, 29, 83, 154),
    (70, 18.7, 11.9, 26, 75, 140),
    (80, 26.1, 10.6, 23, 67, 124),
    (90, 36.0, 9.2, 20, 58, 108),
]
# FOR-128, Table 9: greatest % MC a day at 4/4 and 8/4.
SAFE = [
    ("Fraxinus americana", 10.4, 4.1),
    ("Fagus grandifolia", 4.5, 1.8),
    ("Betula alleghaniensis", 6.1, 2.4),
    ("Prunus serotina", 5.8, 2.3),
    ("Ulmus americana", 10.4, 4.1),
    ("Acer saccharum", 6.5, 2.6),
    ("Acer rubrum", 13.8, 5.5),
    ("Quercus rubra", 3.8, 1.5),
    ("Quercus alba", 2.5, 1.0),
    ("Liquidambar styraciflua", 5.3, 2.1),
    ("Nyssa sylvatica", 10.9, 4.3),
    ("Juglans nigra", 8.2, 3.3),
    ("Liriodendron tulipifera", 13.8, 5.5),
]


def celsius(temp_f: float) -> float:
    return (temp_f - 32.0) / 1.8


@pytest.mark.parametrize("row", RED_OAK)
def test_red_oak_takes_the_published_days(row: tuple[float, ...]) -> None:
    temp_f, pressure, tau, *days = row
    temp_c = celsius(temp_f)
    assert drying_rates.saturation_pressure_mmhg(temp_c) == pytest.approx(pressure, abs=0.15)
    assert drying_rates.red_oak_time_constant_days(25.4, temp_c) == pytest.approx(tau, abs=0.06)
    found = [drying_rates.red_oak_days(25.4 * inches, temp_c, 85, 20, 12) for inches in (1, 2, 3)]
    assert found == pytest.approx(days, abs=0.6)


@pytest.mark.parametrize(("botanical", "one_inch", "two_inch"), SAFE)
def test_safe_rates_at_both_published_thicknesses(
    botanical: str, one_inch: float, two_inch: float
) -> None:
    thin = drying_rates.safe_rate(botanical, 25.4)
    thick = drying_rates.safe_rate(botanical, 50.8)
    assert thin is not None
    assert thick is not None
    assert thin.pct_per_day == pytest.approx(one_inch)
    # One exponent for every row reproduces the printed 8/4 column to its last figure or nearly.
    assert thick.pct_per_day == pytest.approx(two_inch, abs=0.051)
    assert not thick.is_extrapolated


def test_the_published_columns_give_the_exponent() -> None:
    exponents = [math.log(thick / thin) / math.log(2) for _, thin, thick in SAFE]
    assert np.mean(exponents) == pytest.approx(drying_rates.THICKNESS_EXPONENT, abs=0.02)


def test_thicker_stock_than_published_is_said_to_be_extrapolated() -> None:
    twelve, sixteen = (drying_rates.safe_rate("Juglans nigra", 25.4 * n) for n in (3, 4))
    assert twelve is not None
    assert sixteen is not None
    assert twelve.is_extrapolated
    assert twelve.pct_per_day / 8.2 == pytest.approx(0.23, abs=0.005)
    assert sixteen.pct_per_day / 8.2 == pytest.approx(0.16, abs=0.005)


def test_a_species_without_a_published_rate_has_none() -> None:
    assert drying_rates.safe_rate("Dalbergia retusa", 50.0) is None


def test_every_name_in_the_drying_tables_is_a_species_we_know() -> None:
    known = {row.botanical_name for row in published_species()}
    named = drying_rates.SAFE_4_4_PCT_PER_DAY.keys() | drying_rates.AIR_DRYING_1_IN_DAYS.keys()
    assert named <= known


def test_an_inch_of_red_oak_in_a_yard_is_slower_than_in_a_tunnel() -> None:
    """FPL Technical Note 233 (from memory) against the tunnel formula at 70 °F."""
    days = drying_rates.air_drying_days("Quercus rubra")
    assert days is not None
    assert days[0] > drying_rates.red_oak_days(25.4, celsius(70), 85, 20, 12)


def believed_days(thickness_mm: float, sg: float) -> float:
    """Days from 85 to 20 % at 20 °C and EMC 12 % for wood as the forecast believes it unread."""
    piece = Piece(np.array([[thickness_mm / 2]]), np.array([[sg]]), np.array([[85.0]]))
    wood = wood_of(np.zeros((GRADIENT, 1, 1)), piece)
    start = np.full((diffusion.CELLS, 1, 1), 85.0)
    states = diffusion.march(start, wood, constant_air(600, 0.5, 12.0))
    means = [float(diffusion.mean_of_cells(state)[0, 0]) for state in states]
    return float(np.interp(-20.0, -np.array(means), 0.5 * np.arange(1, 601)))


def test_unread_red_oak_is_believed_between_the_tunnel_and_the_yard() -> None:
    """Tschernitz and Simpson's single boards in a wind, and Technical Note 233's quickest pile."""
    yard = drying_rates.air_drying_days("Quercus rubra")
    assert yard is not None
    tunnel = drying_rates.red_oak_days(25.4, 20.0, 85, 20, 12)
    assert tunnel < believed_days(25.4, 0.56) < yard[0]


def test_light_wood_is_believed_quicker_by_about_as_much_as_the_yards_tell() -> None:
    """Technical Note 233 (from memory): yellow-poplar (0.40) in 40 days, red oak (0.56) in 70."""
    quick, slow = (
        drying_rates.AIR_DRYING_1_IN_DAYS[n][0]
        for n in ("Liriodendron tulipifera", "Quercus rubra")
    )
    believed = believed_days(25.4, 0.40) / believed_days(25.4, 0.56)
    assert believed == pytest.approx(quick / slow, abs=0.15)


# The plane sheet


def crank_mean(fourier: float) -> float:
    """Mean share left of a sheet with faces at zero, Crank (1975) eq. 4.18, t scaled by D/L²."""
    odd = 2 * np.arange(400) + 1
    terms = np.exp(-(odd**2) * math.pi**2 * fourier / 4.0) / odd**2
    return float(8.0 / math.pi**2 * terms.sum())


def crank_mean_with_resistance(fourier: float, biot: float) -> float:
    """The same with a conductance at the face, Crank (1975) eq. 4.53: β tan β = Bi."""

    def condition(beta: float) -> float:
        return beta * math.sin(beta) - biot * math.cos(beta)

    roots = [brentq(condition, n * math.pi, n * math.pi + math.pi / 2) for n in range(40)]
    terms = [
        2 * biot**2 * math.exp(-(b**2) * fourier) / (b**2 * (b**2 + biot**2 + biot)) for b in roots
    ]
    return sum(terms)


def even_wood(resistance: float) -> diffusion.Wood:
    """Wood whose diffusivity does not change with moisture; time is in units of L²/D."""
    one = np.ones(1)
    return diffusion.Wood(one, resistance * one, 0.0 * one, 0.0 * one, 0.0 * one, one)


def constant_air(steps: int, days: float, emc_pct: float) -> diffusion.AirSteps:
    return diffusion.AirSteps(np.full(steps, days), np.full(steps, emc_pct), np.full(steps, 20.0))


def dried(resistance: float, *, cells: int, step: float, steps: int) -> list[float]:
    """Means after each step, from 12.1 % in air of EMC 12 %, as the share of the way left.

    Over a tenth of a per cent the isotherm is straight, and the face as Crank's.
    """
    start = np.full((cells, 1), 12.1)
    states = diffusion.march(start, even_wood(resistance), constant_air(steps, step, 12.0))
    return [float(diffusion.mean_of_cells(state)[0] - 12.0) / 0.1 for state in states]


def test_fine_cells_and_steps_meet_the_exact_sheet() -> None:
    found = dried(1e-9, cells=24, step=0.001, steps=1000)
    for fourier in (0.05, 0.2, 0.5, 1.0):
        assert found[round(fourier / 0.001) - 1] == pytest.approx(crank_mean(fourier), abs=0.005)


@pytest.mark.parametrize("biot", [0.5, 2.0, 10.0])
def test_fine_cells_and_steps_meet_the_exact_sheet_with_a_resisting_face(biot: float) -> None:
    found = dried(1.0 / biot, cells=24, step=0.001, steps=1000)
    for fourier in (0.05, 0.2, 0.5, 1.0):
        exact = crank_mean_with_resistance(fourier, biot)
        assert found[round(fourier / 0.001) - 1] == pytest.approx(exact, abs=0.005)


def test_the_cells_used_come_near_the_exact_sheet() -> None:
    found = dried(1 / 4.0, cells=diffusion.CELLS, step=0.01, steps=150)
    for fourier in (0.2, 0.5, 1.0, 1.5):
        exact = crank_mean_with_resistance(fourier, 4.0)
        assert found[round(fourier / 0.01) - 1] == pytest.approx(exact, abs=0.012)


def test_finer_steps_come_nearer() -> None:
    exact = crank_mean_with_resistance(0.4, 4.0)
    misses = [
        abs(dried(0.25, cells=24, step=step, steps=round(0.4 / step))[-1] - exact)
        for step in (0.04, 0.02, 0.01, 0.005)
    ]
    assert all(fine < coarse for coarse, fine in pairwise(misses))


def test_the_isotherm_of_the_face_is_the_handbooks() -> None:
    """Against EMC at 20 °C (Wood Handbook, FPL-GTR-190, eq. 4-5, itself held to Table 4-2)."""
    humidities = np.arange(5.0, 97.0, 2.5)
    told = 100.0 * (1.0 - diffusion.dryness(emc_pct(20.0, humidities)))
    assert told == pytest.approx(humidities, abs=2.0)


def test_a_face_of_damp_wood_gives_off_less_for_a_point_of_moisture() -> None:
    """As much as the handbook's isotherm is flatter there: the same relative humidity apart."""
    flux = [
        float(12.0 + rise - next(one_thin_step(12.0 + rise, 12.0))) for rise in (1.0, 6.0, 12.0)
    ]
    apart = [rh_pct_for_emc(20.0, 12.0 + rise) - rh_pct_for_emc(20.0, 12.0) for rise in (1, 6, 12)]
    assert np.array(flux) / flux[0] == pytest.approx(np.array(apart) / apart[0], rel=0.12)


def one_thin_step(mc_pct: float, emc: float) -> Iterator[float]:
    """Wood held back by its face alone, for a moment."""
    start = np.full((diffusion.CELLS, 1), mc_pct)
    for state in diffusion.march(start, even_wood(1e4), constant_air(1, 0.01, emc)):
        yield float(diffusion.mean_of_cells(state)[0])


@pytest.mark.parametrize("start_pct", [18.0, 27.0, 80.0])
def test_what_leaves_the_wood_is_what_passes_the_face(start_pct: float) -> None:
    """Mass balance: the loss of the mean equals the flux through the face, step by step."""
    one = np.ones(1)
    wood = diffusion.Wood(
        0.018 * one, 0.15 * one, 0.09 * one, math.log(2.5) * one, 3000.0 * one, 1.1 * one
    )
    before = np.full((diffusion.CELLS, 1), start_pct)
    for state in diffusion.march(before, wood, constant_air(60, 3.0, 10.0)):
        outer, old = state[0], before[0]
        bound = np.minimum(old, diffusion.FSP_PCT)
        inner = 0.35 + 0.65 * np.exp(0.09 * (bound - 12.0))
        inner *= 2.5 ** np.clip((old - diffusion.FSP_PCT) / diffusion.PHI_RAMP_PCT, 0.0, 1.0)
        gap = np.maximum(bound - 11.0, diffusion.LEAST_GAP_PCT)
        slope = (diffusion.dryness(11.0) - diffusion.dryness(11.0 + gap)) / gap
        resistance = 0.15 * diffusion.REFERENCE_SLOPE / slope
        resistance += diffusion.cell_widths()[0] / 2.0 / inner
        driven = np.where(old > diffusion.FSP_PCT, (diffusion.FSP_PCT - 11.0) / (old - 11.0), 1.0)
        flux = 0.018 * 3.0 * driven * (outer - 11.0) / resistance
        lost = diffusion.mean_of_cells(before) - diffusion.mean_of_cells(state)
        assert lost == pytest.approx(flux, rel=1e-9)
        before = state.copy()


def test_the_mean_of_a_parabolic_profile_lies_at_the_depth_we_aim_at() -> None:
    """James, FPL-GTR-6 (1988): pins at a fifth to a quarter of the thickness; exactly 0.211."""
    one = np.ones(1)
    cells = diffusion.CELLS
    profile = diffusion.parabolic_start(14.0 * one, one, 8.0 * one, cells)
    read = diffusion.depth_weights(np.array([AIM_SHARE, 0.0, 0.5]), cells) @ profile
    # Face at the EMC, middle half the drop above the mean.
    assert read[:, 0] == pytest.approx([14.0, 8.0, 17.0], abs=0.01)
    assert diffusion.mean_of_cells(profile)[0] == pytest.approx(14.0)


def test_a_depth_and_its_mirror_read_the_same() -> None:
    profile = np.linspace(8.0, 20.0, diffusion.CELLS)
    shares = np.array([0.1, 0.211, 0.45])
    near, far = diffusion.depth_weights(shares), diffusion.depth_weights(1.0 - shares)
    assert near @ profile == pytest.approx(far @ profile)
