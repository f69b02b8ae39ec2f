"""A live-edge top: a length of the slab between two straight ends, one or both edges kept.

What counts across is the longest run of wood (across.py): neither a cleft nor a hole is wood.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely import LineString, Polygon, box

from catalogue.layout.across import ASIDE_MM, Across, Edges
from catalogue.layout.laid import FAR_MM, Layout
from catalogue.layout.placed import Placed
from catalogue.layout.profiles import turns_deg
from catalogue.layout.tops import Floats, Top
from inventory.wood.shape import Shape

HOW = "one_slab"
MOST_TURN_DEG = 4.0
"""Ends cut square to the slab's own line, or nearly: further round a strip only looks wider."""
TURN_STEP_DEG = 1.0
FINE_DEG = np.array([-0.75, -0.5, -0.25, 0.25, 0.5, 0.75])
WORTH_A_TURN_MM = 1.0
STEP_MM = 10.0
LOOK_EVERY_MM = 10.0
TRIED = 3
WHOLE_TURN_DEG = 180.0


def best_strip(top: Top, shape: Shape, *, margin_mm: float = 0.0, wane_mm: float = 0.0) -> Layout:
    """The length whose narrowest place is widest; among equals the one nearest the middle.

    The layout's margin is half of what it could still be narrower by at its narrowest place, or
    half of what is missing there (negative); or what is missing of its length. Raises ValueError
    where the wane leaves no wood.
    """
    wood = Placed(shape, 0.0, 0.0, wane_mm=wane_mm).polygon
    if wood.is_empty:
        raise ValueError("The wane leaves no wood of the slab.")
    edges = Edges(wood)
    turns = list(turns_deg(MOST_TURN_DEG, TURN_STEP_DEG))
    if top.kept_edges == "one" and wood.interiors:
        # The edge that is kept may lie beyond a hole, or the other one may.
        turns += [turn + WHOLE_TURN_DEG for turn in turns]
    looked = [_along_best(top, edges, float(turn)) for turn in turns]
    best = max(looked, key=_worth)
    fine = [_along_best(top, edges, best.turn_deg + float(by)) for by in FINE_DEG]
    likely = sorted(looked + fine, key=_worth, reverse=True)[:TRIED]
    ways = [lay_strip(top, one.placed(shape, wane_mm), margin_mm=margin_mm) for one in likely]
    return max(ways, key=lambda laid: laid.margin_mm - _turned_share(laid.placed[0].turn_deg))


class _Looked:
    """Where a strip might lie: the slab turned, then the middle of the top on it (mm)."""

    def __init__(self, turn_deg: float, x_mm: float, y_mm: float, spare_mm: float) -> None:
        self.turn_deg, self.x_mm, self.y_mm, self.spare_mm = turn_deg, x_mm, y_mm, spare_mm

    def placed(self, shape: Shape, wane_mm: float) -> Placed:
        return Placed(shape, -self.x_mm, -self.y_mm, self.turn_deg, wane_mm=wane_mm)


def _worth(looked: _Looked) -> float:
    return looked.spare_mm - _turned_share(looked.turn_deg)


def _turned_share(turn_deg: float) -> float:
    """A little less for a turn; the slab the other way round is not turned at all."""
    off = abs((turn_deg + 90.0) % WHOLE_TURN_DEG - 90.0)
    return WORTH_A_TURN_MM * off


def _along_best(top: Top, edges: Edges, turn_deg: float) -> _Looked:
    """The slab turned, and where its widest-at-its-narrowest length lies."""
    turned = edges.turned(turn_deg)
    left, right = turned.left_mm, turned.right_mm
    steps = max(1, int(np.ceil(top.length_mm / STEP_MM)))
    # A step that divides the length: ends matter, where a turned slab is narrow.
    step = top.length_mm / steps
    across = turned.at(np.arange(left + ASIDE_MM, right, step))
    if steps >= len(across.x):
        middle = (left + right) / 2
        inside = across.part(np.abs(across.x - middle) <= top.length_mm / 2)
        short = min((right - left - top.length_mm) / 2, 0.0)
        spare = (float(_narrowest(top, inside, len(inside.x))[0]) - top.width_mm) / 2
        return _Looked(turn_deg, middle, inside.middle_mm, min(short, spare))
    narrowest = _narrowest(top, across, steps + 1)
    centres = across.x[: len(narrowest)] + top.length_mm / 2
    off = np.abs(centres - (left + right) / 2)
    at = int(np.argmax(narrowest - 1e-4 * off))
    y = across.part(slice(at, at + steps + 1)).middle_mm
    return _Looked(turn_deg, float(centres[at]), y, (float(narrowest[at]) - top.width_mm) / 2)


def _narrowest(top: Top, across: Across, columns: int) -> Floats:
    """The width at its narrowest of every so many places one after another."""
    windows = np.lib.stride_tricks.sliding_window_view
    if top.kept_edges == "one":
        foot = np.maximum(across.low, across.hole_top)
        lowest = windows(across.high, columns).min(axis=1)
        return np.asarray(lowest - windows(foot, columns).max(axis=1))
    return np.asarray(windows(_width_of_both(top, across), columns).min(axis=1))


def _width_of_both(top: Top, across: Across) -> Floats:
    """Width where both edges are kept; where a hole lies, too little by as much as the hole."""
    whole = across.high - across.low
    return np.where(across.holed > 0, np.minimum(whole, top.width_mm - across.holed), whole)


def lay_strip(top: Top, placed: Placed, *, margin_mm: float = 0.0) -> Layout:
    """The live-edge top where the slab lies: its edge follows the slab between its two ends.

    A hole within it counts as missing wood, as under any other top.
    """
    half = top.length_mm / 2
    ends = (
        LineString([(-half, -FAR_MM), (-half, FAR_MM)]),
        LineString([(half, -FAR_MM), (half, FAR_MM)]),
    )
    wood = placed.polygon
    strip = _largest(wood.intersection(box(-half, -FAR_MM, half, FAR_MM)))
    if strip.is_empty:
        return Layout(top, (placed,), HOW, -half - margin_mm, top.polygon)
    whole = Polygon(strip.exterior)
    # Of the piece itself: a slab may be long enough where the strip has come apart.
    left, _, right, _ = strip.bounds
    missing = max(left + half, half - right)
    if missing > 1e-6:
        return Layout(top, (placed,), HOW, -missing - margin_mm, whole)
    across = Edges(strip).at(_places(strip, half))
    if top.kept_edges == "one":
        return _one_edge(top, placed, whole, across, margin_mm)
    widths = _width_of_both(top, across)
    least = float(min(widths.min(), across.shared_mm()))
    spare = (least - top.width_mm) / 2 - margin_mm
    return Layout(top, (placed,), HOW, spare, whole, cuts=ends)


def _one_edge(top: Top, placed: Placed, whole: Polygon, across: Across, margin_mm: float) -> Layout:
    """The upper edge is kept; the other is cut straight so that the narrowest place is as asked."""
    cut_y = float(across.high.min()) - top.width_mm
    foot = float(np.maximum(across.low, across.hole_top).max())
    spare = (cut_y - foot) / 2 - margin_mm
    half = top.length_mm / 2
    kept = _largest(whole.intersection(box(-half, cut_y, half, FAR_MM)))
    cut = LineString([(-half, cut_y), (half, cut_y)])
    return Layout(top, (placed,), HOW, spare, kept if kept else whole, cuts=(cut,))


def _places(strip: Polygon, half: float) -> Floats:
    """Where the edges are looked at: evenly, and on either side of every corner: between corners
    an edge is straight.
    """
    even = np.arange(-half + 1e-3, half, LOOK_EVERY_MM)
    corners = shapely.get_coordinates(strip)[:, 0]
    either = np.concatenate([corners - ASIDE_MM, corners + ASIDE_MM])
    inside = either[np.abs(either) < half - 1e-7]
    return np.unique(np.concatenate([even, inside, [half - 1e-3]]))


def _largest(shape: shapely.Geometry) -> Polygon:
    parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
    return max(parts, key=lambda part: float(part.area), default=Polygon())
