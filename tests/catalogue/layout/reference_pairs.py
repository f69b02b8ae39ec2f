"""The least resin between two slabs under a rectangular top, by trying every way: no cleverness.

Every 5 mm along, every half degree, either edge inward, either way round. Edges are met by
counting through every side of the turned outline; the winner's resin is shapely's area.
"""

import numpy as np
from shapely import affinity, box, union_all
from shapely.geometry.base import BaseGeometry

from inventory.wood.shape import Floats, Shape

STEP_MM = 5.0
TURNS_DEG = np.arange(-4.0, 4.01, 0.5)
SECTIONS_MM = 20.0

Way = tuple[int, float, float, float]
"""Edge inward, turn (degrees), where the top's first end lies, how far out."""


def least_resin_mm2(
    length_mm: float, width_mm: float, first: Shape, second: Shape, least_mm: float
) -> float:
    """Area (mm²) of resin at the best way found, the slabs nowhere nearer than `least_mm`."""
    mine, inner = _ways(first, length_mm, width_mm)
    theirs, other = _ways(second, length_mm, width_mm)
    best = (np.inf, 0, 0, False)
    for is_reversed in (False, True):
        rows = other[:, ::-1] if is_reversed else other
        least = np.full((len(inner), len(rows)), np.inf, dtype=np.float32)
        for place in range(inner.shape[1]):
            np.minimum(least, inner[:, place, None] + rows[:, place], out=least)
        mean = inner.mean(axis=1)[:, None] + rows.mean(axis=1)
        total = mean + np.maximum(0.0, least_mm - least)
        i, j = divmod(int(total.argmin()), total.shape[1])
        if total[i, j] < best[0]:
            best = (float(total[i, j]), i, j, is_reversed)
    _, i, j, is_reversed = best
    lift = max(0.0, least_mm - float((inner[i] + other[j, :: -1 if is_reversed else 1]).min())) / 2
    upper = _put(first, mine[i], length_mm, lift)
    lower = affinity.scale(_put(second, theirs[j], length_mm, lift), yfact=-1, origin=(0, 0))
    if is_reversed:
        lower = affinity.scale(lower, xfact=-1, origin=(0, 0))
    top = box(-length_mm / 2, -width_mm / 2, length_mm / 2, width_mm / 2)
    return float(top.difference(union_all([upper, lower])).area)


def _ways(shape: Shape, length_mm: float, width_mm: float) -> tuple[list[Way], Floats]:
    ways: list[Way] = []
    inner: list[Floats] = []
    take = int(SECTIONS_MM / STEP_MM)
    for edge in (0, 1):
        for turn in TURNS_DEG:
            turned = affinity.rotate(shape.wood, turn + 180 * edge, origin=(0, 0))
            x, low, high = _edges(np.asarray(turned.exterior.coords))
            count = int(length_mm / STEP_MM) + 1
            if len(x) < count:
                continue
            window = np.lib.stride_tricks.sliding_window_view
            out = (width_mm / 2 - window(high, count)).max(axis=1)
            inner.append((window(low, count) + out[:, None])[:, ::take])
            ways += [
                (edge, float(turn), float(at), float(up))
                for at, up in zip(x[: len(out)], out, strict=True)
            ]
    return ways, np.concatenate(inner).astype(np.float32)


def _edges(ring: Floats) -> tuple[Floats, Floats, Floats]:
    """Least and greatest y at even steps of x, over every side of the outline that x meets."""
    x = np.arange(np.ceil(ring[:, 0].min()) + 1, ring[:, 0].max() - 1, STEP_MM)
    start, end = ring[:-1], ring[1:]
    run = end[:, 0] - start[:, 0]
    share = (x[:, None] - start[:, 0]) / np.where(np.abs(run) < 1e-9, np.nan, run)
    y = start[:, 1] + share * (end[:, 1] - start[:, 1])
    y = np.where((share >= 0) & (share <= 1), y, np.nan)
    return x, np.nanmin(y, axis=1), np.nanmax(y, axis=1)


def _put(shape: Shape, way: Way, length_mm: float, lift_mm: float) -> BaseGeometry:
    edge, turn, at, out = way
    turned = affinity.rotate(shape.wood, turn + 180 * edge, origin=(0, 0))
    return affinity.translate(turned, -at - length_mm / 2, out + lift_mm)
