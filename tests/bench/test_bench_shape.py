"""Every figure of a traced face against the bare geometry they cannot do without.

The floor is shapely and numpy on the same points: polygon, both areas, the largest circle and the
place of every station. About 200 points a face. What counts is the processor's own time, whatever
else it does beside. Run with `-m bench -n 0 -s`.
"""

import sys
from collections.abc import Callable, Sequence
from time import process_time

import numpy as np
import pytest
import shapely
from shapely import Polygon

from inventory.wood.shape import STATIONS, Face, shape_of
from tests.bench.test_bench_shapes import ring

FACES, MOST_MS = 200, 6.0


def face(seed: int, *, holes: int = 0) -> Face:
    """A slab traced all round, its end cuts too; about 200 points."""
    traced = shapely.segmentize(Polygon(ring(seed)), 33.5)
    corners = np.array([(0, 0), (60, 0), (60, 25), (0, 25)], dtype=np.float64)
    voids = tuple(corners + np.array([400.0 * nth + 300.0, 0.0]) for nth in range(holes))
    return Face(shapely.get_coordinates(traced)[:-1], voids)


def bare(face: Face) -> None:
    polygon = Polygon(face.ring_mm)
    places = np.linspace(*polygon.bounds[::2], STATIONS)
    np.interp(places, face.ring_mm[:, 0], face.ring_mm[:, 1])
    shapely.maximum_inscribed_circle(polygon, tolerance=0.5)
    float(polygon.area)


def ms_each(work: Callable[[Face], object], faces: Sequence[Face]) -> float:
    """The best of three goes, ms a face; every face is new, so that nothing is remembered."""
    best = np.inf
    for _ in range(3):
        fresh = [Face(one.ring_mm, one.holes_mm, one.bark_mm) for one in faces]
        start = process_time()
        for one in fresh:
            work(one)
        best = min(best, process_time() - start)
    return 1e3 * best / len(faces)


@pytest.mark.bench
def test_bench_of_a_faces_figures() -> None:
    plain = [face(seed) for seed in range(FACES)]
    holed = [face(seed, holes=3) for seed in range(FACES)]
    floor = ms_each(bare, plain)
    points = np.mean([len(one.ring_mm) for one in plain])
    sys.stdout.write(f"\nbare geometry: {floor:.2f} ms a face of {points:.0f} points")
    for words, faces in (("plain", plain), ("with three holes", holed)):
        took = ms_each(shape_of, faces)
        sys.stdout.write(f"\n{words:>17}: {took:.2f} ms a face, {took / floor:.1f} × bare")
        assert took < (MOST_MS if faces is plain else 4 * MOST_MS)
    sys.stdout.write("\n")
