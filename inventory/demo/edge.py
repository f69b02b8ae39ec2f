"""The live edge: bark, bare wane, and the rounding of the face towards it.

An edge is drawn as a strip that follows it: `strip` rows counted outward from the
edge, one per pixel, laid into the picture where that column's edge lies.
"""

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from inventory.demo.frame import Frame
from inventory.demo.grain import column
from inventory.demo.look import SpeciesLook
from inventory.demo.noise import F32, bark_tile, crop
from inventory.demo.shape import DemoShape

Rows = NDArray[np.int64]
ROUNDING_MM = 9.0


def rough_edge_px(shape: DemoShape, frame: Frame, upper: bool) -> F32:
    """Row (fractional) of an edge at every column, with the small bumps of real bark."""
    line = column(shape.upper_mm if upper else shape.lower_mm, shape, frame)
    rng = np.random.default_rng([shape.seed, 51, int(upper)])
    grid = np.arange(-120.0, shape.length_mm + 120.0, 4.0)
    bumps = rng.normal(0, 1, grid.size)
    small = np.convolve(bumps, np.hanning(7) / 3, mode="same")
    middling = np.convolve(rng.normal(0, 1, grid.size), np.hanning(31) / 4, mode="same")
    rough = np.interp(frame.x_mm(), grid, 0.8 * small + 1.9 * middling)
    return np.asarray((frame.top_mm - line - rough) * frame.px_per_mm, dtype=np.float32)


def bark_level(shape: DemoShape, frame: Frame, look: SpeciesLook, upper: bool) -> F32:
    """How firmly the bark holds at every column: above 0 it does; broken in stretches."""
    rng = np.random.default_rng([shape.family_seed, 52, int(upper)])
    grid = np.linspace(-0.05, 1.05, 90) * shape.length_mm
    level = np.convolve(rng.normal(0, 1, 90), np.hanning(17), mode="same")
    level = level / level.std() + rng.normal(0, 0.35, 90)
    cover = np.interp(frame.x_mm(), grid, level) + 3.2 * (look.bark_hold - 0.45)
    return np.asarray(cover, dtype=np.float32)


def wane_mm(shape: DemoShape, frame: Frame) -> F32:
    """How far the sloping edge shows beyond the face; more on the outer slabs."""
    z = np.abs(column(shape.depth_mm, shape, frame))
    half = 0.5 * (column(shape.upper_mm, shape, frame) - column(shape.lower_mm, shape, frame))
    return np.asarray(np.minimum(0.45 * shape.thickness_mm * z / half, 22.0), dtype=np.float32)


def strip_width_px(
    shape: DemoShape, frame: Frame, look: SpeciesLook, upper: bool
) -> tuple[F32, F32]:
    """Width of the strip beyond the edge at every column, and the bark's cover."""
    cover = np.clip(bark_level(shape, frame, look, upper) * 5 + 0.5, 0, 1)
    rng = np.random.default_rng([shape.seed, 53, int(upper)])
    lumps = np.convolve(rng.normal(0, 1, frame.width_px), np.hanning(9) / 2.2, mode="same")
    bark_mm = 8.0 + 1.3 * lumps
    width_mm = 1.5 + wane_mm(shape, frame) + cover * bark_mm
    return (width_mm * frame.px_per_mm).astype(np.float32), cover


def paint_strip(
    picture: NDArray[np.uint8], edge_px: F32, width_px: F32, cover: F32,
    look: SpeciesLook, seed: int, *, upper: bool, wet: bool,
) -> None:  # fmt: skip
    """Lay bark or bare wane outward from the edge into (rows, columns, 4) bytes, in place."""
    deep = int(np.ceil(width_px.max())) + 2
    rows, columns = _strip_index(edge_px, deep, upper, picture.shape[0])
    out = np.arange(deep, dtype=np.float32)[:, None]
    rng = np.random.default_rng([seed, 54, int(upper)])
    texture = crop(bark_tile(), deep, edge_px.size, rng)
    rounded = np.asarray(out / np.maximum(width_px, 1), dtype=np.float32)
    colour = _strip_colour(look, cover, texture, rounded, upper=upper)
    if wet:
        colour *= np.float32(0.72)
    picture[rows, columns, :3] = np.clip(colour, 0, 255)


def _strip_index(edge_px: F32, deep: int, upper: bool, height: int) -> tuple[Rows, Rows]:
    step = np.arange(deep)[:, None]
    base = np.floor(edge_px).astype(np.int64)[None, :]
    rows = base - step if upper else base + 1 + step
    return np.clip(rows, 0, height - 1), np.broadcast_to(np.arange(edge_px.size), rows.shape)


def _strip_colour(look: SpeciesLook, cover: F32, texture: F32, rounded: F32, *, upper: bool) -> F32:
    """(rows, columns, 3) float: bark where it holds, smooth sapwood skin where not."""
    bark, sap, late = (np.array(c, dtype=np.float32) for c in (look.bark, look.sap, look.late))
    lit = 1.04 if upper else 0.78
    rough = 0.82 + 0.26 * texture
    inner = np.exp(-rounded * 7)[..., None]
    barky = bark * np.clip(rough, 0.28, 1.6)[..., None] * (1 - 0.35 * rounded[..., None] ** 3)
    barky = barky * (1 - 0.55 * inner) + late * 0.6 * inner * 0.55
    skin = (0.62 * sap + 0.38 * late) * (0.92 + 0.07 * texture - 0.42 * rounded)[..., None]
    held = cover[None, :, None] > 0.5 + 0.12 * texture[..., None]
    return np.asarray(np.where(held, barky, skin) * lit, dtype=np.float32)


def round_over(picture: NDArray[np.uint8], edge_px: F32, frame: Frame, *, upper: bool) -> None:
    """Darken the face gently where it rolls over towards its edge, in place."""
    deep = max(3, round(ROUNDING_MM * frame.px_per_mm))
    step = np.arange(deep)[:, None]
    base = np.floor(edge_px).astype(np.int64)[None, :]
    rows = base + 1 + step if upper else base - step
    rows = np.clip(rows, 0, picture.shape[0] - 1)
    columns = np.broadcast_to(np.arange(edge_px.size), rows.shape)
    strength = 0.10 if upper else 0.20
    shade = 1 - strength * np.exp(-step / (0.4 * deep)).astype(np.float32)
    picture[rows, columns, :3] = picture[rows, columns, :3] * shade[..., None]


# --- the edge seen from the side ---------------------------------------------------


def side_height_px(shape: DemoShape, frame: Frame) -> F32:
    """Height of the slab's side at every column: its thickness, a little uneven below."""
    rng = np.random.default_rng([shape.seed, 55])
    lumps = np.convolve(rng.normal(0, 1, frame.width_px), np.hanning(41) / 6, mode="same")
    return np.asarray((shape.thickness_mm * 0.95 + lumps) * frame.px_per_mm, dtype=np.float32)


def mask_above(line_px: F32, size_px: tuple[int, int]) -> Image.Image:
    """All above a line (row by column), L, smooth along it."""
    rows = np.arange(size_px[1], dtype=np.float32)[:, None]
    return Image.fromarray((np.clip(line_px - rows, 0, 1) * 255).astype(np.uint8))


def paint_side(
    picture: NDArray[np.uint8], line_px: F32, side_px: F32, shape: DemoShape, frame: Frame,
    look: SpeciesLook, *, wet: bool,
) -> None:  # fmt: skip
    """Lay bark or bare wane downward from the face's edge into (rows, columns, 3), in place."""
    deep = int(np.ceil(side_px.max())) + 2
    rows, columns = _strip_index(line_px, deep, False, picture.shape[0])
    down = np.arange(deep, dtype=np.float32)[:, None] / side_px
    level = bark_level(shape, frame, look, upper=False)
    rng = np.random.default_rng([shape.seed, 56])
    fine = crop(bark_tile(), deep, frame.width_px, rng)
    wander = crop(bark_tile(), deep // 4 + 2, frame.width_px // 4 + 2, rng)
    coarse = np.kron(wander, np.ones((4, 4), np.float32))[:deep, : frame.width_px]
    texture = 0.65 * fine + 0.75 * coarse
    colour = _side_colour(look, level + 0.42 * _chips(deep, shape, frame), texture, down)
    picture[rows, columns] = np.clip(colour * np.float32(0.72 if wet else 1.0), 0, 255)


def _chips(deep: int, shape: DemoShape, frame: Frame) -> F32:
    """Ragged plates in which bark comes away, (deep, columns), about unit deviation."""
    rng = np.random.default_rng([shape.seed, 57])
    piece = Image.fromarray(crop(bark_tile(), deep // 5 + 2, frame.width_px // 9 + 2, rng))
    smooth = piece.resize((frame.width_px, deep), Image.Resampling.BICUBIC)
    return np.asarray(smooth, dtype=np.float32)


def _side_colour(look: SpeciesLook, level: F32, texture: F32, down: F32) -> F32:
    bark, sap, late = (np.array(c, dtype=np.float32) for c in (look.bark, look.sap, look.late))
    shade = (1.06 - 0.62 * np.clip(down, 0, 1.2) ** 1.6)[..., None]
    barky = bark * np.clip(0.92 + 0.30 * texture, 0.25, 1.7)[..., None]
    skin = (0.66 * sap + 0.34 * late) * (0.97 + 0.05 * texture)[..., None]
    bast = np.exp(-((down / 0.07) ** 2))[..., None]
    barky = barky * (1 - 0.75 * bast) + (0.5 * sap + 0.5 * late) * 0.75 * bast
    held = (level + 0.10 * texture)[..., None] > 0
    return np.asarray(np.where(held, barky, skin) * shade, dtype=np.float32)
