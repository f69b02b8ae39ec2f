"""Many slabs at once: which could hold a top, by their stored profiles; arrays only.

A profile is the wood's guaranteed lower and upper edge over each PROFILE_STEP_MM of length
(inventory/wood/shape.py). A slab is turned by shearing its profile, true for the few degrees a
top is turned along the grain. What is said to be spare is within NEAR_MM of what exact geometry
finds (tests/catalogue/layout/test_quick.py), holes aside: those only take away.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from catalogue.layout.tops import Floats, Top
from inventory.wood.shape import PROFILE_STEP_MM

NEAR_MM = 15.0
POOLED = 3
"""So many steps of a profile are taken together: the least of their upper edges stands for all."""
TURNS_DEG = np.array([-9.0, -6.0, -4.0, -2.5, -1.25, 0.0, 1.25, 2.5, 4.0, 6.0, 9.0])
AT_ONCE = 400


def spare_mm(top: Top, profiles: Sequence[Floats]) -> Floats:
    """About how much the top could grow on every side on each slab, negative where it misses; mm.

    `profiles` are (n, 2), lower and upper, of any length. −inf where the slab is much too short.
    """
    found = [
        _spare(top, profiles[start : start + AT_ONCE]) for start in range(0, len(profiles), AT_ONCE)
    ]
    return np.concatenate(found) if found else np.zeros(0)


def _spare(top: Top, profiles: Sequence[Floats]) -> Floats:
    low, high, length = _stacked(profiles)
    best = np.full(len(profiles), -np.inf)
    step = POOLED * PROFILE_STEP_MM
    # Whole columns that the top lies over, of a slab a little too short as well.
    columns = max(1, int(np.ceil(top.length_mm / step)))
    if columns > low.shape[1]:
        return best
    half = _half_widths(top, columns)
    x = step * (np.arange(low.shape[1]) + 0.5)
    for turn in np.radians(TURNS_DEG):
        rise = x * np.tan(turn)
        across = _across(low - rise, high - rise, half) * np.cos(turn)
        begins = step * np.arange(across.shape[1])
        along = np.minimum(begins, length[:, None] - begins - top.length_mm)
        best = np.maximum(best, np.minimum(across, along + step / 2).max(axis=1))
    return best


def _stacked(profiles: Sequence[Floats]) -> tuple[Floats, Floats, Floats]:
    """Lower and upper edges of all, pooled, (slabs, columns); beyond a slab's end no wood."""
    columns = max(-(-len(profile) // POOLED) for profile in profiles)
    low = np.full((len(profiles), columns * POOLED), -np.inf)
    high = np.full_like(low, np.inf)
    for at, profile in enumerate(profiles):
        low[at, : len(profile)] = profile[:, 0]
        high[at, : len(profile)] = profile[:, 1]
    length = np.array([PROFILE_STEP_MM * len(profile) for profile in profiles])
    pooled_low = low.reshape(len(profiles), columns, POOLED).max(axis=2)
    pooled_high = high.reshape(len(profiles), columns, POOLED).min(axis=2)
    empty = ~np.isfinite(pooled_low)
    pooled_low[empty], pooled_high[empty] = 1e6, -1e6
    return pooled_low, pooled_high, length


def _half_widths(top: Top, columns: int) -> Floats:
    """The top's greatest half width over each column, its ends at the outermost."""
    ends = np.linspace(-1.0, 1.0, columns + 1)
    half = top.half_width_at(ends)
    widest = np.maximum(half[:-1], half[1:])
    if columns % 2:
        widest[columns // 2] = top.width_mm / 2
    return np.asarray(widest)


def _across(low: Floats, high: Floats, half: Floats) -> Floats:
    """Spare half width at each place the top may begin: (slabs, places)."""
    windows = np.lib.stride_tricks.sliding_window_view
    ceiling = (windows(high, len(half), axis=1) - half).min(axis=2)
    floor = (windows(low, len(half), axis=1) + half).max(axis=2)
    return np.asarray((ceiling - floor) / 2)
