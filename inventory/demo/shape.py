"""Outlines of invented slabs: each is a plane cut through an invented log.

A log is a surface R(x, theta) about a crooked pith. A slab is where a plane at a
given height above the pith meets that surface, so neighbours share their family's
bends and bumps, and the middle slabs are the widest.

Axes: x runs along the log from the butt end; y is across the slab, positive
towards its upper edge; z is the sawing direction. All lengths are mm.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

STATIONS = 121
KERF_MM = 4.0
"""Wood lost between neighbours on a wide bandsaw (common practice: 3 to 5 mm)."""
MAX_STACK_SHARE = 0.88
"""The slabs of a log may use this share of its diameter; the rest is slab wood."""
_MODES = 4


@dataclass(frozen=True)
class LogShape:
    """The whole log that a family of slabs is sawn from.

    `diameter_mm` is the greatest across, inside bark. `taper` is the share of it
    lost from butt to top, `waviness` the share by which it swells and narrows,
    `crook_mm` how far the pith strays from straight. A `crotch` log forks near its top.
    """

    seed: int
    length_mm: float
    diameter_mm: float
    taper: float = 0.12
    waviness: float = 0.06
    crook_mm: float = 25.0
    crotch: bool = False


@dataclass(frozen=True)
class Knot:
    """Where a branch passed through the face; a dead one is darker and ringed."""

    x_mm: float
    y_mm: float
    radius_mm: float
    dead: bool


@dataclass(frozen=True, eq=False)
class Crack:
    """An end crack: a line from the end inward (x, y) with its width, tapering to 0."""

    x_mm: Floats
    y_mm: Floats
    width_mm: Floats


@dataclass(frozen=True, eq=False)
class DemoShape:
    """One slab's own shape. Arrays run over the same `STATIONS` along the length.

    `upper_mm` and `lower_mm` are signed offsets of the edges from the straight
    centre line (upper > lower); `pith_y_mm` is the pith line seen from above,
    `depth_mm` how far this plane lies from the pith, `radius_mm` the log's radius.
    `eyes_mm` is (n, 3): x, y and radius of burl eyes. `voids_mm` are (n, 2) rings.
    """

    seed: int
    family_seed: int
    length_mm: float
    thickness_mm: float
    x_mm: Floats
    upper_mm: Floats
    lower_mm: Floats
    pith_y_mm: Floats
    depth_mm: Floats
    radius_mm: Floats
    end_skew_mm: tuple[float, float]
    knots: tuple[Knot, ...]
    eyes_mm: Floats
    cracks: tuple[Crack, ...]
    voids_mm: tuple[Floats, ...]
    fork_x_mm: float | None

    def outline_mm(self) -> Floats:
        """Closed outline as (2 * STATIONS, 2) points x, y, clockwise from the butt's top."""
        top = np.column_stack([self.skewed_x_mm(self.upper_mm), self.upper_mm])
        bottom = np.column_stack([self.skewed_x_mm(self.lower_mm), self.lower_mm])
        return np.vstack([top, bottom[::-1]])

    def skewed_x_mm(self, y_mm: Floats) -> Floats:
        """Stations moved so that the two ends are cut a little out of square."""
        along = self.x_mm / self.length_mm
        share = y_mm / max(float(np.ptp(y_mm)), float(self.upper_mm.max()), 1.0)
        start, end = self.end_skew_mm
        return self.x_mm + share * (start * (1 - along) ** 8 + end * along**8)


def widths_at(shape: DemoShape, n: int = 9) -> list[float]:
    """Widths (mm, inside bark) at `n` equally spaced stations from end to end."""
    where = np.linspace(0.0, shape.length_mm, n)
    widths = np.interp(where, shape.x_mm, shape.upper_mm - shape.lower_mm)
    return [round(float(width), 1) for width in widths]


def slabs_of(log: LogShape, thicknesses_mm: Sequence[float]) -> list[DemoShape]:
    """Every slab of a log sawn through and through, in sawn order.

    Raises ValueError when the stack would not fit in the log.
    """
    pitches = [thickness + KERF_MM for thickness in thicknesses_mm]
    stack_mm = sum(pitches)
    if stack_mm > MAX_STACK_SHARE * log.diameter_mm:
        raise ValueError(
            f"{len(pitches)} slabs take {stack_mm:.0f} mm with their kerfs; "
            f"a log {log.diameter_mm:.0f} mm across yields at most "
            f"{MAX_STACK_SHARE * log.diameter_mm:.0f} mm."
        )
    tops = list(accumulate(pitches))
    planes = [top - pitch / 2 - stack_mm / 2 for top, pitch in zip(tops, pitches, strict=True)]
    return [
        _cut(log, plane, thickness, log.seed * 1009 + number)
        for number, (plane, thickness) in enumerate(zip(planes, thicknesses_mm, strict=True), 1)
    ]


def slab_of(log: LogShape, number: int, count: int, thickness_mm: float) -> DemoShape:
    """Slab `number` (from 1, in sawn order) of `count` equal slabs of one log."""
    if not 1 <= number <= count:
        raise ValueError(f"Slab {number} is not one of 1 to {count}.")
    return slabs_of(log, [thickness_mm] * count)[number - 1]


def make_shape(
    seed: int,
    length_mm: float,
    mean_width_mm: float,
    *,
    taper: float = 0.12,
    waviness: float = 0.06,
    crook: float = 25.0,
    crotch: bool = False,
    parent: LogShape | None = None,
    thickness_mm: float = 54.0,
) -> DemoShape:
    """One slab about `mean_width_mm` wide; from `parent`, the plane of it that wide.

    With a parent its length, taper, waviness, crook and crotch rule.
    Raises ValueError when the parent is nowhere that wide.
    """
    log = parent or LogShape(seed, length_mm, mean_width_mm * 1.45, taper, waviness, crook, crotch)
    mean_radius = float(_surface(log).mean())
    half = min(mean_width_mm / 2, mean_radius) if parent is None else mean_width_mm / 2
    if half > mean_radius:
        raise ValueError(
            f"The log is about {2 * mean_radius:.0f} mm wide; no slab of it is "
            f"{mean_width_mm:.0f} mm."
        )
    return _cut(log, float(np.sqrt(mean_radius**2 - half**2)), thickness_mm, seed)


# --- the log ---------------------------------------------------------------------


def _smooth(rng: np.random.Generator, along: Floats, waves: float) -> Floats:
    """A smooth random line over 0..1, about unit deviation, up to `waves` bends."""
    total = np.zeros_like(along)
    for _ in range(6):
        rate = rng.uniform(0.35, waves)
        total += np.sin(2 * np.pi * (rate * along + rng.uniform())) / (0.8 + rate)
    return total / max(float(total.std()), 1e-6)


def _along() -> Floats:
    return np.linspace(0.0, 1.0, STATIONS)


@lru_cache(maxsize=64)
def _modes(log: LogShape) -> tuple[Floats, Floats]:
    """Cosine and sine strengths of the swelling about the log, each (modes, stations)."""
    rng = np.random.default_rng([log.seed, 11])
    strengths = [1.0, 0.8, 0.6, 0.5]
    cosines = [s * _smooth(rng, _along(), 3 + 2 * k) for k, s in enumerate(strengths)]
    sines = [s * _smooth(rng, _along(), 3 + 2 * k) for k, s in enumerate(strengths)]
    return np.array(cosines), np.array(sines)


def _relative_radius(log: LogShape, theta: Floats) -> Floats:
    """Radius over its nominal at angle `theta` from the sawing direction, (..., stations)."""
    along = _along()
    cosines, sines = _modes(log)
    wave = np.zeros(np.broadcast_shapes(theta.shape, along.shape))
    for k in range(_MODES):
        wave = wave + cosines[k] * np.cos((k + 1) * theta) + sines[k] * np.sin((k + 1) * theta)
    butt = 0.10 * np.exp(-along / 0.10)
    straight = 1.0 - log.taper * along + butt
    if log.crotch:
        swell = np.clip((along - 0.45) / 0.5, 0, 1) ** 1.6
        straight = straight * (1.0 + 0.75 * swell * np.sin(theta) ** 2)
    return np.asarray(straight * (1.0 + 0.55 * log.waviness * wave), dtype=np.float64)


@lru_cache(maxsize=64)
def _surface(log: LogShape) -> Floats:
    """Radius (mm) over 24 angles by stations, scaled so that no two opposite exceed it."""
    theta = np.linspace(0, 2 * np.pi, 24, endpoint=False)[:, None]
    rough = _relative_radius(log, theta)
    return np.asarray(rough * (log.diameter_mm / 2 / rough.max()))


def _radius_at(log: LogShape, theta: Floats) -> Floats:
    scale = float(_surface(log).max()) / float(
        _relative_radius(log, np.linspace(0, 2 * np.pi, 24, endpoint=False)[:, None]).max()
    )
    return np.minimum(_relative_radius(log, theta) * scale, log.diameter_mm / 2)


@lru_cache(maxsize=64)
def _pith(log: LogShape) -> tuple[Floats, Floats]:
    """How far the pith strays sideways (y) and in the sawing direction (z), per station."""
    rng = np.random.default_rng([log.seed, 12])
    along = _along()
    sideways = _smooth(rng, along, 1.3)
    sideways -= sideways[0] + (sideways[-1] - sideways[0]) * along
    upright = _smooth(rng, along, 1.8)
    upright -= upright.mean()
    return (
        log.crook_mm * sideways / max(float(np.abs(sideways).max()), 1e-6),
        0.55 * log.crook_mm * upright,
    )


# --- the slab --------------------------------------------------------------------


def _cut(log: LogShape, plane_mm: float, thickness_mm: float, seed: int) -> DemoShape:
    """The slab whose mid-plane lies `plane_mm` from the log's axis."""
    side, upright = _pith(log)
    depth = plane_mm - upright
    radius = _surface(log).mean(axis=0)
    theta = np.arccos(np.clip(depth / radius, -0.92, 0.92))
    upper = side + _half_chord(_radius_at(log, theta), depth)
    lower = side - _half_chord(_radius_at(log, -theta), depth)
    rng = np.random.default_rng([seed, 21])
    x_mm = _along() * log.length_mm
    edges = (x_mm, upper, lower, side)
    fork = 0.72 * log.length_mm if log.crotch else None
    return DemoShape(
        seed=seed,
        family_seed=log.seed,
        length_mm=log.length_mm,
        thickness_mm=thickness_mm,
        x_mm=x_mm,
        upper_mm=upper,
        lower_mm=lower,
        pith_y_mm=side,
        depth_mm=depth,
        radius_mm=radius,
        end_skew_mm=(float(rng.normal(0, 10)), float(rng.normal(0, 10))),
        knots=_knots(log, depth, edges),
        eyes_mm=_eyes(log, edges),
        cracks=_cracks(rng, log.length_mm, edges),
        voids_mm=_voids(rng, log, edges),
        fork_x_mm=fork,
    )


def _half_chord(radius: Floats, depth: Floats) -> Floats:
    return np.sqrt(np.maximum(radius**2 - depth**2, (0.3 * radius) ** 2))


_Edges = tuple[Floats, Floats, Floats, Floats]


def _knots(log: LogShape, depth: Floats, edges: _Edges) -> tuple[Knot, ...]:
    """Branches leave the pith at fixed angles; a slab shows those its plane crosses."""
    rng = np.random.default_rng([log.seed, 13])
    x_mm, upper, lower, side = edges
    knots = []
    for _ in range(int(rng.integers(2, 9))):
        x, slope = rng.uniform(0.08, 0.92) * log.length_mm, rng.normal(0, 1.2)
        size, dead, facing = rng.uniform(5, 19), bool(rng.random() < 0.5), rng.choice([-1, 1])
        z = float(np.interp(x, x_mm, depth))
        y = float(np.interp(x, x_mm, side)) + z * slope
        top, bottom = np.interp(x, x_mm, upper), np.interp(x, x_mm, lower)
        inside = bottom + 0.2 * (top - bottom) < y < top - 0.2 * (top - bottom)
        if inside and z * facing > 0.04 * log.diameter_mm:
            knots.append(Knot(float(x + 0.4 * abs(z)), y, float(size), dead))
    return tuple(knot for knot in knots if knot.x_mm < 0.96 * log.length_mm)


def _eyes(log: LogShape, edges: _Edges) -> Floats:
    """Clustered burl eyes; the family's clusters, so that neighbours match."""
    rng = np.random.default_rng([log.seed, 14])
    x_mm, upper, lower, _ = edges
    area_m2 = float(np.trapezoid(upper - lower, x_mm)) / 1e6
    clusters = max(10, int(24 * area_m2))
    centres = rng.uniform(0.03, 0.97, (clusters, 2))
    each = rng.integers(14, 90, clusters)
    spread = rng.uniform(24, 80, clusters)
    of = np.repeat(np.arange(clusters), each)
    x = centres[of, 0] * log.length_mm + rng.normal(0, 1, of.size) * spread[of]
    x = np.clip(x, 15, log.length_mm - 15)
    top, bottom = np.interp(x, x_mm, upper), np.interp(x, x_mm, lower)
    y = bottom + centres[of, 1] * (top - bottom) + rng.normal(0, 1, of.size) * spread[of]
    eyes = np.column_stack([x, y, 2.6 + 6.5 * rng.random(of.size) ** 3])
    return np.asarray(eyes[(y > bottom + 12) & (y < top - 12)])


def _cracks(rng: np.random.Generator, length_mm: float, edges: _Edges) -> tuple[Crack, ...]:
    """End cracks, mostly near the pith, at one end or both."""
    x_mm, upper, lower, side = edges
    cracks = []
    for _ in range(int(rng.choice([0, 1, 2, 3, 4], p=[0.22, 0.3, 0.26, 0.14, 0.08]))):
        inward = rng.uniform(70, 420) * min(1.0, length_mm / 2400)
        steps = np.linspace(0, 1, 14)
        x = inward * steps if rng.random() < 0.5 else length_mm - inward * steps
        half = np.interp(x, x_mm, upper - lower) / 2
        across = np.interp(x, x_mm, side) + rng.normal(0, 0.3) * half.mean()
        jag = np.cumsum(rng.normal(0, 1.6, steps.size))
        width = rng.uniform(2.5, 8.0) * (1 - steps) ** 0.8
        cracks.append(Crack(x, across + jag, width))
    return tuple(cracks)


def _voids(rng: np.random.Generator, log: LogShape, edges: _Edges) -> tuple[Floats, ...]:
    """A bark pocket or hole in a few slabs; the cleft between the limbs of a crotch."""
    x_mm, upper, lower, _side = edges
    voids = []
    if log.crotch:
        voids.append(_cleft(rng, log.length_mm, upper, lower))
    if rng.random() < 0.12:
        x = rng.uniform(0.2, 0.8) * log.length_mm
        top, bottom = np.interp(x, x_mm, upper), np.interp(x, x_mm, lower)
        y = bottom + rng.uniform(0.25, 0.75) * (top - bottom)
        turn = np.linspace(0, 2 * np.pi, 40, endpoint=False)
        bumps = 1 + 0.28 * np.sin(2 * turn + rng.uniform(0, 6)) + 0.2 * np.sin(3 * turn + x)
        long_mm, wide_mm = rng.uniform(24, 80), rng.uniform(6, 15)
        sway = 0.16 * wide_mm * rng.normal(0, 1) * np.cos(turn) ** 2
        ring = [x + long_mm * bumps**0.5 * np.cos(turn), y + wide_mm * bumps * np.sin(turn) + sway]
        voids.append(np.column_stack(ring))
    return tuple(voids)


def _cleft(rng: np.random.Generator, length_mm: float, upper: Floats, lower: Floats) -> Floats:
    """The wedge between two limbs, open at the top end."""
    middle, width = float(upper[-1] + lower[-1]) / 2, float(upper[-1] - lower[-1])
    depth = rng.uniform(0.08, 0.13) * length_mm
    steps = np.linspace(0, 1, 20)
    x = length_mm + 15 - (depth + 15) * (1 - steps)
    open_mm = 0.12 * width * steps**1.5 + rng.normal(0, 1.5, steps.size) * steps
    top = np.column_stack([x, middle + open_mm])
    return np.vstack([top, np.column_stack([x, middle - open_mm])[::-1]])
