"""Where on a slab a top could lie: quick searches that hand places to the exact measure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from catalogue.layout.clearance import outer_polygon
from catalogue.layout.tops import Floats, Top
from inventory.wood.shape import Shape

STEP_MM = 10.0
APART_DEG = 2.0
HULL_POINTS = 24


@dataclass(frozen=True)
class Place:
    """A top's centre on the slab (mm) and its turn (°); `spare_mm` as the search saw it."""

    x_mm: float
    y_mm: float
    turn_deg: float
    spare_mm: float


def turns_deg(most_deg: float, step_deg: float = 1.5) -> Floats:
    """Even turns from −most to most, 0 among them."""
    count = int(np.ceil(most_deg / step_deg))
    return np.linspace(-most_deg, most_deg, 2 * count + 1)


def by_profile(top: Top, shape: Shape, turns: Floats) -> list[Place]:
    """The best place at each turn by the slab's edges as heights over its length; best first.

    Sees spare width across the turned slab and spare length, and no holes: see `by_erosion`.
    """
    places = [place for turn in turns for place in _at_turn(top, shape, float(turn))]
    return sorted(places, key=lambda place: -place.spare_mm)


def _at_turn(top: Top, shape: Shape, turn_deg: float) -> Iterator[Place]:
    turn = np.radians(turn_deg)
    # The slab turned back, so that the top lies along x.
    back = np.array([(np.cos(turn), -np.sin(turn)), (np.sin(turn), np.cos(turn))])
    upper, lower = shape.upper_mm @ back, shape.lower_mm @ back
    ends = shapely.get_coordinates(shape.wood.exterior) @ back
    low_x, high_x = float(ends[:, 0].min()), float(ends[:, 0].max())
    grid = np.arange(low_x, high_x + STEP_MM, STEP_MM)
    high, low = _heights(upper, grid), _heights(lower, grid)
    columns = int(np.ceil(top.length_mm / STEP_MM)) + 1
    half = top.half_width_at(np.linspace(-1.0, 1.0, columns))
    if columns >= len(grid):
        spare = min(_too_long(top, high, low), (high_x - low_x - top.length_mm) / 2)
        centre = np.array([(low_x + high_x) / 2, float(np.mean(high + low)) / 2]) @ back.T
        yield Place(float(centre[0]), float(centre[1]), turn_deg, spare)
        return
    windows = np.lib.stride_tricks.sliding_window_view
    ceiling = (windows(high, columns) - half).min(axis=1)
    floor = (windows(low, columns) + half).max(axis=1)
    begins = grid[: len(ceiling)]
    room = np.minimum(begins - low_x, high_x - begins - top.length_mm)
    spare_at = np.minimum((ceiling - floor) / 2, room)
    middle = np.abs(begins + top.length_mm / 2 - (low_x + high_x) / 2)
    best = int(np.argmax(spare_at - 1e-4 * middle))
    inner = np.array([begins[best] + top.length_mm / 2, (ceiling[best] + floor[best]) / 2])
    x, y = inner @ back.T
    yield Place(float(x), float(y), turn_deg, float(spare_at[best]))


def _heights(edge: Floats, grid: Floats) -> Floats:
    order = np.argsort(edge[:, 0], kind="stable")
    return np.asarray(np.interp(grid, edge[order, 0], edge[order, 1]))


def _too_long(top: Top, high: Floats, low: Floats) -> float:
    width = float((high - low).max())
    return (width - top.width_mm) / 2


def by_erosion(top: Top, wood: Polygon, turns: Floats) -> list[Place]:
    """The same by exact geometry, holes and edges that double back and all; best first.

    The places a convex top's centre may not have are swept by the top along every piece of edge;
    of what is left, the centre of the largest circle has the most spare all round.
    """
    outline = shapely.get_coordinates(outer_polygon(top, HULL_POINTS).exterior)[:-1]
    rings = [wood.exterior, *wood.interiors]
    first = np.vstack([shapely.get_coordinates(ring)[:-1] for ring in rings])
    last = np.vstack([shapely.get_coordinates(ring)[1:] for ring in rings])
    found = []
    for turn_deg in turns:
        turn = np.radians(turn_deg)
        spin = np.array([(np.cos(turn), np.sin(turn)), (-np.sin(turn), np.cos(turn))])
        top_points = outline @ spin
        swept = np.concatenate(
            [first[:, None, :] - top_points, last[:, None, :] - top_points], axis=1
        )
        barred = shapely.union_all(shapely.convex_hull(shapely.multipoints(swept)))
        found += _free(wood.difference(barred), float(turn_deg))
    return sorted(found, key=lambda place: -place.spare_mm)


def _free(free: shapely.Geometry, turn_deg: float) -> list[Place]:
    places = []
    for part in shapely.get_parts(free):
        if part.geom_type != "Polygon" or part.is_empty:
            continue
        radius = shapely.maximum_inscribed_circle(part, tolerance=0.5)
        (x, y), _ = shapely.get_coordinates(radius)
        places.append(Place(float(x), float(y), turn_deg, float(radius.length)))
    return places


def few_apart(places: list[Place], most: int) -> list[Place]:
    """The best places whose turns differ, or that lie far from each other."""
    kept: list[Place] = []
    for place in places:
        alike = any(
            abs(place.turn_deg - other.turn_deg) < APART_DEG
            and np.hypot(place.x_mm - other.x_mm, place.y_mm - other.y_mm) < 100.0
            for other in kept
        )
        if not alike:
            kept.append(place)
        if len(kept) == most:
            break
    return kept
