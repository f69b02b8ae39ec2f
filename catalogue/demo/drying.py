"""How wet every invented slab truly was, day by day and from face to core.

One-dimensional diffusion through half the thickness, driven by the daily air of wherever the slab
lay: faster when warm and when wet, slower when thick and when dense, toward the air's EMC. The
numbers behind it are a joiner's guess fitted to published ones: a 2-inch red oak board takes some
83 days from 85 to 20 % at 60 °F in a good air stream (Tschernitz and Simpson 1979), a stack in a
yard several times that. No rule of the record reads this: it only makes up what meters then show.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from catalogue.demo.weather import DAYS, DailyAir

Floats = NDArray[np.float64]

CELLS = 6
WIDENING = 1.3
SECONDS_A_DAY = 86_400.0
FSP_PCT = 30.0
# Whole wood of specific gravity 0.5 at 12 % and 20 °C, across the grain, m²/s.
DIFFUSION = 0.9e-10
DENSER_IS_SLOWER = 1.4
WETTER_IS_FASTER = 0.055
ABOVE_FSP = 0.16  # free water, carried in a stack that airs slowly
ACTIVATION_J_MOL = 40_000.0
GAS_J_MOL_K = 8.314
FACE_M_S = 2e-8  # still air between the boards of a stack
FANNED_FACE_M_S = 8e-8

# Green heartwood and sapwood, % MC: FPL-GTR-190, Table 4-1 (those marked * from memory).
GREEN_PCT: dict[str, tuple[float, float]] = {
    "Ash, white": (46, 44),
    "Baldcypress": (121, 171),
    "Beech, European": (55, 72),
    "Birch, yellow": (74, 72),
    "Cedar, western red": (58, 249),
    "Cherry, black": (58, 65),
    "Douglas-fir, coast": (37, 115),
    "Elm, American": (95, 92),  # *
    "Elm, wych": (95, 92),  # as American elm
    "Maple, silver": (58, 97),  # *
    "Maple, sugar": (65, 72),  # *
    "Oak, northern red": (80, 69),  # *
    "Oak, pedunculate": (64, 78),  # as white oak
    "Oak, white": (64, 78),  # *
    "Redwood, old-growth": (86, 210),  # *
    "Sycamore, American": (114, 130),  # *
    "Walnut, black": (90, 73),  # *
    "Yellow-poplar": (83, 106),  # *
}
OTHERWISE_GREEN_PCT = (70.0, 85.0)
SAP_SHARE = 0.2
# Woods rich in extractives hold less at the same air: their fibre saturation point is 20 to 24 %
# in measured means, or by their movement coefficients (reference notes on drying, section 1).
HOLDS_LESS = {
    "Teak": 0.73,
    "Padauk, African": 0.90,
    "Mahogany, African": 0.90,
    "Redwood, old-growth": 0.91,
    "Cedar, western red": 0.91,
}
# The sorption curve is a mean over rising and falling humidity; kiln-dried wood lies below it.
AFTER_THE_KILN = 0.96


def green_pct(species: str) -> float:
    """Moisture content (%) of a slab as it leaves the saw: mostly heartwood."""
    heart, sap = GREEN_PCT.get(species, OTHERWISE_GREEN_PCT)
    return (1 - SAP_SHARE) * heart + SAP_SHARE * sap


def emc_share(species: str) -> float:
    """What the species comes to rest at, as a share of the air's EMC."""
    return AFTER_THE_KILN * HOLDS_LESS.get(species, 1.0)


@dataclass(frozen=True)
class Wet:
    """One slab as the water sees it. `lay` is (days ago, place) for each stage, oldest first."""

    thickness_mm: float
    specific_gravity: float
    green_pct: float
    emc_share: float
    sawn_days_ago: int
    lay: tuple[tuple[int, str], ...]


@dataclass(frozen=True, eq=False)
class Histories:
    """Moisture content of every piece on every day: (days, pieces, cells) from face to core.

    `depth_share` is where the middle of each cell lies, as a share of the whole thickness.
    """

    moisture_pct: NDArray[np.float32]
    depth_share: Floats

    def at(self, piece: int, days_ago: int, depth_share: float) -> float:
        """% MC at a depth (share of the thickness, from the nearer face) on a day."""
        profile = self.moisture_pct[-1 - days_ago, piece]
        return float(np.interp(depth_share, self.depth_share, profile))

    def mean(self, piece: int, days_ago: int) -> float:
        """% MC of the whole section, as a reading at the aimed depth shows it."""
        return self.at(piece, days_ago, 0.211)


def dried(pieces: Sequence[Wet], air: Mapping[str, DailyAir]) -> Histories:
    """Dry every piece from the day it was sawn until today, all together."""
    names = list(air)
    temp = np.array([air[name].temp_c for name in names])
    emc = np.array([air[name].emc_pct for name in names])
    where = np.array([_lay_by_day(piece, names) for piece in pieces]).T
    face = np.array([FANNED_FACE_M_S if air[name].is_fanned else FACE_M_S for name in names])
    share = np.array([piece.emc_share for piece in pieces])
    wood = _Wood.of(pieces)
    moisture = np.repeat(np.array([piece.green_pct for piece in pieces])[:, None], CELLS, axis=1)
    history = np.empty((DAYS, len(pieces), CELLS), dtype=np.float32)
    for day in range(DAYS):
        lies = where[day] >= 0
        if lies.any():
            at = where[day][lies]
            outside = _Outside(temp[at, day], emc[at, day] * share[lies], face[at])
            moisture[lies] = wood.some(lies).after_a_day(moisture[lies], outside)
        history[day] = moisture
    return Histories(history, _cell_middles() / 2)


def _lay_by_day(piece: Wet, names: list[str]) -> NDArray[np.int64]:
    """The index of the place it lay in on each day, oldest first; −1 before it was sawn."""
    where = np.full(DAYS, -1)
    for days_ago, name in piece.lay:
        where[DAYS - 1 - min(days_ago, piece.sawn_days_ago) :] = names.index(name)
    return where


def _cell_widths() -> Floats:
    """Shares of half the thickness, from the face inward."""
    widths = WIDENING ** np.arange(CELLS)
    return np.asarray(widths / widths.sum())


def _cell_middles() -> Floats:
    widths = _cell_widths()
    return np.asarray(np.cumsum(widths) - widths / 2)


@dataclass(frozen=True, eq=False)
class _Outside:
    """One day's air at each piece: °C, the % MC it tends to, and the face's conductance (m/s)."""

    temp_c: Floats
    aims_pct: Floats
    face_m_s: Floats


@dataclass(frozen=True, eq=False)
class _Wood:
    """What does not change while pieces dry: cell widths (m) and diffusion at 12 %, 20 °C."""

    widths_m: Floats
    diffusion: Floats

    @classmethod
    def of(cls, pieces: Sequence[Wet]) -> "_Wood":
        half_m = np.array([piece.thickness_mm for piece in pieces]) / 2000
        gravity = np.array([piece.specific_gravity for piece in pieces])
        diffusion = DIFFUSION * (0.5 / gravity) ** DENSER_IS_SLOWER
        return cls(half_m[:, None] * _cell_widths(), diffusion)

    def some(self, which: NDArray[np.bool_]) -> "_Wood":
        return _Wood(self.widths_m[which], self.diffusion[which])

    def after_a_day(self, moisture: Floats, outside: _Outside) -> Floats:
        """One backward step of a day: stable however thin the cells."""
        spread = self._spread(moisture, outside.temp_c)
        resist = self.widths_m / 2 / spread
        between = SECONDS_A_DAY / (resist[:, :-1] + resist[:, 1:])
        face = SECONDS_A_DAY / (1 / outside.face_m_s + resist[:, 0])
        return _stepped(moisture, self.widths_m, between, face, outside.aims_pct)

    def _spread(self, moisture: Floats, temp_c: Floats) -> Floats:
        """Diffusion (m²/s) in each cell, by its moisture and the day's temperature."""
        kelvin = temp_c + 273.15
        warm = np.exp(-ACTIVATION_J_MOL / GAS_J_MOL_K * (1 / kelvin - 1 / 293.15))
        wet = np.exp(WETTER_IS_FASTER * (np.minimum(moisture, FSP_PCT) - 12))
        free = np.where(moisture > FSP_PCT, ABOVE_FSP, 1.0)
        return np.asarray((self.diffusion * warm)[:, None] * wet * free)


def _stepped(
    moisture: Floats, widths: Floats, between: Floats, face: Floats, aims_pct: Floats
) -> Floats:
    """Solve the tridiagonal system of one backward step for all pieces (Thomas)."""
    diagonal = widths.copy()
    diagonal[:, :-1] += between
    diagonal[:, 1:] += between
    diagonal[:, 0] += face
    right = widths * moisture
    # Above fibre saturation the face itself stands at saturation, however much water is behind it.
    wettest = np.minimum(moisture[:, 0], FSP_PCT)
    right[:, 0] += face * (aims_pct + moisture[:, 0] - wettest)
    for cell in range(1, CELLS):
        share = between[:, cell - 1] / diagonal[:, cell - 1]
        diagonal[:, cell] -= share * between[:, cell - 1]
        right[:, cell] += share * right[:, cell - 1]
    solved = np.empty_like(moisture)
    solved[:, -1] = right[:, -1] / diagonal[:, -1]
    for cell in range(CELLS - 2, -1, -1):
        below = right[:, cell] + between[:, cell] * solved[:, cell + 1]
        solved[:, cell] = below / diagonal[:, cell]
    return solved
