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
