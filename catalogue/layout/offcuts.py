"""What the pieces left of a slab are still good for: their largest rectangle and largest round.

Sound, not the utmost: whatever is named lies wholly in the piece; of rectangles only those along
the slab's length or the piece's own long side are looked for, to a few centimetres.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon, affinity, box
from shapely.geometry.base import BaseGeometry

from catalogue.layout.tops import Floats

LEAST_MM = 100.0
"""Common practice: a piece that holds nothing this wide is firewood."""
CELL_MM = 25.0
MOST_CELLS = 6_000


@dataclass(frozen=True)
class Rectangle:
    """Length and width (mm), where its middle lies, and its turn (°, counter-clockwise)."""

    length_mm: float
    width_mm: float
    x_mm: float
    y_mm: float
    turn_deg: float

    @property
    def polygon(self) -> Polygon:
        half = self.length_mm / 2, self.width_mm / 2
        flat = box(-half[0], -half[1], half[0], half[1])
        turned = affinity.rotate(flat, self.turn_deg, origin=(0, 0))
        moved = affinity.translate(turned, self.x_mm, self.y_mm)
        assert isinstance(moved, Polygon)
        return moved


@dataclass(frozen=True)
class Round:
    diameter_mm: float
    x_mm: float
    y_mm: float


@dataclass(frozen=True)
class Offcut:
    """One piece left over, and the largest of each wholly in it; None where too small."""

    area_mm2: float
    rectangle: Rectangle | None
    round: Round | None


def offcuts(left: BaseGeometry) -> list[Offcut]:
    """The pieces of what is left that are worth keeping, largest first."""
    pieces = [part for part in shapely.get_parts(left) if part.geom_type == "Polygon"]
    found = [_offcut(piece) for piece in pieces if piece.area >= LEAST_MM**2]
    kept = [one for one in found if one.rectangle or one.round]
    return sorted(kept, key=lambda one: -one.area_mm2)


def largest_rectangle(offcuts: Iterable[Offcut]) -> Rectangle | None:
    """The largest in area among the pieces."""
    found = [one.rectangle for one in offcuts if one.rectangle]
    return max(found, key=lambda one: one.length_mm * one.width_mm, default=None)


def largest_round(offcuts: Iterable[Offcut]) -> Round | None:
    found = [one.round for one in offcuts if one.round]
    return max(found, key=lambda one: one.diameter_mm, default=None)


def _offcut(piece: Polygon) -> Offcut:
    radius = shapely.maximum_inscribed_circle(piece, tolerance=0.5)
    (x, y), _ = shapely.get_coordinates(radius)
    diameter = 2 * float(radius.length)
    circle = Round(diameter, float(x), float(y)) if diameter >= LEAST_MM else None
    return Offcut(float(piece.area), rectangle_in(piece), circle)


def rectangle_in(piece: Polygon) -> Rectangle | None:
    """The largest rectangle found in a piece, its shorter side at least LEAST_MM."""
    turns = {0.0, _long_side_deg(piece)}
    found = [one for turn in turns if (one := _at_turn(piece, turn)) is not None]
    return max(found, key=lambda one: one.length_mm * one.width_mm, default=None)


def _long_side_deg(piece: Polygon) -> float:
    corners = shapely.get_coordinates(piece.minimum_rotated_rectangle)
    if len(corners) < 4:
        return 0.0
    sides = np.diff(corners, axis=0)
    x, y = sides[int(np.linalg.norm(sides, axis=1).argmax())]
    return float((np.degrees(np.arctan2(y, x)) + 90.0) % 180.0 - 90.0)


def _at_turn(piece: Polygon, turn_deg: float) -> Rectangle | None:
    flat = affinity.rotate(piece, -turn_deg, origin=(0, 0))
    if not isinstance(flat, Polygon):
        return None
    left, low, right, high = flat.bounds
    cell = max(CELL_MM, float(np.sqrt((right - left) * (high - low) / MOST_CELLS)))
    found = _largest_of_cells(_cells(flat, cell))
    if found is None:
        return None
    row, column, rows, columns = found
    x0, y0 = left + column * cell, low + row * cell
    x0, y0, x1, y1 = _grown(flat, (x0, y0, x0 + columns * cell, y0 + rows * cell))
    if min(x1 - x0, y1 - y0) < LEAST_MM:
        return None
    middle = affinity.rotate(shapely.Point((x0 + x1) / 2, (y0 + y1) / 2), turn_deg, origin=(0, 0))
    return _named(x1 - x0, y1 - y0, middle.x, middle.y, turn_deg)


def _named(along: float, across: float, x: float, y: float, turn_deg: float) -> Rectangle:
    if along >= across:
        return Rectangle(along, across, x, y, turn_deg)
    return Rectangle(across, along, x, y, turn_deg + 90.0)


def _cells(piece: Polygon, cell: float) -> Floats:
    """Which cells of a grid lie wholly in a piece, rows upwards; 1 and 0."""
    left, low, right, high = piece.bounds
    x = np.arange(left, right, cell)
    y = np.arange(low, high, cell)
    if len(x) < 2 or len(y) < 2:
        return np.zeros((0, 0))
    shapely.prepare(piece)
    boxes = shapely.box(*np.meshgrid(x[:-1], y[:-1]), *np.meshgrid(x[1:], y[1:]))
    return np.asarray(shapely.contains(piece, boxes), dtype=np.float64)


def _largest_of_cells(cells: Floats) -> tuple[int, int, int, int] | None:
    """The largest block of ones: row, column, rows, columns. Heights and a stack, row by row."""
    best: tuple[float, tuple[int, int, int, int]] | None = None
    if not cells.size:
        return None
    heights = np.zeros(cells.shape[1], dtype=int)
    for row, line in enumerate(cells):
        heights = np.where(line > 0, heights + 1, 0)
        area, column, columns, rows = _under(heights.tolist())
        if area and (best is None or area > best[0]):
            best = (area, (row - rows + 1, column, rows, columns))
    return best[1] if best else None


def _under(heights: list[int]) -> tuple[int, int, int, int]:
    """The largest rectangle under a skyline: area, first column, columns, height."""
    best, stack = (0, 0, 0, 0), list[tuple[int, int]]()
    for at, height in enumerate([*heights, 0]):
        begins = at
        while stack and stack[-1][1] >= height:
            begins, tall = stack.pop()
            if tall * (at - begins) > best[0]:
                best = (tall * (at - begins), begins, at - begins, tall)
        stack.append((begins, height))
    return best


Sides = tuple[float, float, float, float]


def _grown(piece: Polygon, sides: Sides) -> Sides:
    """Each side pushed out as far as the piece allows, to half a millimetre, one after another."""
    for side, sense in ((0, -1.0), (1, -1.0), (2, 1.0), (3, 1.0)):
        step = CELL_MM
        while step >= 0.5:
            tried = _pushed(sides, side, sense * step)
            if piece.covers(box(*tried)):
                sides = tried
            else:
                step /= 2
    return sides


def _pushed(sides: Sides, side: int, by_mm: float) -> Sides:
    x0, y0, x1, y1 = (mm + by_mm if at == side else mm for at, mm in enumerate(sides))
    return x0, y0, x1, y1
