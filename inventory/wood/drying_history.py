"""A slab's history as the fit takes it: its readings and its air, and many side by side.

Times are days before now, so that slabs with histories of any length end together.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

import numpy as np
import numpy.typing as npt

from inventory.wood.diffusion import AirSteps, Array, cell_widths, depth_weights
from inventory.wood.drying_priors import SG_UNKNOWN, Piece
from inventory.wood.moisture import AIM_SHARE

METER_SD_PCT = 0.5
# The model's own shortcomings beside the meter's: everywhere, above 15 % and above 30 % MC, and
# below the meter's range.
MODEL_SD_PCT = 0.3
MODEL_SD_ABOVE_15 = 0.03
MODEL_SD_ABOVE_30 = 0.03
MODEL_SD_BELOW_6 = 0.5
SLIP_FACTOR = 4.0
SHELL_TO_SHARE, CORE_FROM_SHARE = 0.16, 0.36
LONGEST_PAST_DAYS = 1461
# A first check on a slab just sawn finds a little less than it started with.
START_OVER_FIRST = 1.05


@dataclass(frozen=True)
class Reading:
    """Moisture content (%) read `day` (days before now are negative) at a depth.

    `depth_share`: depth from a face over the thickness, 0 to 1; 0.211 where it is not known; None
    for the mean of the whole thickness, as a scale finds it.
    `weight`: 1 for a trusted reading, less for one that is not; 0 leaves it out.
    """

    day: float
    mc_pct: float
    depth_share: float | None = AIM_SHARE
    weight: float = 1.0


@dataclass(frozen=True)
class SlabHistory:
    """One slab up to now.

    `sg` is basic specific gravity or None. `air` has arrays of shape (steps,) and ends now; its
    first step begins at the start of what is to be modelled: the day of sawing, with
    `starts_even`, or about the first check, when the profile is not known. `start_pct` is its
    mean moisture then where that is known, as green moisture of the species.
    """

    thickness_mm: float
    sg: float | None
    readings: Sequence[Reading]
    air: AirSteps
    starts_even: bool = False
    start_pct: float | None = None

    @property
    def span_days(self) -> float:
        return float(self.air.days.sum())


@dataclass(frozen=True)
class Visit:
    """Readings that look at the state after a step: their slab and place, and weights by cell."""

    slab: npt.NDArray[np.intp]
    reading: npt.NDArray[np.intp]
    weights: Array


@dataclass(frozen=True)
class Batch:
    """Histories side by side, padded at the front with steps of no days.

    `air` has arrays (steps, slabs, 1); `visits` one entry for each state, the start first.
    `mc_pct` and `precision` (1 / standard deviation; 0 where there is no reading) are
    (slabs, readings). `first_emc_pct` (slabs, 1) is the air's at the start.
    """

    piece: Piece
    air: AirSteps
    visits: tuple[Visit | None, ...]
    mc_pct: Array
    precision: Array
    first_emc_pct: Array
    starts_even: bool

    def __len__(self) -> int:
        return len(self.mc_pct)


def step_days_for(span_days: float) -> int:
    """Length of the past's steps that keeps a single slab's answer within a request."""
    return int(np.clip(round(span_days / 100.0), 1, 7))


def kept_readings(readings: Sequence[Reading]) -> list[Reading]:
    """Readings, oldest first, without slips of the pen: over four times its kind's is set aside.

    Compared with the lower median of the readings of its kind (shell, core or between) up to its
    day, since wood that dries has read higher before; the first of a kind with its whole check.
    """
    kept: list[Reading] = []
    so_far: dict[str, list[float]] = {}
    told = sorted((r for r in readings if r.weight > 0), key=lambda reading: reading.day)
    for _, check in groupby(told, key=lambda reading: reading.day):
        taken = list(check)
        for reading in taken:
            insort(so_far.setdefault(_kind(reading), []), reading.mc_pct)
        whole = sorted(reading.mc_pct for reading in taken)
        kept += [r for r in taken if not _is_slip(r, so_far[_kind(r)], whole)]
    return kept


def _is_slip(reading: Reading, alike: Sequence[float], whole: Sequence[float]) -> bool:
    """Whether a reading stands out of the sorted readings of its kind, or else of its check."""
    compared = alike if len(alike) > 1 else whole
    return reading.mc_pct > SLIP_FACTOR * compared[(len(compared) - 1) // 2]


def _kind(reading: Reading) -> str:
    if reading.depth_share is None:
        return "whole"
    inward = min(reading.depth_share, 1.0 - reading.depth_share)
    if inward < SHELL_TO_SHARE:
        return "shell"
    return "core" if inward > CORE_FROM_SHARE else "between"


def batch_of(histories: Sequence[SlabHistory]) -> Batch:
    """Lay histories side by side. All must be of one kind of start.

    Raises ValueError for a slab without a usable reading, thickness or air.
    """
    kept = [_checked(history) for history in histories]
    steps = max(len(history.air.days) for history in histories)
    air = _padded_air([history.air for history in histories], steps)
    mc, precision = _padded_readings(kept)
    return Batch(
        piece=Piece(
            half_mm=_column([h.thickness_mm / 2.0 for h in histories]),
            sg=_column([h.sg or SG_UNKNOWN for h in histories]),
            start_pct=_column([_start_pct(h, r) for h, r in zip(histories, kept, strict=True)]),
        ),
        air=air,
        visits=_visits(kept, air.days[:, :, 0]),
        mc_pct=mc,
        precision=precision,
        first_emc_pct=_column([history.air.emc_pct[0] for history in histories]),
        starts_even=histories[0].starts_even,
    )


def _checked(history: SlabHistory) -> list[Reading]:
    if not history.thickness_mm > 0:
        raise ValueError("A slab's thickness must be more than nothing.")
    if len(history.air.days) == 0:
        raise ValueError("A forecast needs the air the slab has lain in.")
    kept = kept_readings(history.readings)
    if not kept:
        raise ValueError("A forecast needs at least one moisture reading.")
    return kept


def _start_pct(history: SlabHistory, readings: Sequence[Reading]) -> float:
    if history.start_pct:
        return history.start_pct
    first = min(reading.day for reading in readings)
    at_first = [r.mc_pct for r in readings if r.day < first + 1.0]
    over = START_OVER_FIRST if history.starts_even else 1.0
    return over * max(sum(at_first) / len(at_first), 1.0)


def _column(values: Sequence[float]) -> Array:
    return np.asarray(values, dtype=np.float64)[:, None]


def _padded_air(airs: Sequence[AirSteps], steps: int) -> AirSteps:
    shape = (steps, len(airs), 1)
    days, emc, temp = np.zeros(shape), np.full(shape, 12.0), np.full(shape, 20.0)
    for i, air in enumerate(airs):
        begin = steps - len(air.days)
        days[begin:, i, 0], emc[begin:, i, 0] = air.days, air.emc_pct
        temp[begin:, i, 0] = air.temp_c
    return AirSteps(days, emc, temp)


def _padded_readings(kept: Sequence[Sequence[Reading]]) -> tuple[Array, Array]:
    most = max(len(readings) for readings in kept)
    mc, weight = np.zeros((len(kept), most)), np.zeros((len(kept), most))
    for i, readings in enumerate(kept):
        mc[i, : len(readings)] = [reading.mc_pct for reading in readings]
        weight[i, : len(readings)] = [reading.weight for reading in readings]
    return mc, np.sqrt(weight) / reading_sd_pct(mc)


def reading_sd_pct(mc_pct: Array) -> Array:
    """Standard deviation (% MC) of a reading about the model: the meter's and the model's own."""
    model = MODEL_SD_PCT + MODEL_SD_ABOVE_15 * np.maximum(mc_pct - 15.0, 0.0)
    model = model + MODEL_SD_ABOVE_30 * np.maximum(mc_pct - 30.0, 0.0)
    model = model + MODEL_SD_BELOW_6 * np.maximum(6.0 - mc_pct, 0.0)
    return np.asarray(np.hypot(METER_SD_PCT, model))


def _visits(kept: Sequence[Sequence[Reading]], days: Array) -> tuple[Visit | None, ...]:
    """Each reading lies between two states, and is seen at both in the shares of its place."""
    slab = np.repeat(np.arange(len(kept)), [len(readings) for readings in kept])
    place = np.concatenate([np.arange(len(readings)) for readings in kept])
    when = np.array([reading.day for readings in kept for reading in readings])
    step, share = _steps_of(when, slab, days)
    weights = _cell_weights([reading.depth_share for readings in kept for reading in readings])
    state = np.concatenate([step, step + 1])
    both = np.concatenate([weights * (1.0 - share)[:, None], weights * share[:, None]])
    slab, place = np.tile(slab, 2), np.tile(place, 2)
    order = np.argsort(state, kind="stable")
    bounds = np.searchsorted(state[order], np.arange(len(days) + 2))
    return tuple(
        Visit(slab[order[a:b]], place[order[a:b]], both[order[a:b]]) if b > a else None
        for a, b in pairwise(bounds)
    )


def _cell_weights(depth_shares: Sequence[float | None]) -> Array:
    """What each reading sees of the cells, (readings, cells): a depth, or all by their widths."""
    whole = np.array([share is None for share in depth_shares])
    shares = [0.0 if share is None else share for share in depth_shares]
    weights = depth_weights(np.clip(np.array(shares), 0.0, 1.0))
    weights[whole] = cell_widths()
    return weights


def _steps_of(
    when: Array, slab: npt.NDArray[np.intp], days: Array
) -> tuple[npt.NDArray[np.intp], Array]:
    """For each reading, the step it falls in and how far into it (0 to 1)."""
    ends = np.cumsum(days[::-1], axis=0)[::-1]
    starts_before_now = ends[:, slab]
    before_now = np.clip(-when, 0.0, starts_before_now[0])
    step = np.maximum((starts_before_now >= before_now).sum(axis=0) - 1, 0)
    length = days[step, slab]
    into = starts_before_now[step, np.arange(len(slab))] - before_now
    return step, np.clip(into / np.maximum(length, 1e-9), 0.0, 1.0)
