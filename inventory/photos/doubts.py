"""Where a drafted line rests on little: the edge hardly showed in the picture, and nobody has moved
the line there since.

The draft says so in places every few millimetres along its line (`segment.Draft.weak_mm`). What the
person drags elsewhere is theirs; what is left just where the draft laid it keeps its doubt.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import shapely
from shapely import LineString, MultiLineString, MultiPoint, line_merge

Floats = npt.NDArray[np.float64]

SAME_MM = 1.5
"""A line no farther than this from the draft's lies where the draft laid it: the draft itself is
kept with a few tenths less than it was found with (segment.SIMPLER_MM)."""
REACH_MM = 4.0
"""How far along the line one doubtful place speaks: the draft looks every 4 mm (segment)."""
LEAST_MM = 10.0
"""A shorter stretch is no more than a speck in the picture."""


def still_doubted(weak_mm: npt.ArrayLike, line_mm: npt.ArrayLike) -> Floats:
    """(k, 2) of the doubtful places, those that the closed line (n, 2) still runs through."""
    weak = np.asarray(weak_mm, dtype=np.float64).reshape(-1, 2)
    line = np.asarray(line_mm, dtype=np.float64).reshape(-1, 2)
    if not len(weak) or len(line) < 3:
        return np.empty((0, 2))
    apart = shapely.distance(shapely.linearrings(line), shapely.points(weak))
    return np.asarray(weak[apart <= SAME_MM])


def stretches(places_mm: npt.ArrayLike, line_mm: npt.ArrayLike) -> tuple[Floats, ...]:
    """The parts of the closed line (n, 2) about the doubtful places, each (m, 2), longest first."""
    places = np.asarray(places_mm, dtype=np.float64).reshape(-1, 2)
    line = np.asarray(line_mm, dtype=np.float64).reshape(-1, 2)
    if not len(places) or len(line) < 3:
        return ()
    about = MultiPoint(places).buffer(REACH_MM)
    cut = shapely.intersection(LineString([*line, line[0]]), about)
    lines = [part for part in shapely.get_parts(cut) if isinstance(part, LineString)]
    merged = line_merge(MultiLineString(lines))
    found = [np.asarray(part.coords) for part in shapely.get_parts(merged)]
    long = [part for part in found if length_mm(part) >= LEAST_MM]
    return tuple(sorted(long, key=length_mm, reverse=True))


def length_mm(stretch: Floats) -> float:
    """Along a stretch (m, 2)."""
    return float(np.linalg.norm(np.diff(stretch, axis=0), axis=1).sum())
