"""The live edge: bark, bare wane, and the rounding of the face towards it.

An edge is drawn as a strip that follows it: `strip` rows counted outward from the
edge, one per pixel, laid into the picture where that column's edge lies.
"""

import numpy as np

from inventory.demo.frame import Frame
from inventory.demo.grain import column
from inventory.demo.look import SpeciesLook
from inventory.demo.noise import F32, bark_tile, crop
from inventory.demo.shape import DemoShape

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


def bark_cover(shape: DemoShape, frame: Frame, look: SpeciesLook, upper: bool) -> F32:
    """0..1 at every column: where the bark still holds; broken in stretches."""
    rng = np.random.default_rng([shape.family_seed, 52, int(upper)])
    grid = np.linspace(-0.05, 1.05, 90) * shape.length_mm
    level = np.convolve(rng.normal(0, 1, 90), np.hanning(17), mode="same")
    level = level / level.std() + rng.normal(0, 0.35, 90)
    cover = np.interp(frame.x_mm(), grid, level) + 3.2 * (look.bark_hold - 0.45)
    return np.clip(cover * 5 + 0.5, 0, 1).astype(np.float32)


def wane_mm(shape: DemoShape, frame: Frame) -> F32:
    """How far the sloping edge shows beyond the face; more on the outer slabs."""
    z = np.abs(column(shape.depth_mm, shape, frame))
    half = 0.5 * (column(shape.upper_mm, shape, frame) - column(shape.lower_mm, shape, frame))
    return np.minimum(0.45 * shape.thickness_mm * z / half, 22.0)


def strip_width_px(
    shape: DemoShape, frame: Frame, look: SpeciesLook, upper: bool
) -> tuple[F32, F32]:
    """Width of the strip beyond the edge at every column, and the bark's cover."""
    cover = bark_cover(shape, frame, look, upper)
    rng = np.random.default_rng([shape.seed, 53, int(upper)])
    lumps = np.convolve(rng.normal(0, 1, frame.width_px), np.hanning(9) / 2.2, mode="same")
    bark_mm = 8.0 + 1.3 * lumps
    width_mm = 1.5 + wane_mm(shape, frame) + cover * bark_mm
    return (width_mm * frame.px_per_mm).astype(np.float32), cover


def paint_strip(
    picture: np.ndarray, edge_px: F32, width_px: F32, cover: F32, look: SpeciesLook, seed: int,
    *, upper: bool, wet: bool,
) -> None:  # fmt: skip
    """Lay bark or bare wane outward from the edge into (rows, columns, 4) bytes, in place."""
    deep = int(np.ceil(width_px.max())) + 2
    rows, columns = _strip_index(edge_px, deep, upper, picture.shape[0])
    out = np.arange(deep, dtype=np.float32)[:, None]
    rng = np.random.default_rng([seed, 54, int(upper)])
    texture = crop(bark_tile(), deep, edge_px.size, rng)
    rounded = out / np.maximum(width_px, 1)
    colour = _strip_colour(look, cover, texture, rounded, upper=upper)
    if wet:
        colour *= np.float32(0.72)
    picture[rows, columns, :3] = np.clip(colour, 0, 255)


def _strip_index(
    edge_px: F32, deep: int, upper: bool, height: int
) -> tuple[np.ndarray, np.ndarray]:
    step = np.arange(deep)[:, None]
    base = np.floor(edge_px).astype(np.int64)[None, :]
    rows = base - step if upper else base + 1 + step
    return np.clip(rows, 0, height - 1), np.broadcast_to(np.arange(edge_px.size), rows.shape)


def _strip_colour(
    look: SpeciesLook, cover: F32, texture: F32, rounded: F32, *, upper: bool
) -> np.ndarray:
    """(rows, columns, 3) float: bark where it holds, smooth sapwood skin where not."""
    bark, sap, late = (np.array(c, dtype=np.float32) for c in (look.bark, look.sap, look.late))
    lit = 1.04 if upper else 0.78
    rough = 0.82 + 0.26 * texture
    inner = np.exp(-rounded * 7)[..., None]
    barky = bark * np.clip(rough, 0.28, 1.6)[..., None] * (1 - 0.35 * rounded[..., None] ** 3)
    barky = barky * (1 - 0.55 * inner) + late * 0.6 * inner * 0.55
    skin = (0.62 * sap + 0.38 * late) * (0.92 + 0.07 * texture - 0.42 * rounded)[..., None]
    held = cover[None, :, None] > 0.5 + 0.12 * texture[..., None]
    return np.where(held, barky, skin) * np.float32(lit)


def round_over(picture: np.ndarray, edge_px: F32, frame: Frame, *, upper: bool) -> None:
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
