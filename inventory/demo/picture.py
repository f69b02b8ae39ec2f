"""Draw an invented slab as a photograph: a face from above, a live edge, a detail.

Every picture is RGB, the same for the same arguments, and large enough to be
photographed wood at a glance: about 1,480 px along the slab.
"""

from collections.abc import Set as AbstractSet

import numpy as np
from PIL import Image, ImageDraw

from inventory.demo import edge
from inventory.demo import figure as figures
from inventory.demo.frame import Frame, face_frame
from inventory.demo.grain import coloured, growth_field, ray_fleck, ring_and_fibre
from inventory.demo.ground import Ground, ground_picture, lit, shadow
from inventory.demo.look import SpeciesLook
from inventory.demo.shape import DemoShape, Floats

_SMOOTHING = 3
_CRACK_RGB = (24, 17, 12)


def draw_face(
    shape: DemoShape,
    look: SpeciesLook,
    *,
    seed: int,
    figure: AbstractSet[str] = frozenset({"plain"}),
    wet: bool = False,
    px_per_m: float = 560.0,
    ground: Ground = "floor",
) -> Image.Image:
    """The whole slab from above, uncropped, lying along the picture on a quiet ground."""
    return _photograph(shape, look, face_frame(shape, px_per_m), seed, figure, wet, ground)


def draw_detail(
    shape: DemoShape,
    look: SpeciesLook,
    *,
    seed: int,
    figure: AbstractSet[str] = frozenset({"plain"}),
    wet: bool = False,
    px_per_m: float = 1500.0,
    ground: Ground = "floor",
    size_px: tuple[int, int] = (1080, 720),
) -> Image.Image:
    """A close look at part of the face, the live edge usually in the picture."""
    scale = px_per_m / 1000
    rng = np.random.default_rng([seed, 71])
    wide, high = size_px[0] / scale, size_px[1] / scale
    left = rng.uniform(0.15, 0.85) * max(shape.length_mm - wide, 0)
    middle = left + wide / 2
    top = float(np.interp(middle, shape.x_mm, shape.upper_mm)) + rng.uniform(-0.35, 0.12) * high
    frame = Frame(left, top, scale, *size_px)
    return _photograph(shape, look, frame, seed, figure, wet, ground)


def _photograph(
    shape: DemoShape, look: SpeciesLook, frame: Frame, seed: int,
    figure: AbstractSet[str], wet: bool, ground: Ground,
) -> Image.Image:  # fmt: skip
    floor = ground_picture(ground, (frame.width_px, frame.height_px), seed)
    rows = frame.rows_for(float(shape.upper_mm.max()) + 45, float(shape.lower_mm.min()) - 45)
    columns = frame.columns_for(-25, shape.length_mm + 25)
    inner = frame.cropped(rows, columns)
    slab, mask = _slab(shape, look, inner, seed, figure, wet)
    whole = Image.new("L", floor.size)
    whole.paste(mask, (columns[0], rows[0]))
    light = shadow(whole, frame.px_per_mm, 0.3 * shape.thickness_mm)
    picture = _darkened(floor, light)
    picture.paste(slab, (columns[0], rows[0]), mask)
    return lit(picture)


def _darkened(picture: Image.Image, light: Image.Image) -> Image.Image:
    from PIL import ImageChops

    return ImageChops.multiply(picture, Image.merge("RGB", (light, light, light)))


def _slab(
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
    return slab, _mask(shape, frame, widths[True], widths[False])


def wood_pixels(
    shape: DemoShape, look: SpeciesLook, frame: Frame, *, seed: int,
    figure: AbstractSet[str], wet: bool,
) -> np.ndarray:  # fmt: skip
    """Bare wood over the whole frame, (rows, columns, 4) RGBA bytes, without edges."""
    field = growth_field(shape, frame)
    figures.bend_around_knots(field, shape)
    if "burl" in figure:
        figures.swirl_burl(field, shape)
    ring_and_fibre(field, shape, look)
    if look.fleck > 0.2 and "burl" not in figure:
        ray_fleck(field, shape, look)
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


def _mask(shape: DemoShape, frame: Frame, top_px: np.ndarray, bottom_px: np.ndarray) -> Image.Image:
    """Where the slab with its bark is (L), smooth at the rim; the ends are cut straight."""
    columns = np.arange(0, frame.width_px, 2)
    x_mm = frame.x_mm()[columns]
    y_top = frame.top_mm - top_px[columns] / frame.px_per_mm
    y_bottom = frame.top_mm - bottom_px[columns] / frame.px_per_mm
    top, bottom = _skewed(shape, x_mm, y_top), _skewed(shape, x_mm, y_bottom)
    inside = (x_mm >= 0) & (x_mm <= shape.length_mm)
    ring = np.vstack(
        [np.column_stack([top, y_top])[inside], np.column_stack([bottom, y_bottom])[inside][::-1]]
    )
    return _polygon(ring, frame, 2)


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
    """Cracks from the ends and open voids, dark, each with a softened rim."""
    for crack in shape.cracks:
        upper = np.column_stack([crack.x_mm, crack.y_mm + crack.width_mm / 2])
        lower = np.column_stack([crack.x_mm, crack.y_mm - crack.width_mm / 2])
        _darken(slab, np.vstack([upper, lower[::-1]]), frame, _CRACK_RGB)
    for ring in shape.voids_mm:
        middle = ring.mean(axis=0)
        _darken(slab, middle + (ring - middle) * 1.12, frame, (66, 46, 31))
        _darken(slab, ring, frame, _CRACK_RGB)


def _darken(slab: Image.Image, ring_mm: Floats, frame: Frame, colour: tuple[int, int, int]) -> None:
    left, bottom = ring_mm.min(axis=0)
    right, top = ring_mm.max(axis=0)
    rows = frame.rows_for(top + 4, bottom - 4)
    columns = frame.columns_for(left - 4, right + 4)
    if rows[1] <= rows[0] or columns[1] <= columns[0]:
        return
    mask = _polygon(ring_mm, frame.cropped(rows, columns), _SMOOTHING)
    slab.paste(colour, (columns[0], rows[0], columns[1], rows[1]), mask)
