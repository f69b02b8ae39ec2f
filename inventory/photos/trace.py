"""An outline judged before it is kept: is it one plain shape, which way does it lie, is it likely?

What can be mended without changing the slab is mended and said; what cannot is refused with a
sentence. The outline kept has x along the slab from 0 at its first end, y across it, both in mm;
y grows towards the top of the picture, as it does on a bench seen from above.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import shapely
from shapely import (
    LineString,
    MultiPolygon,
    Polygon,
    get_coordinates,
    get_parts,
    make_valid,
    unary_union,
)
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from inventory.photos.problems import Problem, Trouble, stopping
from inventory.photos.scale import compare_length

Floats = npt.NDArray[np.float64]

MENDED_SHARE = 0.01
"""A crossing is mended while no more than this share of the area is in question."""
SHORTEST_MM, LONGEST_MM = 150.0, 15_000.0
NARROWEST_MM, WIDEST_MM = 20.0, 3_000.0
END_SHARE = 0.03
"""Widths are read between the ends, which are often cut out of square."""
WIDTH_DIFFERS = 0.04
WIDTH_DIFFERS_MM = 12.0
LEAST_HOLE_MM2 = 25.0
_STATIONS = 101
ASKEW = 0.035
"""Two degrees: a board ripped straight along one edge and tapering differs by less."""
_MOST_TURNS = 6
_LEVEL = 2e-4
"""A slab that rises by no more than this share of its length lies level."""


@dataclass(frozen=True)
class TypedSizes:
    """Sizes the slab already has by tape, in mm; None where none was taken."""

    length_mm: float | None = None
    least_width_mm: float | None = None
    greatest_width_mm: float | None = None


@dataclass(frozen=True, eq=False)
class Judged:
    """What came of an outline.

    `outline_mm` is (n, 2), not closed, counter-clockwise; `holes_mm` the same for each hole; both
    empty when a problem stops it. `to_slab` is the (2, 3) step that took the picture's mm, in
    which y runs down, to the slab's, in which it runs up.
    """

    outline_mm: Floats
    holes_mm: tuple[Floats, ...]
    to_slab: Floats
    length_mm: float = 0.0
    least_width_mm: float = 0.0
    greatest_width_mm: float = 0.0
    area_mm2: float = 0.0
    problems: tuple[Problem, ...] = field(default=())

    @property
    def is_refused(self) -> bool:
        return bool(stopping(self.problems))


def judge(
    outline_mm: npt.ArrayLike,
    holes_mm: Sequence[npt.ArrayLike] = (),
    typed: TypedSizes | None = None,
) -> Judged:
    """An outline traced on the straightened picture, with its holes, before it is saved."""
    shape, problems = _one_shape(np.asarray(outline_mm, dtype=np.float64).reshape(-1, 2))
    if shape is None:
        return _refused(problems)
    holes, wrong = _holes(shape, holes_mm)
    problems += wrong
    if stopping(problems):
        return _refused(problems)
    to_slab = lying_along(shape)
    return _measured(shape, holes, to_slab, problems, typed or TypedSizes())


def _refused(problems: Sequence[Problem]) -> Judged:
    return Judged(np.empty((0, 2)), (), np.eye(2, 3), problems=tuple(problems))


def _one_shape(points: Floats) -> tuple[Polygon | None, list[Problem]]:
    """The outline as one plain polygon, mended where that changes nothing to speak of."""
    kept = _without_repeats(points)
    if len(kept) < 3 or not np.isfinite(kept).all():
        return None, [_no_outline()]
    drawn = Polygon(kept)
    if drawn.is_valid:
        return (drawn, []) if drawn.area > 0 else (None, [_no_outline()])
    whole = _all_parts(make_valid(drawn))
    main = max(get_parts(whole), key=lambda part: float(part.area), default=None)
    if main is None or main.area <= 0:
        return None, [_no_outline()]
    plain = Polygon(main.exterior)
    doubt = (whole.area - main.area) + (plain.area - main.area)
    if doubt > MENDED_SHARE * plain.area:
        return None, [_crossing()]
    return plain, [_mended()]


def _without_repeats(points: Floats) -> Floats:
    if len(points) < 2:
        return points
    moved = np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1)
    return np.asarray(points[moved > 1e-6])


def _all_parts(shape: BaseGeometry) -> MultiPolygon:
    """Only what has area of a shape that was made valid, laps counted once."""
    parts = [part for part in get_parts(shape, return_index=False) if part.area > 0]
    flat = [piece for part in parts for piece in get_parts(part)]
    return MultiPolygon([piece for piece in flat if piece.geom_type == "Polygon"])


def _holes(
    shape: Polygon, holes_mm: Sequence[npt.ArrayLike]
) -> tuple[tuple[Polygon, ...], list[Problem]]:
    """Holes as plain polygons that lie wholly inside, those that touch made one."""
    found: list[Polygon] = []
    problems: list[Problem] = []
    for number, ring in enumerate(holes_mm, 1):
        hole, wrong = _one_shape(np.asarray(ring, dtype=np.float64).reshape(-1, 2))
        problems += [_hole_problem(number, problem) for problem in wrong]
        if hole is None:
            continue
        if not shape.contains(hole):
            problems.append(_hole_outside(number))
        elif hole.area >= LEAST_HOLE_MM2:
            found.append(hole)
    merged = [Polygon(part.exterior) for part in get_parts(unary_union(found))] if found else []
    return tuple(merged), problems


def lying_along(shape: Polygon) -> Floats:
    """The (2, 3) step that lays a slab along x: its first end, left in the picture, at 0.

    Along is the long side of the smallest rectangle round it, as a tape would be laid, unless that
    lies askew of the wood: then the straight line its middle follows best. A slab standing upright
    in the picture has its upper end first.
    """
    side = _long_side(shape)
    middle = _settled(shape, side)
    askew = abs(side[0] * middle[1] - side[1] * middle[0])
    along = middle if askew > ASKEW else side
    if along[0] < 0 if abs(along[0]) > 0.1 else along[1] < 0:
        along = -along
    # Across is turned so that what lies higher in the picture has the greater y.
    turn = np.array([along, (along[1], -along[0])])
    turned = get_coordinates(shape) @ turn.T
    low, high = turned.min(axis=0), turned.max(axis=0)
    return np.column_stack([turn, (-low[0], -(low[1] + high[1]) / 2)])


def _long_side(shape: Polygon) -> Floats:
    """The direction of the long side of the smallest rectangle round a shape."""
    corners = get_coordinates(shape.minimum_rotated_rectangle)[:4]
    sides = np.diff(corners, axis=0)[:2]
    along = sides[int(np.linalg.norm(sides, axis=1).argmax())]
    return np.asarray(along / np.linalg.norm(along))


def _settled(shape: Polygon, along: Floats) -> Floats:
    """That direction turned until the middle of the slab neither rises nor falls along it.

    The smallest rectangle alone follows whichever bulge is largest, by several degrees.
    """
    for _ in range(_MOST_TURNS):
        flat = Polygon(get_coordinates(shape.exterior) @ np.column_stack([along, _across(along)]))
        low_x, low_y, high_x, high_y = flat.bounds
        inset = END_SHARE * (high_x - low_x)
        places = np.linspace(low_x + inset, high_x - inset, _STATIONS)
        ends = np.array([[(x, low_y - 1), (x, high_y + 1)] for x in places])
        cuts = shapely.bounds(shapely.intersection(shapely.linestrings(ends), flat))
        middle, width = (cuts[:, 1] + cuts[:, 3]) / 2, cuts[:, 3] - cuts[:, 1]
        known = np.isfinite(middle)
        slope = float(np.polyfit(places[known], middle[known], 1, w=np.sqrt(width[known]))[0])
        turned = along + slope * _across(along)
        along = np.asarray(turned / np.linalg.norm(turned))
        if abs(slope) < _LEVEL:
            break
    return along


def _across(along: Floats) -> Floats:
    return np.array([-along[1], along[0]])


def carried(step: Floats, points: npt.ArrayLike) -> Floats:
    """(n, 2) points through a (2, 3) turn, mirror and move."""
    flat = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    return np.asarray(flat @ step[:, :2].T + step[:, 2])


def _measured(
    shape: Polygon,
    holes: Sequence[Polygon],
    to_slab: Floats,
    problems: list[Problem],
    typed: TypedSizes,
) -> Judged:
    outline = _ring(shape, to_slab)
    length = float(np.ptp(outline[:, 0]))
    widths = widths_along(Polygon(outline))
    least, greatest = float(widths.min()), float(widths.max())
    problems += _unlikely(length, least, greatest)
    problems += _against_tape(length, least, greatest, typed)
    if stopping(problems):
        return _refused(problems)
    area = shape.area - sum(hole.area for hole in holes)
    rings = tuple(_ring(hole, to_slab) for hole in holes)
    return Judged(
        outline, rings, to_slab, length, least, greatest, float(area), problems=tuple(problems)
    )


def _ring(shape: Polygon, to_slab: Floats) -> Floats:
    """The outer ring in the slab's mm, counter-clockwise: the step there mirrors it."""
    return carried(to_slab, get_coordinates(orient(shape, -1.0).exterior)[:-1])


def widths_along(shape: Polygon) -> Floats:
    """Wood across the slab at even places between its ends; where it forks, all of it together."""
    left, low, right, high = shape.bounds
    inset = END_SHARE * (right - left)
    lines = [
        LineString([(x, low - 1), (x, high + 1)])
        for x in np.linspace(left + inset, right - inset, _STATIONS)
    ]
    return np.array([shape.intersection(line).length for line in lines])


def largest_part(shape: BaseGeometry) -> Polygon:
    """The largest polygon of a shape, without its holes; an empty one when it has none."""
    parts = get_parts(_all_parts(make_valid(shape)))
    largest = max(parts, key=lambda part: float(part.area), default=Polygon())
    return Polygon(largest.exterior) if not largest.is_empty else Polygon()


def least_side_mm(shape: Polygon) -> float:
    """The short side of the smallest rectangle round a shape."""
    corners = get_coordinates(shape.minimum_rotated_rectangle)
    return (
        float(np.linalg.norm(np.diff(corners, axis=0), axis=1).min()) if len(corners) > 3 else 0.0
    )


def _unlikely(length_mm: float, least_mm: float, greatest_mm: float) -> list[Problem]:
    if not SHORTEST_MM <= length_mm <= LONGEST_MM or not NARROWEST_MM <= greatest_mm <= WIDEST_MM:
        sentence = (
            f"By this scale the slab is {length_mm:.0f} mm long and {greatest_mm:.0f} mm wide, "
            "which no slab is: see that the bar’s length, or the taped length, is right."
        )
        return [Problem(Trouble.UNLIKELY, sentence, stops=True)]
    if least_mm < 0.15 * greatest_mm:
        sentence = (
            f"The outline narrows to {least_mm:.0f} mm while it is {greatest_mm:.0f} mm at its "
            "widest: look whether a point has slipped."
        )
        return [Problem(Trouble.UNLIKELY, sentence)]
    return []


def _against_tape(
    length_mm: float, least_mm: float, greatest_mm: float, typed: TypedSizes
) -> list[Problem]:
    problems = []
    if typed.length_mm and (told := compare_length(length_mm, typed.length_mm)):
        problems.append(told)
    for name, width, taped in (
        ("narrowest", least_mm, typed.least_width_mm),
        ("widest", greatest_mm, typed.greatest_width_mm),
    ):
        if taped and abs(width - taped) > max(WIDTH_DIFFERS * taped, WIDTH_DIFFERS_MM):
            sentence = (
                f"The outline is {width:.0f} mm at its {name}; by tape it is {taped:.0f} mm. "
                "Look whether bark is counted the same way in both."
            )
            problems.append(Problem(Trouble.WIDTH, sentence))
    return problems


def _no_outline() -> Problem:
    return Problem(
        Trouble.NO_OUTLINE, "An outline needs at least three points round the slab.", stops=True
    )


def _crossing() -> Problem:
    return Problem(
        Trouble.CROSSING,
        "The outline crosses itself, so it is not clear what is slab: drag the crossing points "
        "apart.",
        stops=True,
    )


def _mended() -> Problem:
    return Problem(
        Trouble.MENDED, "The outline crossed itself by a hair; the small loop was taken out."
    )


def _hole_problem(number: int, problem: Problem) -> Problem:
    if problem.stops:
        sentence = f"Hole {number} crosses itself or has no size: draw it again, or take it out."
        return Problem(Trouble.HOLE, sentence, stops=True)
    return Problem(Trouble.HOLE, f"Hole {number} crossed itself by a hair; that was mended.")


def _hole_outside(number: int) -> Problem:
    return Problem(
        Trouble.HOLE,
        f"Hole {number} reaches over the outline. A hole lies wholly inside; where a crack or void "
        "opens to the edge, lead the outline itself round it.",
        stops=True,
    )
