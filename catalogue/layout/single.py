"""One top on one slab: where it fits best, proved by exact geometry.

Places are found by quick searches (profiles.py), the best of them settled by small steps of the
exact distance (clearance.py). Nothing is said to fit that shapely does not find wholly on wood.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.optimize import minimize
from shapely import Polygon

from catalogue.layout import profiles, strips
from catalogue.layout.clearance import ROUGH_POINTS, Wood, outer_polygon, put
from catalogue.layout.laid import Layout
from catalogue.layout.placed import Placed
from catalogue.layout.profiles import Place
from catalogue.layout.tops import Floats, Top
from inventory.wood.shape import Shape

MOST_TURN_DEG = 15.0
"""Grain runs along a top: it is turned on the slab by no more than this, unless asked."""
STARTS, MORE_STARTS = 2, 5
STEP_MM, STEP_DEG = 6.0, 0.4
STEPS, MORE_STEPS = 90, 240
NEARLY_SHARE = 0.04
"""A top that misses by less than this share of its shorter side is looked at again, longer."""
HOPELESS_SHARE = 0.25
"""The same on a slab with a hole or a fork, where the first look may have landed on it."""
SMALLER = (0.97, 0.93)
"""Near the limit there is hardly a place to be found; one for a smaller top is a start."""
HOW = "one_slab"


def best_fit(
    top: Top,
    shape: Shape,
    *,
    margin_mm: float = 0.0,
    wane_mm: float = 0.0,
    max_turn_deg: float = MOST_TURN_DEG,
) -> Layout:
    """The top where it has the most spare wood; where it does not fit, where it misses least.

    `margin_mm` is kept free all round and `wane_mm` taken off every edge first; the layout's own
    margin is what is spare beyond both, on every side, or what is missing (negative).
    """
    if top.is_live_edge:
        return strips.best_strip(top, shape, margin_mm=margin_mm, wane_mm=wane_mm)
    wood = Wood(shape.wood)
    if top.shape == "round":
        x, y, _ = shape.circle
        place = Place(x, y, 0.0, 0.0)
    else:
        place = _settled_best(top, shape, wood, max_turn_deg, margin_mm + wane_mm)
    return _laid(top, shape, wood, place, margin_mm, wane_mm)


def lay(top: Top, placed: Placed, how: str = HOW, *, margin_mm: float = 0.0) -> Layout:
    """The top on a slab where a hand put it, with what is spare there or missing."""
    if top.is_live_edge:
        return strips.lay_strip(top, placed, margin_mm=margin_mm)
    wood = Wood(placed.slab)
    spare = wood.clearance_mm(outer_polygon(top)) - placed.wane_mm - margin_mm
    return Layout(top, (placed,), how, spare, top.polygon)


def placed_at(shape: Shape, place: Place, wane_mm: float = 0.0) -> Placed:
    """The slab in the frame of a top whose centre lies at that place on it."""
    turn = np.radians(place.turn_deg)
    cos, sin = float(np.cos(turn)), float(np.sin(turn))
    x = -(cos * place.x_mm + sin * place.y_mm)
    y = -(-sin * place.x_mm + cos * place.y_mm)
    return Placed(shape, x, y, -place.turn_deg, wane_mm=wane_mm)


def _laid(
    top: Top, shape: Shape, wood: Wood, place: Place, margin_mm: float, wane_mm: float
) -> Layout:
    lies = put(outer_polygon(top), place.x_mm, place.y_mm, place.turn_deg)
    spare = wood.clearance_mm(lies) - wane_mm - margin_mm
    return Layout(top, (placed_at(shape, place, wane_mm),), HOW, spare, top.polygon)


def _settled_best(
    top: Top, shape: Shape, wood: Wood, max_turn_deg: float, asked_mm: float
) -> Place:
    """The best place found; looked for longer where it misses what is asked by little."""
    settled = [
        _settled(top, wood, place, max_turn_deg) for place in _starts(top, shape, max_turn_deg)
    ]
    best = max(settled, key=_worth)
    is_plain = not (shape.wood.interiors or shape.doubles_back)
    short = min(top.length_mm, top.width_mm)
    nearly, hopeless = NEARLY_SHARE * short, HOPELESS_SHARE * short
    if best.spare_mm >= asked_mm or best.spare_mm < asked_mm - (nearly if is_plain else hopeless):
        return best
    more = [
        _settled(top, wood, place, max_turn_deg) for place in _more_starts(top, shape, max_turn_deg)
    ]
    best = max([best, *more], key=_worth)
    if best.spare_mm < asked_mm - nearly:
        return best
    finer = [_settled(top, wood, best, max_turn_deg, 0, wide) for wide in (1.0, 4.0)]
    return max([best, *finer], key=_worth)


def _worth(place: Place) -> tuple[float, float]:
    return round(place.spare_mm, 2), -abs(place.turn_deg)


def _starts(top: Top, shape: Shape, max_turn_deg: float) -> list[Place]:
    plain = profiles.by_profile(top, shape, profiles.turns_deg(max_turn_deg))
    if not (shape.wood.interiors or shape.doubles_back):
        return profiles.few_apart(plain, STARTS)
    few = profiles.turns_deg(max_turn_deg, 2.5)
    exact = profiles.by_erosion(top, shape.wood, few)
    return profiles.few_apart(exact, STARTS) or profiles.few_apart(plain, STARTS)


def _more_starts(top: Top, shape: Shape, max_turn_deg: float) -> list[Place]:
    if not (shape.wood.interiors or shape.doubles_back):
        plain = profiles.by_profile(top, shape, profiles.turns_deg(max_turn_deg))
        return profiles.few_apart(plain, MORE_STARTS)[STARTS:]
    few = profiles.turns_deg(max_turn_deg, 2.5)
    for smaller in SMALLER:
        exact = profiles.by_erosion(top.scaled(smaller), shape.wood, few)
        if exact:
            return profiles.few_apart(exact, MORE_STARTS)
    return []


def _settled(
    top: Top,
    wood: Wood,
    start: Place,
    max_turn_deg: float,
    points: int = ROUGH_POINTS,
    wide: float = 1.0,
) -> Place:
    """Small steps along, across and in turn for as long as the spare wood grows.

    `points` of the top's outline as clearance.outer_polygon takes them, 0 for all, with more
    steps; `wide` the first steps as so many of the usual.
    """
    outline = outer_polygon(top, points)
    whole = wide * np.array([STEP_MM, STEP_MM, STEP_DEG])
    begin = np.array([start.x_mm, start.y_mm, start.turn_deg])

    def missing(step: Floats) -> float:
        x, y, turn = begin + step * whole
        over = max(0.0, abs(float(turn)) - max_turn_deg)
        return 1e3 * over - wood.clearance_mm(_put_within(outline, x, y, turn, max_turn_deg))

    corners = np.vstack([np.zeros(3), np.eye(3)])
    most = STEPS if points else MORE_STEPS
    options: Any = {"initial_simplex": corners, "maxfev": most, "xatol": 0.01, "fatol": 0.02}
    found = minimize(missing, np.zeros(3), method="Nelder-Mead", options=options)
    best = found.x if found.fun <= missing(np.zeros(3)) else np.zeros(3)
    x, y, turn = (float(part) for part in begin + best * whole)
    turn = min(max(turn, -max_turn_deg), max_turn_deg)
    spare = wood.clearance_mm(put(outline, x, y, turn))
    return Place(x, y, turn, spare)


def _put_within(rough: Polygon, x: float, y: float, turn: float, most: float) -> Polygon:
    return put(rough, float(x), float(y), min(max(float(turn), -most), most))
