"""One slab in a resin top: along one side with its live edge inward, or through the middle.

Resin takes what the slab leaves of the top. All of it counts at its widest: along one side the
strip beside the slab, through the middle the two strips together.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np

from catalogue.layout import gaps
from catalogue.layout.halves import (
    OFFSET_STEP_MM,
    TURNS_DEG,
    alongs_of,
    halves_of,
    places_of,
    ring_of,
    sections,
    turned,
)
from catalogue.layout.laid import Layout
from catalogue.layout.placed import Placed
from catalogue.layout.rules import ALLOWANCES, Allowances
from catalogue.layout.tops import Floats, Top
from inventory.wood.shape import Shape

UNEVEN_WEIGHT = 0.1
"""Through the middle, strips uneven by 10 mm count like strips wider by 1 mm: a slab laid askew
would cover a hair more."""
Which = Literal["one", "both", "best"]


def lay(
    top: Top,
    shape: Shape,
    which: Which = "best",
    *,
    margin_mm: float = 0.0,
    wane_mm: float = 0.0,
    rules: Allowances = ALLOWANCES,
) -> Layout:
    """The slab with resin along "one" or "both" of the top's long sides, with the least resin.

    The layout's margin is as in `as_placed`.
    """
    ways = {"one": [_one_side], "both": [_middle], "best": [_middle, _one_side]}[which]
    laid = [
        as_placed(top, put(top, shape, margin_mm, wane_mm), rules=rules, margin_mm=margin_mm)
        for put in ways
    ]
    fitting = [way for way in laid if way.fits]
    if fitting:
        return min(fitting, key=lambda way: way.resin_mm2)
    return max(laid, key=lambda way: way.margin_mm)


def as_placed(
    top: Top, placed: Placed, *, margin_mm: float = 0.0, rules: Allowances = ALLOWANCES
) -> Layout:
    """One slab where it was put, the rest of the top resin.

    `gap_mm` is the width of resin across the top, all of it: least, mean, greatest. The layout's
    `margin_mm` is how much wider the resin could be; negative by how much it is too wide or by how
    much the slab ends short of the top's ends.
    """
    laid = Layout(top, (placed,), "resin_sides", 0.0, top.polygon)
    across = gaps.bare_across(laid)
    mean = float(gaps.between(laid).area) / top.length_mm
    gap = (float(across.min()), mean, float(across.max()))
    spare = rules.resin_gap_share * top.width_mm - gap[2]
    short = gaps.short_along_mm(top, placed, margin_mm)
    worst = min(spare, -short) if short > gaps.TOUCHING_MM else spare
    return replace(laid, margin_mm=worst, gap_mm=gap)


def _one_side(top: Top, shape: Shape, margin_mm: float, wane_mm: float) -> Placed:
    """The slab's outer edge beyond the top's, its live edge inward, where it covers most."""
    halves = halves_of(top, shape, margin_mm=margin_mm, wane_mm=wane_mm)
    put = halves.placed(int(halves.bare_mm.argmin()))
    return replace(put, y_mm=put.y_mm + gaps.short_mm(top, put, margin_mm))


def _middle(top: Top, shape: Shape, margin_mm: float, wane_mm: float) -> Placed:
    """Both live edges outward, the slab where most of it lies in the top and its strips even."""
    ring = ring_of(shape, wane_mm)
    x, half = places_of(top, margin_mm)
    least, put = np.inf, Placed(shape, 0.0, 0.0, wane_mm=wane_mm)
    for turn in TURNS_DEG:
        low, high = sections(turned(ring, float(turn)))
        along = alongs_of(low, x, OFFSET_STEP_MM)
        at = np.clip(along[:, None] + x, low[0, 0], low[-1, 0])
        below, above = np.interp(at, *low.T), np.interp(at, *high.T)
        middle = (below + above).mean(axis=1) / 2
        strips = _strips(below - middle[:, None], above - middle[:, None], half)
        resin = strips.mean(axis=2).sum(axis=0) + UNEVEN_WEIGHT * strips.std(axis=2).sum(axis=0)
        way = int(resin.argmin())
        if resin[way] < least:
            least = float(resin[way])
            x_mm, y_mm = -float(along[way]), -float(middle[way])
            put = Placed(shape, x_mm, y_mm, float(turn), False, wane_mm)
    return put


def _strips(below: Floats, above: Floats, half: Floats) -> Floats:
    """Resin below and above the slab (2, m, places), its edges clipped to the top's."""
    return np.stack([np.clip(below, -half, half) + half, half - np.clip(above, -half, half)])
