"""Made-up slabs whose shape is known, for tests of what fits on them."""

import numpy as np

from inventory.wood.shape import Face, Floats, Shape, shape_of


def board(length_mm: float, width_mm: float, *holes: Floats) -> Shape:
    half = width_mm / 2
    ring = [(0.0, -half), (length_mm, -half), (length_mm, half), (0.0, half)]
    return shape_of(Face(np.array(ring), holes))


def wavy(seed: int, length_mm: float = 2400.0, half_mm: float = 380.0) -> Shape:
    """Two live edges of five waves each, ends square."""
    draw = np.random.default_rng(seed)
    x = np.linspace(0.0, length_mm, 90)

    def edge() -> Floats:
        waves = [
            draw.normal(0, 25) * np.sin(2 * np.pi * k * x / length_mm / 1.3 + draw.uniform(0, 6.3))
            for k in range(1, 6)
        ]
        return np.asarray(np.sum(waves, axis=0))

    upper = np.column_stack([x, half_mm + edge()])
    lower = np.column_stack([x, -half_mm + edge()])
    return shape_of(Face(np.vstack([lower, upper[::-1]])))


def crotch(seed: int) -> Shape:
    """A fork: its far end doubles back round the cleft."""
    draw = np.random.default_rng(seed)
    deep = 900.0 + draw.uniform(-150, 150)
    ring = [
        (0, -250), (900, -280), (1900, -520), (2000, -300), (deep + 500, -60),
        (deep, 0), (deep + 400, 60), (2050, 260), (1900, 480), (800, 260), (0, 230),
    ]  # fmt: skip
    return shape_of(Face(np.array(ring, dtype=np.float64)))


def ellipse(length_mm: float, width_mm: float, points: int = 720) -> Shape:
    turn = np.linspace(0.0, 2 * np.pi, points, endpoint=False)
    half = np.array([length_mm / 2, width_mm / 2])
    ring = np.column_stack([np.cos(turn), np.sin(turn)]) * half + (length_mm / 2, 0.0)
    return shape_of(Face(ring))


def _along(seed: int, half_mm: float, length_mm: float = 2400.0) -> tuple[Floats, Floats, Floats]:
    """x, and the two edges of a straight slab with small waves."""
    draw = np.random.default_rng(seed)
    x = np.linspace(0.0, length_mm, 90)
    edges = []
    for side in (1.0, -1.0):
        waves = [
            draw.normal(0, 9) * np.sin(2 * np.pi * k * x / length_mm + draw.uniform(0, 6.3))
            for k in range(1, 6)
        ]
        edges.append(side * half_mm + np.sum(waves, axis=0))
    return x, edges[0], edges[1]


def _between(x: Floats, upper: Floats, lower: Floats, *holes: Floats) -> Shape:
    ring = np.vstack([np.column_stack([x, lower]), np.column_stack([x, upper])[::-1]])
    return shape_of(Face(ring, holes))


def tapered(seed: int) -> Shape:
    """Narrower towards its far end by a third or so."""
    x, upper, lower = _along(seed, 420.0)
    less = np.random.default_rng(seed + 1).uniform(100, 180) * x / x[-1]
    return _between(x, upper - less, lower + 0.6 * less)


def banana(seed: int) -> Shape:
    """Bent: its middle line is an arc, so that one edge is hollow."""
    x, upper, lower = _along(seed, 380.0)
    rise = np.random.default_rng(seed + 1).uniform(60, 140)
    bend = rise * (1 - (2 * x / x[-1] - 1) ** 2)
    return _between(x, upper + bend, lower + bend)


def waisted(seed: int) -> Shape:
    """Narrow at a place along it, hollow from both sides."""
    x, upper, lower = _along(seed, 420.0)
    draw = np.random.default_rng(seed + 1)
    neck = draw.uniform(60, 120) * np.exp(-(((x - draw.uniform(700, 1700)) / 350) ** 2))
    return _between(x, upper - neck, lower + neck)


def oblique(seed: int) -> Shape:
    """Cut askew: its ends lean by 10 to 25 degrees."""
    x, upper, lower = _along(seed, 380.0)
    lean = np.tan(np.radians(np.random.default_rng(seed + 1).uniform(10, 25)))
    ring = np.vstack([np.column_stack([x, lower]), np.column_stack([x, upper])[::-1]])
    ring[:, 0] += lean * ring[:, 1]
    return shape_of(Face(ring - (ring[:, 0].min(), 0.0)))


def holed(seed: int) -> Shape:
    """With one or two knots fallen out."""
    x, upper, lower = _along(seed, 420.0)
    draw = np.random.default_rng(seed + 1)
    turn = np.linspace(0.0, 2 * np.pi, 24, endpoint=False)
    round_ = np.column_stack([np.cos(turn), np.sin(turn)])
    holes = [
        round_ * draw.uniform(15, 60) + (draw.uniform(300, 2100), draw.uniform(-330, 330))
        for _ in range(int(draw.integers(1, 3)))
    ]
    return _between(x, upper, lower, *holes)


KINDS = (wavy, tapered, banana, waisted, oblique, holed)
