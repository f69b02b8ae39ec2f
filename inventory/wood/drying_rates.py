"""Published figures of drying: how fast is safe, how long air-drying takes, red oak in a wind.

Safe rates: University of Kentucky extension publication FOR-128, *Hardwood dry kiln operation*,
Table 9, after Wengert, *Drying hardwood lumber*, FPL-GTR-118 (2000). Air-drying times: FPL
Technical Note 233 (rev. 1960), repeated in AH-402 and FPL-GTR-118; its numbers from memory. Red
oak: Tschernitz and Simpson, Wood Science 11(4):202-208 (1979).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import psychrolib

MM_PER_IN = 25.4
PASCAL_PER_MMHG = 133.322
# 8/4 stands at 0.39 to 0.40 of 4/4 in every row of the table: rate ∝ thickness^-1.33. Beyond 8/4
# that is an extrapolation, not a published figure.
THICKNESS_EXPONENT = -1.33
# The limit governs the wet stage; below about 20 % MC it no longer does (from memory).
GOVERNS_ABOVE_PCT = 20.0

_UPLAND_RED_OAK = ("Quercus rubra", "Quercus velutina", "Quercus coccinea", "Quercus kelloggii")
_UPLAND_WHITE_OAK = ("Quercus alba", "Quercus montana", "Quercus macrocarpa", "Quercus stellata")
# Greatest loss of 4/4 stock, % MC a day. Lowland red oak is printed as 1.0-3.8: the slow end.
_SAFE_ROWS: tuple[tuple[float, tuple[str, ...]], ...] = (
    (10.4, ("Fraxinus americana",)),
    (4.5, ("Fagus grandifolia",)),
    (6.1, ("Betula alleghaniensis",)),
    (5.8, ("Prunus serotina",)),
    (10.4, ("Ulmus americana",)),
    (6.5, ("Acer saccharum", "Acer nigrum")),
    (13.8, ("Acer rubrum", "Acer saccharinum")),
    (3.8, _UPLAND_RED_OAK),
    (1.0, ("Quercus nigra", "Quercus palustris")),
    (2.5, _UPLAND_WHITE_OAK),
    (5.3, ("Liquidambar styraciflua",)),
    (10.9, ("Nyssa sylvatica",)),
    (8.2, ("Juglans nigra",)),
    (13.8, ("Liriodendron tulipifera",)),
)
SAFE_4_4_PCT_PER_DAY = {name: rate for rate, names in _SAFE_ROWS for name in names}

# One-inch stock, green to 20 % MC, days: stacked in good weather, and so that it stands over
# winter.
_AIR_ROWS: tuple[tuple[int, int, tuple[str, ...]], ...] = (
    (20, 180, ("Alnus rubra",)),
    (60, 200, ("Fraxinus americana", "Fraxinus pennsylvanica", "Fraxinus nigra")),
    (50, 150, ("Populus tremuloides", "Populus deltoides", "Ulmus americana")),
    (40, 150, ("Tilia americana", "Liriodendron tulipifera")),
    (40, 150, ("Magnolia acuminata", "Magnolia grandiflora")),
    (70, 200, ("Fagus grandifolia", "Betula alleghaniensis", "Betula lenta")),
    (40, 200, ("Betula papyrifera",)),
    (60, 200, ("Juglans cinerea", "Nyssa sylvatica", "Carya illinoinensis")),
    (60, 200, ("Carya tomentosa", "Carya glabra", "Carya ovata")),
    (70, 200, ("Prunus serotina", "Juglans nigra", "Quercus rubra")),
    (30, 150, ("Celtis occidentalis", "Platanus occidentalis", "Salix nigra")),
    (60, 180, ("Acer macrophyllum",)),
    (30, 120, ("Acer rubrum", "Acer saccharinum")),
    (50, 200, ("Acer saccharum", "Acer nigrum")),
    (100, 300, ("Quercus falcata", "Taxodium distichum")),
    (80, 250, ("Quercus alba",)),
    (150, 300, ("Quercus virginiana",)),
    (180, 365, ("Notholithocarpus densiflorus",)),
    (20, 200, ("Pseudotsuga menziesii",)),
    (15, 150, ("Pinus ponderosa",)),
    (60, 200, ("Pinus strobus",)),
)
AIR_DRYING_1_IN_DAYS = {name: (low, high) for low, high, names in _AIR_ROWS for name in names}

_RED_OAK_N, _RED_OAK_A, _RED_OAK_B = 1.52, 0.0575, 0.00142

psychrolib.SetUnitSystem(psychrolib.SI)


@dataclass(frozen=True)
class SafeRate:
    """The published limit of loss, % MC a day, and whether it was extrapolated beyond 8/4."""

    pct_per_day: float
    is_extrapolated: bool


def safe_rate(botanical: str, thickness_mm: float) -> SafeRate | None:
    """Fastest safe drying of a species at a thickness; None where nothing is published.

    For the wet stage only: below GOVERNS_ABOVE_PCT the limit no longer governs. Raises ValueError
    for a thickness that is not positive.
    """
    if not thickness_mm > 0:
        raise ValueError("A slab's thickness must be more than nothing.")
    one_inch = SAFE_4_4_PCT_PER_DAY.get(" ".join(botanical.split()))
    if one_inch is None:
        return None
    scale = (thickness_mm / MM_PER_IN) ** THICKNESS_EXPONENT
    return SafeRate(one_inch * scale, thickness_mm > 2.0 * MM_PER_IN + 1e-9)


def air_drying_days(botanical: str) -> tuple[int, int] | None:
    """Days for one-inch stock from green to 20 % MC in a yard, least and most, or None."""
    return AIR_DRYING_1_IN_DAYS.get(" ".join(botanical.split()))


def saturation_pressure_mmhg(temp_c: float) -> float:
    """Saturation vapour pressure (mmHg) at a temperature, through PsychroLib."""
    return float(psychrolib.GetSatVapPres(temp_c)) / PASCAL_PER_MMHG


def red_oak_time_constant_days(thickness_mm: float, temp_c: float) -> float:
    """τ (days) of red oak in constant air and a good air stream: L^1.52 / (a + b p_sat).

    L in inches, p_sat in mmHg at the wood's temperature. Fitted to 1 and 2 in stock: single
    boards in a tunnel, so a lower bound for a pile in a yard.
    """
    conductance = _RED_OAK_A + _RED_OAK_B * saturation_pressure_mmhg(temp_c)
    return float((thickness_mm / MM_PER_IN) ** _RED_OAK_N / conductance)


def red_oak_days(
    thickness_mm: float, temp_c: float, from_pct: float, to_pct: float, emc_pct: float
) -> float:
    """Days for red oak to dry between two moistures in constant air: −τ ln E.

    E = (to − EMC) / (from − EMC). Raises ValueError when the air does not lead there.
    """
    if not from_pct >= to_pct > emc_pct:
        raise ValueError("Wood dries downwards, and not to or below the air's EMC.")
    share = (to_pct - emc_pct) / (from_pct - emc_pct)
    return -red_oak_time_constant_days(thickness_mm, temp_c) * math.log(share)
