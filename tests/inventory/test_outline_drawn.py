"""Lines between page and server: what can be taken hold of, and that nothing is lost on the way."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, hausdorff_distance

from inventory.outline_drawn import (
    HANDLE_MM,
    MOST_HANDLES,
    DrawnProblem,
    drawn_of,
    read_drawn,
    read_places,
    with_handles,
)

WAVES = st.lists(
    st.tuples(st.floats(0.0, 15.0), st.integers(1, 5), st.floats(0, 6.3)), min_size=1, max_size=3
)


def edge(waves: list[tuple[float, int, float]], count: int = 160) -> np.ndarray:
    """A ring about 1200 mm across whose radius comes and goes by so many waves."""
    turn = np.linspace(0, 2 * math.pi, count, endpoint=False)
    radius = 600 + sum(high * np.sin(times * turn + start) for high, times, start in waves)
    return np.round(np.column_stack([radius * np.cos(turn), radius * np.sin(turn)]), 2)


@given(WAVES)
def test_the_handles_joined_up_stray_little_from_the_line(
    waves: list[tuple[float, int, float]],
) -> None:
    ring = with_handles(edge(waves))
    held = [(x, y) for x, y, is_held in ring if is_held]
    assert 3 <= len(held) <= MOST_HANDLES
    whole = LineString([(x, y) for x, y, _ in ring] + [ring[0][:2]])
    joined = LineString([*held, held[0]])
    assert hausdorff_distance(whole, joined) <= HANDLE_MM + 1e-9


@given(WAVES, st.integers(0, 4000))
def test_what_is_sent_comes_back_the_same(
    waves: list[tuple[float, int, float]], corrected: int
) -> None:
    hole = edge(waves, 12) / 10
    drawn = drawn_of(edge(waves), [np.round(hole, 2)], [(1.5, -2.5)], corrected)
    assert read_drawn(drawn.text()) == drawn


def test_a_long_ragged_line_has_no_more_handles_than_can_be_held() -> None:
    rng = np.random.default_rng(3)
    ragged = edge([(30.0, 5, 0.0)], 1500) + rng.normal(0, 6, (1500, 2))
    ring = with_handles(ragged)
    assert len(ring) == 1500
    assert sum(held for _, _, held in ring) <= MOST_HANDLES


def test_a_square_is_held_at_its_four_corners() -> None:
    sides = [(0, 0), (50, 0), (100, 0), (100, 50), (100, 100), (50, 100), (0, 100), (0, 50)]
    held = [(x, y) for x, y, is_held in with_handles(sides) if is_held]
    assert held == [(0, 0), (100, 0), (100, 100), (0, 100)]


def test_a_hole_begun_and_left_is_no_hole() -> None:
    drawn = read_drawn('{"outline": [[0,0],[9,0],[9,9]], "holes": [[], [[1,1],[2,2]]]}')
    assert drawn.holes == ()


def test_clicks_are_places_or_nothing() -> None:
    assert read_places("") == ()
    assert read_places("[[1, 2.5]]") == ((1.0, 2.5),)
    for wrong in ("[1, 2]", "[[1]]", "{}", "[[1, NaN]]", "[[1, 1e9]]"):
        with pytest.raises(DrawnProblem):
            read_places(wrong)
