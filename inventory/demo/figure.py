"""Figure and faults: what makes one board of a species unlike the next.

Each function changes a `WoodField` in place. Those that bend the rings (knots, burl)
run before the rings are drawn; those that shimmer or stain run after.
"""

from collections.abc import Iterator

import numpy as np

from inventory.demo.grain import WoodField
from inventory.demo.noise import F32, cloud
from inventory.demo.shape import DemoShape, Knot

Patch = tuple[slice, slice]


# --- before the rings ------------------------------------------------------------


def bend_around_knots(field: WoodField, shape: DemoShape) -> None:
    """Rings and fibres part around every knot."""
    for knot in shape.knots:
        for patch, x, y in _patch(field, knot.x_mm, knot.y_mm, 7.0 * knot.radius_mm):
            reach2 = (x / (3.2 * knot.radius_mm)) ** 2 + (y / (1.5 * knot.radius_mm)) ** 2
            field.depth_mm[patch] -= np.float32(1.5 * knot.radius_mm) * np.exp(-reach2)


def swirl_burl(field: WoodField, shape: DemoShape, strength: float = 1.0) -> None:
    """Rings lose their way and wind about clusters of eyes."""
    swirl = cloud("swirl", field.frame, shape.family_seed)
    field.heart_depth_mm = field.depth_mm + np.float32(7.0) * swirl
    wander = cloud("patch", field.frame, shape.family_seed + 3)
    field.heart_depth_mm += np.float32(24.0) * wander + np.float32(12.0)
    field.depth_mm *= np.float32(0.45)
    field.depth_mm += np.float32(15.0 * strength) * swirl
    field.depth_mm += np.float32(12.0 * strength) * cloud("patch", field.frame, shape.family_seed)
    field.depth_mm += np.float32(120.0)
    for x_mm, y_mm, radius in shape.eyes_mm:
        for patch, x, y in _patch(field, x_mm, y_mm, 3.4 * radius):
            bump = np.exp(-(x**2 + y**2) / np.float32(2.2 * radius**2))
            field.depth_mm[patch] += np.float32(3.4 * radius) * bump
    field.grainless = True


# --- after the rings -------------------------------------------------------------


def darken_knots(field: WoodField, shape: DemoShape) -> None:
    """The branch itself: dark, with its own rings, split in the middle when dead."""
    for knot in shape.knots:
        for patch, x, y in _patch(field, knot.x_mm, knot.y_mm, 2.2 * knot.radius_mm):
            field.tone[patch] += _knot_tone(knot, x, y)


def _knot_tone(knot: Knot, x: F32, y: F32) -> F32:
    wobble = 1 + 0.12 * np.sin(3 * np.arctan2(y, x) + knot.x_mm)
    reach = np.sqrt((x / 1.25) ** 2 + y**2) / (knot.radius_mm * wobble)
    inside = np.clip((1.08 - reach) * 6, 0, 1)
    own = -0.75 + 0.30 * np.sin(reach * knot.radius_mm * 1.9)
    rim = -(1.3 if knot.dead else 0.5) * np.exp(-(((reach - 1.0) / 0.13) ** 2))
    heart = -1.4 * np.exp(-((reach / 0.28) ** 2))
    halo = -0.35 * np.exp(-(((reach - 1) / 0.6) ** 2))
    return np.asarray(inside * (own + heart) + rim + halo, dtype=np.float32)


def pin_eyes(field: WoodField, shape: DemoShape) -> None:
    """The dark pin in the middle of each burl eye, in a darker ring."""
    for x_mm, y_mm, radius in shape.eyes_mm:
        for patch, x, y in _patch(field, x_mm, y_mm, 1.6 * radius):
            reach2 = (x**2 + y**2) / np.float32(radius**2)
            field.tone[patch] -= 1.5 * np.exp(-reach2 * 9) + 0.35 * np.exp(-reach2 * 1.6)
    field.tone += cloud("patch", field.frame, shape.family_seed + 1) * np.float32(0.22)


def birdseyes(field: WoodField, shape: DemoShape) -> None:
    """Many small eyes, scattered rather than clustered."""
    rng = np.random.default_rng([shape.family_seed, 41])
    count = round(800 * float(np.trapezoid(shape.upper_mm - shape.lower_mm, shape.x_mm)) / 1e6)
    x_all = rng.uniform(0, shape.length_mm, count)
    low, high = (np.interp(x_all, shape.x_mm, e) for e in (shape.lower_mm, shape.upper_mm))
    y_all = rng.uniform(low + 12, high - 12)
    for x_mm, y_mm, radius in zip(x_all, y_all, rng.uniform(2.0, 4.0, count), strict=True):
        for patch, x, y in _patch(field, x_mm, y_mm, 3.0 * radius):
            reach2 = ((x / 1.25) ** 2 + y**2) / np.float32(radius**2)
            field.tone[patch] += 0.55 * np.exp(-reach2 / 3.0) - 1.5 * np.exp(-reach2 * 1.2)


def shimmer_curl(field: WoodField, shape: DemoShape, strength: float = 1.0) -> None:
    """Light and dark bands across the grain, stronger in places."""
    seed = shape.family_seed
    rng = np.random.default_rng([seed, 42])
    length_mm = rng.uniform(16, 26)
    phase = cloud("sway", field.frame, seed) * np.float32(1.9)
    phase += cloud("patch", field.frame, seed) * np.float32(1.6)
    turn = 2 * np.pi * field.frame.x_mm() / length_mm
    phase += turn.astype(np.float32)
    phase += field.across_mm * np.float32(rng.normal(0, 0.010))
    bands = np.sin(phase, out=phase)
    where = cloud("stain", field.frame, seed) * np.float32(0.4) + np.float32(0.75)
    np.clip(where, 0.1, 1.2, out=where)
    bands *= where
    broken = cloud("ripple", field.frame, seed + 1) * np.float32(0.55) + np.float32(0.8)
    bands *= np.clip(broken, 0, 1.4)
    field.tone += bands * np.float32(0.25 * strength)


def quilt(field: WoodField, shape: DemoShape) -> None:
    """Soft pillows lying across the grain, lit from one side."""
    pillows = cloud("pillow", field.frame, shape.family_seed)
    lit = _slope_across(pillows) * np.float32(9.0 * field.frame.px_per_mm)
    lit += pillows * np.float32(0.35)
    field.tone += np.clip(lit, -1.3, 1.1) * np.float32(0.30)


def _slope_across(values: F32) -> F32:
    slope = np.zeros_like(values)
    slope[:, 1:] = values[:, 1:] - values[:, :-1]
    return slope


def spalt(field: WoodField, shape: DemoShape) -> None:
    """Thin black zone lines round bleached and greyed patches."""
    seed = shape.family_seed
    stain = cloud("stain", field.frame, seed)
    stain += cloud("swirl", field.frame, seed) * np.float32(0.15)
    stain += cloud("ripple", field.frame, seed + 1) * np.float32(0.10)
    steep = np.maximum(_steepness(stain), np.float32(0.004))
    line_px = np.float32(max(0.9, 1.2 * field.frame.px_per_mm))
    drawn = np.clip(cloud("patch", field.frame, seed + 2) * np.float32(1.6) + 1, 0, 1)
    for level, depth in ((-0.42, 1.5), (0.40, 2.6), (0.52, 1.3)):
        off = (stain - np.float32(level)) / steep
        off /= line_px
        field.tone -= np.float32(depth) * drawn * np.exp(-(off * off), dtype=np.float32)
    bleached = np.clip((stain - np.float32(0.45)) * 6, 0, 1)
    field.tone += bleached * np.float32(0.36) - np.float32(0.06)
    greyed = np.clip((-np.float32(0.42) - stain) * 3, 0, 1)
    field.tone -= greyed * drawn * np.float32(0.45)


def _steepness(values: F32) -> F32:
    """Absolute change per pixel, roughly."""
    steep = np.zeros_like(values)
    steep[:, 1:] = np.abs(values[:, 1:] - values[:, :-1])
    steep[1:] = np.maximum(steep[1:], np.abs(values[1:] - values[:-1]))
    return steep


def crotch_feather(field: WoodField, shape: DemoShape) -> None:
    """A plume of ripples falling away on both sides of the line where limbs meet."""
    fork = shape.fork_x_mm if shape.fork_x_mm is not None else 0.6 * shape.length_mm
    half = float(np.mean(shape.upper_mm - shape.lower_mm)) / 2
    aside = np.abs(field.across_mm) / np.float32(half)
    x = field.frame.x_mm().astype(np.float32)
    start, end = fork - 1.9 * half, min(fork + 0.9 * half, shape.length_mm)
    spread = np.clip((x - start) / (end - start), 0, 1) * np.clip((end + 60 - x) / 120, 0, 1)
    plume = np.exp(-((aside / (0.08 + 0.42 * spread)) ** 2), dtype=np.float32)
    plume *= np.minimum(spread * 5, 1)
    sweep = x + np.float32(half * 1.15) * aside ** np.float32(0.72)
    sweep += cloud("sway", field.frame, shape.family_seed) * np.float32(9.0)
    ripple = _line_noise(shape.family_seed, sweep.astype(np.float32, copy=False))
    field.tone += plume * (ripple * np.float32(0.62) - np.float32(0.22))
    seam = np.exp(-((aside * half / 5.0) ** 2)) * np.minimum(spread * 4, 1)
    field.tone -= seam * np.float32(0.7)


def _line_noise(seed: int, at_mm: F32) -> F32:
    """One random line read at a coordinate (mm), about unit deviation."""
    rng = np.random.default_rng([seed, 43])
    steps = np.convolve(rng.normal(0, 1, 16384), np.hanning(13), mode="same")
    steps += 0.8 * np.convolve(rng.normal(0, 1, 16384), np.hanning(41) * 0.5, mode="same")
    line = (steps / steps.std()).astype(np.float32)
    index = (at_mm * np.float32(2.0)).astype(np.int32) + 1600
    return np.take(line, index, mode="clip")


def saw_marks(field: WoodField, seed: int, strength: float = 1.0) -> None:
    """Faint bandsaw lines across the face, uneven along the length."""
    rng = np.random.default_rng([seed, 44])
    x = field.frame.x_mm()
    lines = np.convolve(rng.normal(0, 1, x.size), [0.4, 0.7, 1.0, 0.7, 0.4], mode="same")
    slow = np.interp(x, np.linspace(x[0], x[-1], 12), rng.uniform(0.0, 1.0, 12) ** 2)
    field.tone += (0.030 * strength * lines * slow).astype(np.float32)


def _patch(
    field: WoodField, x_mm: float, y_mm: float, reach_mm: float
) -> Iterator[tuple[Patch, F32, F32]]:
    """The part of a field within reach of a point, with x and y (mm) from the point.

    Yields once, or not at all when the point is out of the picture.
    """
    frame = field.frame
    rows = frame.rows_for(y_mm + reach_mm, y_mm - reach_mm)
    columns = frame.columns_for(x_mm - reach_mm, x_mm + reach_mm)
    if rows[1] <= rows[0] or columns[1] <= columns[0]:
        return
    step = 1 / frame.px_per_mm
    x = frame.left_mm - x_mm + (np.arange(columns[0], columns[1]) + 0.5) * step
    y = frame.top_mm - y_mm - (np.arange(rows[0], rows[1]) + 0.5) * step
    yield (
        (slice(*rows), slice(*columns)),
        x.astype(np.float32)[None, :],
        y.astype(np.float32)[:, None],
    )
