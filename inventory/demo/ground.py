"""What a slab lies on: a quiet floor or dark felt, with the slab's soft shadow."""

from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageChops, ImageFilter

from inventory.demo.noise import crop, felt_tile, floor_tile

Ground = Literal["floor", "felt"]
_COLOURS: dict[Ground, tuple[tuple[int, int, int], float]] = {
    "floor": ((181, 173, 161), 4.0),
    "felt": ((58, 57, 55), 2.6),
}


@lru_cache(maxsize=2)
def _ground_tile(ground: Ground) -> NDArray[np.uint8]:
    """The whole ground as (rows, columns, 3) bytes."""
    colour, contrast = _COLOURS[ground]
    tile = floor_tile() if ground == "floor" else felt_tile()
    toned = np.array(colour, dtype=np.float32) + contrast * tile[..., None]
    return np.clip(toned, 0, 255).astype(np.uint8)


def ground_picture(ground: Ground, size_px: tuple[int, int], seed: int) -> Image.Image:
    """A piece of bare ground of that size, RGB."""
    rng = np.random.default_rng([seed, 61])
    width, height = size_px
    return Image.fromarray(np.ascontiguousarray(crop(_ground_tile(ground), height, width, rng)))


def shadow(mask: Image.Image, px_per_mm: float, drop_mm: float = 16.0) -> Image.Image:
    """Light left (L, 255 = full) around a slab of that mask, lit from the upper left."""
    scale = 4
    small = mask.reduce(scale)
    drop = max(1.0, drop_mm * px_per_mm / scale)
    near = ImageChops.offset(small, round(0.4 * drop), round(0.6 * drop))
    far = ImageChops.offset(small, round(1.0 * drop), round(1.5 * drop))
    near = _cast(near, 0.5 * drop, 0.52)
    far = _cast(far, 2.4 * drop, 0.34)
    return ImageChops.multiply(near, far).resize(mask.size, Image.Resampling.BILINEAR)


def _cast(mask: Image.Image, blur: float, strength: float) -> Image.Image:
    """Light left under a blurred mask: 255 where nothing lies."""
    return mask.filter(ImageFilter.GaussianBlur(blur)).point(
        [round(255 - strength * v) for v in range(256)]
    )


@lru_cache(maxsize=4)
def _vignette(strength: float) -> Image.Image:
    y, x = np.mgrid[-1:1:48j, -1:1:96j]
    light = 1.0 - strength * (0.5 * x**2 + 0.5 * y**2) ** 1.5 - 0.028 * (x + y)
    return Image.fromarray(np.clip(light / light.max() * 255, 0, 255).astype(np.uint8))


def under_light(ground: Image.Image, shade: Image.Image, strength: float = 0.16) -> Image.Image:
    """The ground with a shadow on it, in soft light that falls off to the corners."""
    light = _vignette(strength).resize(ground.size, Image.Resampling.BILINEAR)
    light = ImageChops.multiply(light, shade)
    return ImageChops.multiply(ground, Image.merge("RGB", (light, light, light)))
