"""A person at the screen: rough clicks round a slab, and an outline dragged right afterwards."""

from __future__ import annotations

import numpy as np
from shapely import LineString, Point, Polygon

from inventory.photos.scale import Floats
from inventory.photos.trace import largest_part


def clicks_round(outline_mm: Floats, rng: np.random.Generator, rough_mm: float = 8.0) -> Floats:
    """10 to 16 clicks near an outline: its four corners and places along both edges.

    The outline's first half is one edge, its second the other, as the invented slabs have it.
    """
    count = int(rng.integers(10, 17))
    half = len(outline_mm) // 2
    first = int(rng.integers(count // 2 - 1, count // 2 + 2))
    places = [
        np.linspace(0, half - 1, first).round().astype(int),
        np.linspace(half, 2 * half - 1, count - first).round().astype(int),
    ]
    picked = outline_mm[np.concatenate(places)]
    return np.asarray(picked + rng.normal(0, rough_mm, picked.shape))


def corrected(
    draft_mm: Floats, truth_mm: Floats, within_mm: float, rng: np.random.Generator
) -> Floats:
    """The draft after a person dragged every part of it to within that much of the truth.

    Where the draft is already that near it is left alone, wrong as it may still be; elsewhere
    points are put near the true edge, each off by up to that much, about every 40 mm.
    """
    edge = LineString([*truth_mm, truth_mm[0]])
    drawn = LineString([*draft_mm, draft_mm[0]])
    steps = np.arange(0, edge.length, 8.0)
    kept: list[tuple[float, float]] = []
    last_put = -np.inf
    for step in steps:
        true = edge.interpolate(step)
        near = drawn.interpolate(drawn.project(true))
        if near.distance(true) <= within_mm:
            kept.append((near.x, near.y))
        elif step - last_put >= 40.0 or _is_corner(edge, step):
            last_put = step
            kept.append(_near(true, within_mm, rng))
    return np.asarray(largest_part(Polygon(kept)).exterior.coords, dtype=np.float64)[:-1]


def _is_corner(edge: LineString, step: float) -> bool:
    here = edge.interpolate(step)
    ahead = edge.interpolate(min(step + 12.0, edge.length))
    behind = edge.interpolate(max(step - 12.0, 0.0))
    a, b = (
        np.array([here.x - behind.x, here.y - behind.y]),
        np.array([ahead.x - here.x, ahead.y - here.y]),
    )
    return float(a @ b) < 0.7 * float(np.linalg.norm(a) * np.linalg.norm(b))


def _near(place: Point, within_mm: float, rng: np.random.Generator) -> tuple[float, float]:
    angle, far = rng.uniform(0, 2 * np.pi), within_mm * np.sqrt(rng.uniform())
    return place.x + far * np.cos(angle), place.y + far * np.sin(angle)
