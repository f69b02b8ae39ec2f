"""Shared random textures, made once per process from fixed seeds.

Two kinds: fine tiles laid pixel for pixel (fibres, pores, bark, floor), and slow
clouds on a grid of millimetres, so that a detail shows what the whole face shows.
Every tile is float32 with mean 0 and deviation about 1.
"""

from functools import lru_cache
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from inventory.demo.frame import Frame

F32 = NDArray[np.float32]
_Number = TypeVar("_Number", np.float32, np.uint8)
TILE_ROWS, TILE_COLS = 1024, 2048
CLOUD_CELL_MM = 8.0
_CLOUD_ROWS, _CLOUD_COLS = 448, 896


def _blurred(rng: np.random.Generator, shape: tuple[int, int], down: float, along: float) -> F32:
    """White noise blurred by `down` rows and `along` columns, wrapped, unit deviation.

    A wide blur is made small and enlarged: same look, a hundredth of the work.
    """
    step_down, step_along = max(1, int(down / 2.5)), max(1, int(along / 2.5))
    small = (-(-shape[0] // step_down), -(-shape[1] // step_along))
    rough = rng.standard_normal(small, dtype=np.float32)
    sigma = (down / step_down, along / step_along)
    smooth = ndimage.gaussian_filter(rough, sigma, mode="wrap", truncate=2.5)
    return _enlarged(smooth / smooth.std(), shape)


def _enlarged(small: F32, shape: tuple[int, int]) -> F32:
    """A wrapped tile resized smoothly, still without a seam."""
    if small.shape == shape:
        return small
    padded = Image.fromarray(np.pad(small, 4, mode="wrap"))
    box = (4.0, 4.0, 4.0 + small.shape[1], 4.0 + small.shape[0])
    size = (shape[1], shape[0])
    return np.asarray(padded.resize(size, Image.Resampling.BICUBIC, box=box), dtype=np.float32)


def _mixed(seed: int, parts: list[tuple[float, float, float]]) -> F32:
    """Sum of (weight, down, along) blurs at the common tile size."""
    rng = np.random.default_rng(seed)
    shape = (TILE_ROWS, TILE_COLS)
    total = np.zeros(shape, dtype=np.float32)
    for weight, down, along in parts:
        total += np.float32(weight) * _blurred(rng, shape, down, along)
    total -= total.mean()
    return np.asarray(total / total.std(), dtype=np.float32)


@lru_cache(maxsize=1)
def fibre_tile() -> F32:
    """Long soft streaks along the grain."""
    return _mixed(101, [(1.0, 0.9, 60.0), (0.8, 2.6, 90.0), (0.55, 0.7, 14.0), (0.25, 0.6, 3.0)])


@lru_cache(maxsize=1)
def pore_tile() -> F32:
    """Short dark dashes along the grain over soft streaks (open-pored wood)."""
    rng = np.random.default_rng(102)
    dots = (rng.random((TILE_ROWS, TILE_COLS)) < 0.06).astype(np.float32)
    dashes = ndimage.gaussian_filter(dots, (0.5, 3.6), mode="wrap", truncate=2.5)
    dashes = dashes / dashes.std()
    streaks = _mixed(103, [(1.0, 0.9, 50.0), (0.6, 2.4, 80.0)])
    mixed = 0.7 * streaks - 0.6 * (dashes - dashes.mean())
    return np.asarray(mixed / mixed.std(), dtype=np.float32)


@lru_cache(maxsize=1)
def mottle_tile() -> F32:
    """Fine grainless roughness for burl."""
    return _mixed(104, [(0.6, 0.9, 1.2), (1.0, 2.2, 2.8), (0.5, 6.0, 7.0)])


@lru_cache(maxsize=1)
def fleck_tile() -> F32:
    """Short wavering ribbons across the grain, 0 between them, up to about 1.5."""
    ribbons = _mixed(108, [(1.0, 4.5, 1.0), (0.7, 2.0, 2.4), (0.4, 12.0, 9.0)])
    return np.asarray(np.clip(ribbons - np.float32(0.55), 0, 1.4), dtype=np.float32)


@lru_cache(maxsize=1)
def bark_tile() -> F32:
    """Ridges and plates, coarse across and longer along."""
    return _mixed(105, [(0.7, 0.8, 1.6), (1.0, 1.6, 6.0), (0.7, 3.0, 18.0)])


@lru_cache(maxsize=1)
def floor_tile() -> F32:
    """A trowelled floor: slow stains, fine grit."""
    return _mixed(106, [(1.0, 55.0, 70.0), (0.55, 14.0, 20.0), (0.35, 0.8, 0.8), (0.2, 2.5, 3.5)])


@lru_cache(maxsize=1)
def felt_tile() -> F32:
    """A nap of short fibres."""
    return _mixed(107, [(0.9, 0.7, 0.9), (0.4, 2.0, 2.0), (0.7, 60.0, 80.0)])


_CLOUDS: dict[str, tuple[int, float, float]] = {
    # blur in mm down and along: name -> (seed, down, along)
    "warp": (201, 55.0, 190.0),  # with a little "ripple" on it
    "ripple": (202, 15.0, 48.0),
    "tint": (203, 38.0, 300.0),
    "swirl": (204, 11.0, 13.0),
    "patch": (205, 70.0, 110.0),
    "sway": (206, 40.0, 60.0),
    "stain": (207, 30.0, 150.0),
    "pillow": (208, 24.0, 11.0),
}


_BROAD = frozenset({"tint", "patch"})
"""Clouds so broad that a plain enlargement shows no seams, and takes less time."""


@lru_cache(maxsize=16)
def _cloud(name: str) -> Image.Image:
    seed, down_mm, along_mm = _CLOUDS[name]
    rng = np.random.default_rng(seed)
    shape = (_CLOUD_ROWS, _CLOUD_COLS)
    tile = _blurred(rng, shape, down_mm / CLOUD_CELL_MM, along_mm / CLOUD_CELL_MM)
    if name == "warp":
        ripple = np.asarray(_cloud("ripple"), dtype=np.float32)
        tile = np.asarray(tile + np.float32(0.11) * ripple, dtype=np.float32)
    return Image.fromarray(tile)


def cloud(name: str, frame: Frame, seed: int) -> F32:
    """The named cloud over a frame, (rows, columns); the same place gives the same value."""
    rng = np.random.default_rng([seed, _CLOUDS[name][0]])
    cols = frame.width_px / frame.px_per_mm / CLOUD_CELL_MM
    rows = frame.height_px / frame.px_per_mm / CLOUD_CELL_MM
    left = rng.integers(40, 300) + frame.left_mm / CLOUD_CELL_MM
    top = rng.integers(120, 320) - frame.top_mm / CLOUD_CELL_MM
    box = (
        float(np.clip(left, 0, _CLOUD_COLS - cols)),
        float(np.clip(top, 0, _CLOUD_ROWS - rows)),
    )
    resized = _cloud(name).resize(
        (frame.width_px, frame.height_px),
        Image.Resampling.BILINEAR if name in _BROAD else Image.Resampling.BICUBIC,
        box=(box[0], box[1], box[0] + cols, box[1] + rows),
    )
    return np.array(resized, dtype=np.float32)


def crop(
    tile: NDArray[_Number], rows: int, cols: int, rng: np.random.Generator
) -> NDArray[_Number]:
    """A random piece of a tile, perhaps turned over; repeated when the tile is too small."""
    if rows > tile.shape[0] or cols > tile.shape[1]:
        again = (-(-rows // tile.shape[0]), -(-cols // tile.shape[1]))
        tile = np.tile(tile, again)
    top = int(rng.integers(0, tile.shape[0] - rows + 1))
    left = int(rng.integers(0, tile.shape[1] - cols + 1))
    piece = tile[top : top + rows, left : left + cols]
    return piece[::-1] if rng.random() < 0.5 else piece
