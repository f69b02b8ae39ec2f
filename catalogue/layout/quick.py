"""Many slabs at once: which could hold a top, by their stored profiles; arrays only.

A profile is the wood's guaranteed lower and upper edge over each PROFILE_STEP_MM of length
(inventory/wood/shape.py). A slab is turned by shearing its profile, with a top whose ends stay
upright or lean as those of a turned rectangle do, whichever has more to spare: an end cut askew
may suit the one or the other. What fits by exact geometry is short here by NEAR_MM at most
(tests/catalogue/layout/test_quick.py); holes are not seen: those only take away.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from catalogue.layout.tops import Floats, Top
from inventory.wood.shape import PROFILE_STEP_MM

NEAR_MM = 15.0
POOLED = 3
"""So many steps of a profile are taken together: the least of their upper edges stands for all,
the greatest where the edge is steep, as at an end cut askew.
"""
TURNS_DEG = np.array([-15, -12, -9, -6, -4, -2.5, -1.25, 0, 1.25, 2.5, 4, 6, 9, 12, 15])
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
    x = step * (np.arange(low.shape[1]) + 0.5)
    for turn in np.radians(TURNS_DEG):
        # A turned top is a little shorter along the slab, and lies over whole columns of it.
        along_mm = top.length_mm * np.cos(turn)
        columns = max(1, int(np.ceil(along_mm / step)))
        if columns > low.shape[1]:
            continue
        rise = x * np.tan(turn)
        edges = _edges(low - rise, high - rise, _half_widths(top, columns))
        leans = int(top.width_mm / 2 * np.sin(turn) / step)
        for lean in {0, leans}:
            across, firsts = _across(*edges, lean)
            begins = step * firsts
            along = np.minimum(begins, length[:, None] - begins - along_mm)
            spare = np.minimum(across * np.cos(turn), along + step / 2)
            best = np.maximum(best, spare.max(axis=1, initial=-np.inf))
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
    pooled_low = _pooled(low)
    pooled_high = -_pooled(-high)
    empty = ~np.isfinite(pooled_low)
    pooled_low[empty], pooled_high[empty] = 1e6, -1e6
    return pooled_low, pooled_high, length


def _pooled(edge: Floats) -> Floats:
    """Of so many steps the greatest, the least where they differ as much as they are long."""
    steps = edge.reshape(len(edge), -1, POOLED)
    greatest = steps.max(axis=2)
    least = np.where(np.isfinite(steps), steps, np.inf).min(axis=2)
    is_steep = np.isfinite(greatest) & (greatest - least > POOLED * PROFILE_STEP_MM)
    return np.asarray(np.where(is_steep, least, greatest))


def _half_widths(top: Top, columns: int) -> Floats:
    """The top's greatest half width over each column, the least where it is steep."""
    ends = np.linspace(-1.0, 1.0, columns + 1)
    half = top.half_width_at(ends)
    widest = np.maximum(half[:-1], half[1:])
    steep = np.abs(np.diff(half)) > POOLED * PROFILE_STEP_MM
    widest[steep] = np.minimum(half[:-1], half[1:])[steep]
    if columns % 2:
        widest[columns // 2] = top.width_mm / 2
    return np.asarray(widest)


def _edges(low: Floats, high: Floats, half: Floats) -> tuple[Floats, Floats]:
    """Where the top's middle may be at most and at least, at each place it may begin."""
    windows = np.lib.stride_tricks.sliding_window_view
    ceiling = (windows(high, len(half), axis=1) - half).min(axis=2)
    floor = (windows(low, len(half), axis=1) + half).max(axis=2)
    return ceiling, floor


def _across(ceiling: Floats, floor: Floats, lean: int) -> tuple[Floats, Floats]:
    """Spare half width (slabs, places), and the columns at which the top begins.

    `lean`: its upper edge begins so many columns sooner and its lower so many later.
    """
    count, by = ceiling.shape[1], abs(lean)
    firsts = np.arange(by, count - by)
    return (ceiling[:, firsts - lean] - floor[:, firsts + lean]) / 2, firsts
