from itertools import pairwise

import numpy as np
import pytest

from inventory.demo.shape import (
    MAX_STACK_SHARE,
    DemoShape,
    LogShape,
    make_shape,
    slab_of,
    slabs_of,
    widths_at,
)


def a_log(seed: int = 5, **changes: float | bool) -> LogShape:
    return LogShape(seed, 2500, 700, **changes)  # type: ignore[arg-type]


def bends(line: np.ndarray, x: np.ndarray) -> np.ndarray:
    """A line without its straight trend."""
    return line - np.polyval(np.polyfit(x, line, 1), x)


def likeness(one: DemoShape, other: DemoShape) -> float:
    pairs = [(one.upper_mm, other.upper_mm), (one.lower_mm, other.lower_mm)]
    each = [np.corrcoef(bends(a, one.x_mm), bends(b, one.x_mm))[0, 1] for a, b in pairs]
    return float(np.mean(each))


def test_the_same_seed_gives_the_same_outline() -> None:
    first, second = slab_of(a_log(), 3, 8, 54), slab_of(a_log(), 3, 8, 54)
    assert first.outline_mm().tobytes() == second.outline_mm().tobytes()
    assert first.knots == second.knots


def test_another_seed_gives_another_outline() -> None:
    one, other = slab_of(a_log(5), 3, 8, 54), slab_of(a_log(6), 3, 8, 54)
    assert not np.allclose(one.upper_mm, other.upper_mm, atol=1)


@pytest.mark.parametrize("crotch", [False, True])
@pytest.mark.parametrize("seed", range(12))
def test_widths_are_positive_and_no_wider_than_the_log(seed: int, crotch: bool) -> None:
    log = a_log(seed, crotch=crotch, waviness=0.11, taper=0.16)
    for shape in slabs_of(log, [54] * 10):
        width = shape.upper_mm - shape.lower_mm
        assert width.min() > 0
        assert width.max() <= log.diameter_mm


@pytest.mark.parametrize("seed", range(6))
def test_neighbours_bend_alike_and_strangers_do_not(seed: int) -> None:
    shapes, strangers = slabs_of(a_log(seed), [54] * 10), slabs_of(a_log(seed + 50), [54] * 10)
    neighbours = [likeness(a, b) for a, b in pairwise(shapes)]
    assert np.mean(neighbours) > 0.8
    assert min(neighbours) > 0.5
    assert likeness(shapes[4], strangers[4]) < np.mean(neighbours) - 0.2


def test_widths_follow_the_chords_of_a_round_log() -> None:
    log = a_log(waviness=0.0, crook_mm=0.0, taper=0.0)
    shapes = slabs_of(log, [54] * 9)
    radius = shapes[4].radius_mm[60]
    for shape in shapes:
        chord = 2 * np.sqrt(radius**2 - shape.depth_mm[60] ** 2)
        assert shape.upper_mm[60] - shape.lower_mm[60] == pytest.approx(chord, rel=1e-6)


def test_the_middle_slab_is_wider_than_the_outer_ones() -> None:
    means = [float(np.mean(widths_at(shape))) for shape in slabs_of(a_log(), [54] * 9)]
    assert max(means) == max(means[3:6])
    assert means[0] < means[2] < means[4] > means[6] > means[8]


def test_slabs_are_a_thickness_and_a_kerf_apart() -> None:
    planes = [float(shape.depth_mm.mean()) for shape in slabs_of(a_log(), [40, 80, 40])]
    assert np.diff(planes) == pytest.approx([64, 64])


def test_a_stack_too_tall_for_its_log_is_refused() -> None:
    count = int(MAX_STACK_SHARE * 700 / 58) + 1
    with pytest.raises(ValueError, match="yields at most"):
        slabs_of(a_log(), [54] * count)


def test_a_slab_number_outside_the_log_is_refused() -> None:
    with pytest.raises(ValueError, match="not one of 1 to 8"):
        slab_of(a_log(), 9, 8, 54)


def test_widths_at_the_ends_and_between() -> None:
    shape = slab_of(a_log(), 4, 8, 54)
    widths = widths_at(shape, 5)
    assert len(widths) == 5
    assert widths[0] == pytest.approx(shape.upper_mm[0] - shape.lower_mm[0], abs=0.06)
    assert widths[2] == pytest.approx(shape.upper_mm[60] - shape.lower_mm[60], abs=0.06)


def test_a_lone_slab_has_about_the_width_asked_for() -> None:
    shape = make_shape(9, 2000, 480)
    assert np.mean(shape.upper_mm - shape.lower_mm) == pytest.approx(480, rel=0.08)


def test_a_slab_of_a_parent_has_its_family_and_width() -> None:
    log = a_log()
    shape = make_shape(9, 0, 500, parent=log)
    assert shape.family_seed == log.seed
    assert shape.length_mm == log.length_mm
    assert np.mean(shape.upper_mm - shape.lower_mm) == pytest.approx(500, rel=0.08)


def test_a_slab_wider_than_its_parent_is_refused() -> None:
    with pytest.raises(ValueError, match="no slab of it"):
        make_shape(9, 0, 900, parent=a_log())


@pytest.mark.parametrize("seed", range(10))
def test_cracks_start_at_an_end_and_taper_to_nothing(seed: int) -> None:
    for shape in slabs_of(a_log(seed), [54] * 8):
        for crack in shape.cracks:
            assert crack.x_mm[0] in (0, shape.length_mm)
            assert crack.width_mm[-1] == 0
            assert np.all(np.diff(crack.width_mm) < 0)


def test_knots_and_eyes_lie_inside_the_slab() -> None:
    for shape in slabs_of(a_log(7), [54] * 8):
        spots = [(k.x_mm, k.y_mm) for k in shape.knots] + [(e[0], e[1]) for e in shape.eyes_mm]
        for x, y in spots:
            low, high = (np.interp(x, shape.x_mm, e) for e in (shape.lower_mm, shape.upper_mm))
            assert low < y < high


def test_only_a_crotch_slab_forks() -> None:
    assert slab_of(a_log(), 4, 8, 54).fork_x_mm is None
    forked = slab_of(a_log(crotch=True), 4, 8, 54)
    assert forked.fork_x_mm is not None
    assert forked.voids_mm[0][:, 0].max() > forked.length_mm
