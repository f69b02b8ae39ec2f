"""One slab's own pixels: wood, live edges, faults; and the mask of where it is."""

from collections.abc import Set as AbstractSet

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from inventory.demo import edge
from inventory.demo import figure as figures
from inventory.demo.frame import Frame
from inventory.demo.grain import coloured, growth_field, ray_fleck, ring_and_fibre
from inventory.demo.look import SpeciesLook
from inventory.demo.noise import F32
from inventory.demo.shape import DemoShape, Floats

_SMOOTHING = 3
_CRACK_RGB = (24, 17, 12)
_HOLE_RGB = (43, 32, 24)
_RIM_RGB = (66, 46, 31)


def slab_and_mask(
    shape: DemoShape, look: SpeciesLook, frame: Frame, seed: int,
    figure: AbstractSet[str], wet: bool,
) -> tuple[Image.Image, Image.Image]:  # fmt: skip
    """The slab's own pixels and its mask over a frame."""
    pixels = wood_pixels(shape, look, frame, seed=seed, figure=figure, wet=wet)
    widths = {}
    for upper in (True, False):
        line = edge.rough_edge_px(shape, frame, upper)
        width, cover = edge.strip_width_px(shape, frame, look, upper)
        edge.round_over(pixels, line, frame, upper=upper)
        edge.paint_strip(pixels, line, width, cover, look, shape.seed, upper=upper, wet=wet)
        widths[upper] = line - width if upper else line + width
    slab = Image.fromarray(pixels).convert("RGB")
    _draw_faults(slab, shape, frame)
    mask = _mask(shape, frame, widths[True], widths[False])
    if shape.fork_x_mm is not None:
        _fill(mask, shape.voids_mm[0], frame, 0)
    return slab, mask


def wood_pixels(
    shape: DemoShape, look: SpeciesLook, frame: Frame, *, seed: int,
    figure: AbstractSet[str], wet: bool,
) -> NDArray[np.uint8]:  # fmt: skip
    """Bare wood over the whole frame, (rows, columns, 4) RGBA bytes, without edges."""
    field = growth_field(shape, frame)
    figures.bend_around_knots(field, shape)
    if "burl" in figure:
        figures.swirl_burl(field, shape)
    ring_and_fibre(field, shape, look)
    if look.fleck > 0.2 and "burl" not in figure:
        ray_fleck(field, shape, look.fleck * (1.3 if "ray fleck" in figure else 0.5))
    for name, draw in _AFTER_RINGS.items():
        if name in figure:
            draw(field, shape)
    figures.darken_knots(field, shape)
    if not wet:
        figures.saw_marks(field, seed)
    return coloured(field, look, wet)


_AFTER_RINGS = {
    "burl": figures.pin_eyes,
    "curl": figures.shimmer_curl,
    "quilt": figures.quilt,
    "birdseye": figures.birdseyes,
    "spalt": figures.spalt,
    "crotch": figures.crotch_feather,
}


def _mask(shape: DemoShape, frame: Frame, top_px: F32, bottom_px: F32) -> Image.Image:
    """Where the slab with its bark is (L), smooth at the rim; the ends are cut straight."""
    return _polygon(ring_mm(shape, frame, top_px, bottom_px), frame, 2)


def ring_mm(shape: DemoShape, frame: Frame, top_px: F32, bottom_px: F32) -> Floats:
    """What two lines over every column and the two end cuts enclose, (n, 2) in the slab's mm."""
    columns = np.append(np.arange(0, frame.width_px, 2), frame.width_px - 1)
    x_mm = frame.x_mm()[columns]
    y_top: Floats = frame.top_mm - top_px[columns].astype(np.float64) / frame.px_per_mm
    y_bottom: Floats = frame.top_mm - bottom_px[columns].astype(np.float64) / frame.px_per_mm
    top, bottom = _skewed(shape, x_mm, y_top), _skewed(shape, x_mm, y_bottom)
    beyond = 3 / frame.px_per_mm
    top[[0, -1]] += (-beyond, beyond)
    bottom[[0, -1]] += (-beyond, beyond)
    inside = (x_mm >= 0) & (x_mm <= shape.length_mm)
    return np.vstack(
        [np.column_stack([top, y_top])[inside], np.column_stack([bottom, y_bottom])[inside][::-1]]
    )


def _skewed(shape: DemoShape, x_mm: Floats, y_mm: Floats) -> Floats:
    along = np.clip(x_mm / shape.length_mm, 0, 1)
    share = y_mm / max(float(np.ptp(shape.upper_mm - shape.lower_mm)), 300.0)
    start, finish = shape.end_skew_mm
    return x_mm + share * (start * (1 - along) ** 8 + finish * along**8)


def _polygon(ring_mm: Floats, frame: Frame, smoothing: int) -> Image.Image:
    """A filled outline as an L image over the frame, smoothed at its rim."""
    big = Image.new("L", (frame.width_px * smoothing, frame.height_px * smoothing))
    points = (frame.to_px(ring_mm) * smoothing).ravel().tolist()
    ImageDraw.Draw(big).polygon(points, fill=255)
    return big.reduce(smoothing)


def _draw_faults(slab: Image.Image, shape: DemoShape, frame: Frame) -> None:
    """Cracks from the ends, and the dark rims of voids (the mask opens a cleft)."""
    for crack in shape.cracks:
        upper = np.column_stack([crack.x_mm, crack.y_mm + crack.width_mm / 2])
        lower = np.column_stack([crack.x_mm, crack.y_mm - crack.width_mm / 2])
        _fill(slab, np.vstack([upper, lower[::-1]]), frame, _CRACK_RGB)
    for ring in shape.voids_mm:
        middle = ring.mean(axis=0)
        _fill(slab, middle + (ring - middle) * 1.12, frame, _RIM_RGB)
        _fill(slab, ring, frame, _HOLE_RGB)
        _fill(slab, middle + (ring - middle) * 0.8 + (2.0, -1.5), frame, _CRACK_RGB)


def _fill(
    picture: Image.Image, ring_mm: Floats, frame: Frame, colour: int | tuple[int, int, int]
) -> None:
    """Paint an outline (mm) into a picture of that frame, smooth at its rim."""
    left, bottom = ring_mm.min(axis=0)
    right, top = ring_mm.max(axis=0)
    rows = frame.rows_for(top + 4, bottom - 4)
    columns = frame.columns_for(left - 4, right + 4)
    if rows[1] <= rows[0] or columns[1] <= columns[0]:
        return
    mask = _polygon(ring_mm, frame.cropped(rows, columns), _SMOOTHING)
    picture.paste(colour, (columns[0], rows[0], columns[1], rows[1]), mask)
