"""Doubtful stretches of a traced line: lengths and places by exact geometry."""

import numpy as np
import pytest

from inventory.photos.doubts import length_mm, still_doubted, stretches

BOX = [(0.0, 0.0), (1000.0, 0.0), (1000.0, 300.0), (0.0, 300.0)]


def along_top(start: float, stop: float) -> np.ndarray:
    x = np.arange(start, stop + 1e-9, 4.0)
    return np.column_stack([x, np.zeros_like(x)])


def test_a_stretch_is_as_long_as_its_places_and_half_a_step_at_either_end() -> None:
    (stretch,) = stretches(along_top(200, 400), BOX)
    # Exact: from 200 − 4 to 400 + 4 mm (the buffer's circle meets the straight line at its radius).
    assert length_mm(stretch) == pytest.approx(208, abs=0.1)
    assert stretch[:, 0].min() == pytest.approx(196, abs=0.1)
    assert stretch[:, 1] == pytest.approx(0)


def test_stretches_apart_stay_apart_longest_first_and_one_over_the_first_point_is_one() -> None:
    corner = np.vstack([along_top(0, 40), [(0.0, y) for y in range(4, 44, 4)]])
    long, short = stretches(np.vstack([along_top(300, 340), corner]), BOX)
    assert length_mm(long) == pytest.approx(40 + 40 + 8, abs=0.5)
    assert length_mm(short) == pytest.approx(48, abs=0.1)


def test_a_speck_is_no_stretch() -> None:
    assert stretches([(500.0, 0.0)], BOX) == ()
    assert stretches([], BOX) == ()


def test_what_was_dragged_elsewhere_is_doubted_no_more() -> None:
    weak = along_top(100, 900)
    moved = [(0.0, 0.0), (400.0, 0.0), (500.0, 30.0), (600.0, 0.0), *BOX[1:]]
    left = still_doubted(weak, moved)
    # The dragged line rises 30 mm in 100: within 1.5 mm of the old one for 5 mm (and a little, as
    # the distance is square to the slope: 1.5 / sin(atan 0.3) = 5.2 mm).
    gone = weak[(weak[:, 0] > 405.3) & (weak[:, 0] < 594.7)]
    assert len(left) == len(weak) - len(gone)
    assert not ((left[:, 0] > 405.3) & (left[:, 0] < 594.7)).any()


def test_nothing_is_doubted_of_a_line_that_nobody_drafted() -> None:
    assert len(still_doubted([], BOX)) == 0
    assert len(still_doubted(along_top(0, 100), BOX[:2])) == 0
