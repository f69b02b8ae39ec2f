"""A line as the tracing page sends it: read with nothing trusted, and written for the page to draw.

JSON: {"outline": [[x, y, h], …], "holes": [the same, …], "weak": [[x, y], …], "corrected": n}, in
the straightened picture's mm with y down. `h` is 0 on a point that only carries the drafted edge
between two that a person can take hold of (1; 2 once it was).
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, NoReturn

import numpy as np
import numpy.typing as npt
import shapely

Floats = npt.NDArray[np.float64]
Ring = tuple[tuple[float, float, bool], ...]

MOST_TEXT = 400_000
MOST_POINTS = 4_000
MOST_HOLES = 60
MOST_CLICKS = 200
FARTHEST_MM = 60_000.0
HANDLE_MM = 1.5
MOST_HANDLES = 110
UNREADABLE = "The line could not be read. Click round the slab again."


class DrawnProblem(ValueError):
    """A line that cannot be taken. Its text is a sentence for the person."""


@dataclass(frozen=True)
class Drawn:
    """A line with its holes. `weak` are places where the drafted edge hardly shows; `corrected`
    how many points were moved, added or taken out."""

    outline: Ring
    holes: tuple[Ring, ...] = ()
    weak: tuple[tuple[float, float], ...] = ()
    corrected: int = 0

    @property
    def outline_mm(self) -> Floats:
        return _places(self.outline)

    @property
    def holes_mm(self) -> tuple[Floats, ...]:
        return tuple(_places(hole) for hole in self.holes)

    @property
    def handles(self) -> int:
        return sum(held for _, _, held in self.outline)

    def text(self) -> str:
        """As the page's hidden field holds it, to a hundredth of a mm."""
        said = {
            "outline": _listed(self.outline),
            "holes": [_listed(hole) for hole in self.holes],
            "weak": [[round(x, 1), round(y, 1)] for x, y in self.weak],
            "corrected": self.corrected,
        }
        return json.dumps(said, separators=(",", ":"))


def drawn_of(
    outline_mm: npt.ArrayLike,
    holes_mm: Sequence[npt.ArrayLike] = (),
    weak_mm: npt.ArrayLike = (),
    corrected: int = 0,
) -> Drawn:
    """A line to be corrected: every point that shapes it can be taken hold of."""
    weak = np.asarray(weak_mm, dtype=np.float64).reshape(-1, 2)
    return Drawn(
        with_handles(outline_mm),
        tuple(with_handles(hole) for hole in holes_mm),
        tuple((float(x), float(y)) for x, y in weak),
        corrected,
    )


def with_handles(ring_mm: npt.ArrayLike) -> Ring:
    """A ring whose handles, joined up, stray no more than `HANDLE_MM` from it (Douglas–Peucker);
    more where a hundred or so would not do."""
    ring = np.asarray(ring_mm, dtype=np.float64).reshape(-1, 2)
    if len(ring) < 4:
        return tuple((float(x), float(y), True) for x, y in ring)
    closed = shapely.LineString([*ring, ring[0]])
    within_mm = HANDLE_MM
    held = _corners(closed, within_mm)
    while len(held) > MOST_HANDLES:
        within_mm *= 1.3
        held = _corners(closed, within_mm)
    return tuple((float(x), float(y), (x, y) in held) for x, y in ring)


def _corners(line: shapely.LineString, within_mm: float) -> set[tuple[float, float]]:
    simple = line.simplify(within_mm, preserve_topology=False)
    return {(x, y) for x, y in simple.coords}


def read_drawn(text: str) -> Drawn:
    """What the page sent.

    Raises:
        DrawnProblem: it is no JSON of this form, holds what is no number, or is far too much.
    """
    said = _json(text)
    if not isinstance(said, dict):
        raise DrawnProblem(UNREADABLE)
    holes = said.get("holes", [])
    if not isinstance(holes, list) or len(holes) > MOST_HOLES:
        raise DrawnProblem(f"No more than {MOST_HOLES} holes can be traced in one face.")
    rings = [_ring(said.get("outline")), *(_ring(hole) for hole in holes)]
    weak = _ring(said.get("weak", []))
    if sum(len(ring) for ring in rings) > MOST_POINTS or len(weak) > MOST_POINTS:
        raise DrawnProblem(f"A line of more than {MOST_POINTS:,} points cannot be kept.")
    corrected = said.get("corrected", 0)
    if not isinstance(corrected, int) or isinstance(corrected, bool):
        raise DrawnProblem(UNREADABLE)
    # A hole begun and left with a point or two is no hole yet.
    begun = tuple(ring for ring in rings[1:] if len(ring) >= 3)
    places = tuple((x, y) for x, y, _ in weak)
    return Drawn(rings[0], begun, places, min(max(corrected, 0), MOST_POINTS))


def read_places(text: str, most: int = MOST_CLICKS) -> tuple[tuple[float, float], ...]:
    """Clicks or corners, [[x, y], …]; none where nothing was sent.

    Raises:
        DrawnProblem: as `read_drawn`.
    """
    if not text.strip():
        return ()
    ring = _ring(_json(text))
    if len(ring) > most:
        raise DrawnProblem(f"That is more than {most} points: a few round the slab will do.")
    return tuple((x, y) for x, y, _ in ring)


def places_text(places: Iterable[Sequence[float]]) -> str:
    return json.dumps([[round(float(x), 2), round(float(y), 2)] for x, y in places])


def _json(text: str) -> Any:
    if len(text) > MOST_TEXT:
        raise DrawnProblem(f"A line of more than {MOST_POINTS:,} points cannot be kept.")
    try:
        return json.loads(text, parse_constant=_no_number)
    except (ValueError, RecursionError) as problem:
        raise DrawnProblem(UNREADABLE) from problem


def _no_number(name: str) -> NoReturn:
    raise DrawnProblem(UNREADABLE)


def _ring(said: Any) -> Ring:
    if not isinstance(said, list):
        raise DrawnProblem(UNREADABLE)
    return tuple(_point(each) for each in said)


def _point(said: Any) -> tuple[float, float, bool]:
    if not isinstance(said, list) or len(said) not in (2, 3):
        raise DrawnProblem(UNREADABLE)
    x, y = (_number(each) for each in said[:2])
    return x, y, len(said) == 2 or said[2] in (1, 2)


def _number(said: Any) -> float:
    if isinstance(said, bool) or not isinstance(said, int | float):
        raise DrawnProblem(UNREADABLE)
    # A whole number may be too long for a float, and a float may be infinite: 1e999 is.
    if abs(said) > FARTHEST_MM or not math.isfinite(said):
        raise DrawnProblem(UNREADABLE)
    return float(said)


def _listed(ring: Ring) -> list[list[float]]:
    return [[round(x, 2), round(y, 2), int(held)] for x, y, held in ring]


def _places(ring: Ring) -> Floats:
    return np.array([(x, y) for x, y, _ in ring], dtype=np.float64).reshape(-1, 2)
