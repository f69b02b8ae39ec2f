"""A slab's shape in plan from widths taken at stations along it.

The slab is taken as symmetric about a straight centre line. Between stations the width runs
straight; beyond the outermost stations it stays as the outermost one says. x runs along the slab
from 0 to its length, y across it from the centre line; all in mm.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Point = tuple[float, float]
# (break points, half widths, half length, half width) → the open intervals barred to a centre.
Blocker = Callable[[Floats, Floats, float, float], tuple[Floats, Floats]]
MARGIN_STEP_MM = 0.002
TOUCHING_MM = 1e-6


@dataclass(frozen=True)
class WidthAt:
    """The width (mm) at a place along the slab, 0 at its first end and 1 at the other."""

    along: float
    width_mm: float


@dataclass(frozen=True)
class Fit:
    """How a shape lies on a slab.

    `margin_mm` is how much the shape, with its clearance, could still grow on every side at the
    best place along the slab (to 0.002 mm); negative where it does not fit: how much it would have
    to shrink.
    `offset_mm` is where the shape then begins, measured from the slab's first end.
    """

    fits: bool
    margin_mm: float
    offset_mm: float


def stations_from(widths: Sequence[float]) -> tuple[WidthAt, ...]:
    """Widths (mm) taken at equal spaces from end to end; a single one stands for the whole slab."""
    if len(widths) == 1:
        return (WidthAt(0.5, float(widths[0])),)
    last = len(widths) - 1
    return tuple(WidthAt(i / last, float(width)) for i, width in enumerate(widths))


def from_least_middle_greatest(least: float, middle: float, greatest: float) -> tuple[WidthAt, ...]:
    """Three widths (mm) as an even taper: greatest at the first end, middle, least at the last.

    An approximation: where along the slab the least and the greatest were taken is not known.
    Raises ValueError when the three are not in order.
    """
    if not least <= middle <= greatest:
        raise ValueError("The middle width must lie between the least and the greatest.")
    return stations_from((greatest, middle, least))


def plan_area_mm2(length_mm: float, stations: Sequence[WidthAt]) -> float:
    """Area (mm²) of the face in plan, by the trapezoid rule between the stations."""
    x, width = _profile(length_mm, stations)
    return float(np.trapezoid(width, x))


def mean_width_mm(length_mm: float, stations: Sequence[WidthAt]) -> float:
    """Mean width (mm): the plan area over the length."""
    return plan_area_mm2(length_mm, stations) / length_mm


def silhouette(length_mm: float, stations: Sequence[WidthAt]) -> list[Point]:
    """The outline as a closed polygon (last point = first), symmetric about y = 0."""
    x, width = _profile(length_mm, stations)
    upper = [(float(a), float(w) / 2.0) for a, w in zip(x, width, strict=True)]
    lower = [(a, -half) for a, half in reversed(upper)]
    return [*upper, *lower, upper[0]]


def svg_path(points: Iterable[Point]) -> str:
    """A closed polygon as the `d` of an SVG path, to 0.1 mm: 'M0 120L900 95Z'."""
    corners = [f"{_short(x)} {_short(y)}" for x, y in points]
    if len(corners) > 1 and corners[-1] == corners[0]:
        corners.pop()
    return f"M{'L'.join(corners)}Z" if corners else ""


def widest_rectangle_mm(
    length_mm: float, stations: Sequence[WidthAt], rect_length_mm: float
) -> float:
    """Greatest width (mm) of a rectangle of that length laid along the slab; 0 if it is too long.

    Exact: over a stretch in which neither end of the rectangle passes a station, its width is the
    least of a constant and two straight lines, so the best place is at the stretch's ends or
    where the two lines cross.
    """
    x, width = _profile(length_mm, stations)
    if rect_length_mm <= 0:
        raise ValueError("A rectangle must be longer than nothing.")
    room = length_mm - rect_length_mm
    if room < 0:
        return 0.0
    begins = np.unique(np.clip(np.concatenate([x, x - rect_length_mm, [0.0, room]]), 0.0, room))
    begins = np.concatenate([begins, _crossings(begins, x, width, rect_length_mm)])
    return float(_least_width(begins, x, width, rect_length_mm).max())


def rectangle_fits(
    length_mm: float,
    stations: Sequence[WidthAt],
    rect_length_mm: float,
    rect_width_mm: float,
    clearance_mm: float = 0.0,
) -> Fit:
    """Whether a rectangle, cut oversize by the clearance on every side, lies on the slab."""
    edge = _edge(length_mm, stations, _blocked_by_square)
    return _best_fit(edge, rect_length_mm / 2, rect_width_mm / 2, clearance_mm)


def ellipse_fits(
    length_mm: float,
    stations: Sequence[WidthAt],
    ellipse_length_mm: float,
    ellipse_width_mm: float,
    clearance_mm: float = 0.0,
) -> Fit:
    """Whether an ellipse (or a round), both axes grown by twice the clearance, lies on the slab.

    The grown ellipse stands for the true parallel curve, which lies outside it by less than a
    fiftieth of the clearance for axes up to 3 : 2.
    """
    edge = _edge(length_mm, stations, _blocked_by_ellipse)
    return _best_fit(edge, ellipse_length_mm / 2, ellipse_width_mm / 2, clearance_mm)


def _profile(length_mm: float, stations: Sequence[WidthAt]) -> tuple[Floats, Floats]:
    """The break points of the width along the slab, both ends included."""
    if not (length_mm > 0 and math.isfinite(length_mm)):
        raise ValueError("A slab must be longer than nothing.")
    if not stations:
        raise ValueError("A slab's outline needs at least one width.")
    ordered = sorted(stations, key=lambda station: station.along)
    along = np.array([station.along for station in ordered], dtype=np.float64)
    width = np.array([station.width_mm for station in ordered], dtype=np.float64)
    if not ((along >= 0.0) & (along <= 1.0)).all() or (np.diff(along) <= 0.0).any():
        raise ValueError("Each width needs a place of its own between the two ends.")
    if not ((width > 0.0) & np.isfinite(width)).all():
        raise ValueError("A width must be more than nothing.")
    places = np.unique(np.concatenate([[0.0], along, [1.0]]))
    return places * length_mm, np.interp(places, along, width)


def _least_width(begins: Floats, x: Floats, width: Floats, rect_length_mm: float) -> Floats:
    """The least width of the slab over each stretch [begin, begin + rectangle's length]."""
    ends = begins + rect_length_mm
    at_ends = np.minimum(np.interp(begins, x, width), np.interp(ends, x, width))
    inside = (x[None, :] > begins[:, None]) & (x[None, :] < ends[:, None])
    at_stations = np.where(inside, width[None, :], np.inf).min(axis=1)
    return np.asarray(np.minimum(at_ends, at_stations), dtype=np.float64)


def _crossings(begins: Floats, x: Floats, width: Floats, rect_length_mm: float) -> Floats:
    """Places where the widths at the rectangle's two ends are equal, between known begins."""
    difference = np.interp(begins, x, width) - np.interp(begins + rect_length_mm, x, width)
    before, after = difference[:-1], difference[1:]
    turns = before * after < 0.0
    share = before[turns] / (before[turns] - after[turns])
    return np.asarray(begins[:-1][turns] + share * np.diff(begins)[turns], dtype=np.float64)


@dataclass(frozen=True)
class _Edge:
    """The slab's upper edge, and how a kind of shape is kept out by a piece of it."""

    x: Floats
    half: Floats
    blocked: Blocker

    def centre_for(self, half_length: float, half_width: float) -> float | None:
        """A centre, as near the slab's middle as can be, where the shape lies inside; or None.

        Each straight piece of the edge keeps the centre out of one open interval, because both
        the piece and the shape are convex; what is left between the two ends is free.
        """
        length = float(self.x[-1])
        reach = max(half_length, 0.0)
        if half_width <= 0.0:
            return length / 2.0 if reach <= length / 2.0 else None
        lows, highs = self.blocked(self.x, self.half, max(reach, 1e-9), half_width)
        places = np.concatenate([[length / 2.0, reach, length - reach], lows, highs])
        touch = 1e-9 * length
        inside = (places >= reach - touch) & (places <= length - reach + touch)
        hit = (places[:, None] > lows + touch) & (places[:, None] < highs - touch)
        free = places[inside & ~hit.any(axis=1)]
        return float(free[np.abs(free - length / 2.0).argmin()]) if free.size else None


def _best_fit(edge: _Edge, half_length: float, half_width: float, clearance_mm: float) -> Fit:
    """Bisection on how far the shape can grow: what fits still fits when it is made smaller.

    The clearance itself is tried first, so that `fits` does not hang on the bisection's step.
    """
    if not (half_length > 0 and half_width > 0 and clearance_mm >= 0):
        raise ValueError("A shape must be larger than nothing.")
    low, centre = -max(half_length, half_width), float(edge.x[-1]) / 2.0
    high = min(float(edge.x[-1]) / 2.0 - half_length, float(edge.half.max()) - half_width)
    growth = min(high, clearance_mm - TOUCHING_MM)
    while high - low > MARGIN_STEP_MM:
        found = edge.centre_for(half_length + growth, half_width + growth)
        if found is None:
            high = growth
        else:
            low, centre = growth, found
        growth = (low + high) / 2.0
    margin = low - clearance_mm
    fits = margin >= -1.5 * TOUCHING_MM
    return Fit(fits, max(margin, 0.0) if fits else margin, centre - half_length)


def _edge(length_mm: float, stations: Sequence[WidthAt], blocked: Blocker) -> _Edge:
    x, width = _profile(length_mm, stations)
    return _Edge(x, width / 2.0, blocked)


def _below(x: Floats, half: Floats, half_width: float) -> tuple[Floats, ...]:
    """The pieces of edge that lie nearer the centre line than the shape's half width.

    Returns where each such part begins and ends, and the slope and start of its piece.
    """
    x0, x1, h0, h1 = x[:-1], x[1:], half[:-1], half[1:]
    low = np.minimum(h0, h1) < half_width
    x0, x1, h0, h1 = x0[low], x1[low], h0[low], h1[low]
    slope = (h1 - h0) / (x1 - x0)
    level = np.where(slope == 0.0, 1.0, slope)
    reaches = np.clip(x0 + (half_width - h0) / level, x0, x1)
    begins = np.where(h0 >= half_width, reaches, x0)
    ends = np.where(h1 >= half_width, reaches, x1)
    return begins, ends, slope, x0, h0


def _blocked_by_square(
    x: Floats, half: Floats, half_length: float, half_width: float
) -> tuple[Floats, Floats]:
    begins, ends, *_ = _below(x, half, half_width)
    return begins - half_length, ends + half_length


def _blocked_by_ellipse(
    x: Floats, half: Floats, half_length: float, half_width: float
) -> tuple[Floats, Floats]:
    """Where an edge piece slopes, the ellipse touches it at the point of equal slope."""
    begins, ends, slope, x0, h0 = _below(x, half, half_width)
    level = np.where(slope == 0.0, 1.0, slope)
    steepness = half_width / (half_length * np.abs(level))
    touch_y = half_width * steepness / np.hypot(1.0, steepness)
    touch_x = np.clip(x0 + (touch_y - h0) / level, begins, ends)

    def chord(at: Floats) -> Floats:
        y = np.clip((h0 + slope * (at - x0)) / half_width, 0.0, 1.0)
        return np.asarray(half_length * np.sqrt(1.0 - y * y), dtype=np.float64)

    lowest = np.where(slope < 0.0, touch_x, begins)
    highest = np.where(slope > 0.0, touch_x, ends)
    return lowest - chord(lowest), highest + chord(highest)


def _short(number: float) -> str:
    text = f"{number:.1f}".removesuffix(".0")
    return "0" if text == "-0" else text
