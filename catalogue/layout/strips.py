"""A live-edge top: a length of the slab between two straight ends, one or both edges kept."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from shapely import LineString, Polygon, box

from catalogue.layout.laid import FAR_MM, Layout
from catalogue.layout.placed import Placed
from catalogue.layout.profiles import turns_deg
from catalogue.layout.tops import Floats, Top
from inventory.wood.shape import Shape

HOW = "one_slab"
MOST_TURN_DEG = 4.0
"""Ends cut square to the slab's own line, or nearly: further round a strip only looks wider."""
TURN_STEP_DEG = 1.0
WORTH_A_TURN_MM = 1.0
STEP_MM = 10.0
LOOK_EVERY_MM = 10.0


def best_strip(top: Top, shape: Shape, *, margin_mm: float = 0.0, wane_mm: float = 0.0) -> Layout:
    """The length whose narrowest place is widest; among equals the one nearest the middle.

    The layout's margin is half of what it could still be narrower by at its narrowest place, or
    half of what is missing there (negative); or what is missing of its length.
    """
    ways = [
        lay_strip(top, _along_best(top, shape, float(turn), wane_mm), margin_mm=margin_mm)
        for turn in turns_deg(MOST_TURN_DEG, TURN_STEP_DEG)
    ]
    return max(ways, key=lambda laid: laid.margin_mm - _turned_share(laid))


def _turned_share(laid: Layout) -> float:
    return WORTH_A_TURN_MM * abs(laid.placed[0].turn_deg)


def _along_best(top: Top, shape: Shape, turn_deg: float, wane_mm: float) -> Placed:
    """The slab turned, and moved so that the widest-at-its-narrowest length lies on the top."""
    placed = Placed(shape, 0.0, 0.0, turn_deg, wane_mm=wane_mm)
    left, _, right, _ = placed.polygon.bounds
    places = np.arange(left + 1.0, right, STEP_MM)
    columns = int(np.ceil(top.length_mm / STEP_MM))
    low, high = _edges(placed.polygon, places)
    if columns >= len(places):
        return _moved(placed, (left + right) / 2, float(np.nanmean(low + high)) / 2)
    windows = np.lib.stride_tricks.sliding_window_view
    if top.kept_edges == "one":
        narrowest = windows(high, columns).min(axis=1) - windows(low, columns).max(axis=1)
    else:
        narrowest = windows(high - low, columns).min(axis=1)
    centres = places[: len(narrowest)] + top.length_mm / 2
    off = np.abs(centres - (left + right) / 2)
    at = int(np.argmax(narrowest - 1e-4 * off))
    middle = (low[at : at + columns] + high[at : at + columns]) / 2
    return _moved(placed, float(centres[at]), float(np.nanmean(middle)))


def _moved(placed: Placed, x_mm: float, y_mm: float) -> Placed:
    return replace(placed, x_mm=placed.x_mm - x_mm, y_mm=placed.y_mm - y_mm)


def lay_strip(top: Top, placed: Placed, *, margin_mm: float = 0.0) -> Layout:
    """The live-edge top where the slab lies: its edge follows the slab between its two ends."""
    half = top.length_mm / 2
    ends = (
        LineString([(-half, -FAR_MM), (-half, FAR_MM)]),
        LineString([(half, -FAR_MM), (half, FAR_MM)]),
    )
    wood = placed.polygon
    left, _, right, _ = wood.bounds
    missing = max(left + half, half - right, 0.0)
    finished = _largest(wood.intersection(box(-half, -FAR_MM, half, FAR_MM)))
    if missing > 0 or finished.is_empty:
        short = -max(missing, 1e-3)
        return Layout(top, (placed,), HOW, short - margin_mm, finished if finished else top.polygon)
    x = _places(finished, half)
    low, high = _edges(finished, x)
    if top.kept_edges == "one":
        return _one_edge(top, placed, finished, (low, high), margin_mm)
    least = float(np.nanmin(high - low))
    spare = (least - top.width_mm) / 2 - margin_mm
    return Layout(top, (placed,), HOW, spare, finished, cuts=ends)


def _one_edge(
    top: Top, placed: Placed, finished: Polygon, edges: tuple[Floats, Floats], margin_mm: float
) -> Layout:
    """The upper edge is kept; the other is cut straight so that the narrowest place is as asked."""
    low, high = edges
    cut_y = float(np.nanmin(high)) - top.width_mm
    spare = (cut_y - float(np.nanmax(low))) / 2 - margin_mm
    half = top.length_mm / 2
    kept = _largest(finished.intersection(box(-half, cut_y, half, FAR_MM)))
    cut = LineString([(-half, cut_y), (half, cut_y)])
    return Layout(top, (placed,), HOW, spare, kept if kept else finished, cuts=(cut,))


def _places(finished: Polygon, half: float) -> Floats:
    """Where the edges are looked at: evenly, and at every corner, where narrow places are."""
    even = np.arange(-half + 1e-3, half, LOOK_EVERY_MM)
    corners = shapely.get_coordinates(finished.exterior)[:, 0]
    inside = corners[np.abs(corners) < half - 1e-3]
    return np.unique(np.concatenate([even, inside, [half - 1e-3]]))


def _edges(wood: Polygon, places: Floats) -> tuple[Floats, Floats]:
    """Lower and upper y at places along x; holes count as wood here (see Layout.missing_mm2)."""
    _, foot, _, top = wood.bounds
    lines = shapely.linestrings([[(x, foot - 1.0), (x, top + 1.0)] for x in places])
    bounds = shapely.bounds(shapely.intersection(lines, Polygon(wood.exterior)))
    return np.asarray(bounds[:, 1]), np.asarray(bounds[:, 3])


def _largest(shape: shapely.Geometry) -> Polygon:
    parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
    return max(parts, key=lambda part: float(part.area), default=Polygon())
