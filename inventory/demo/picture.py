"""Draw an invented slab as a photograph: a face from above, a live edge, a detail.

Every picture is RGB, the same for the same arguments, and large enough to be
photographed wood at a glance: about 1,400 px along the slab.
"""

from collections.abc import Set as AbstractSet

import numpy as np
from PIL import Image

from inventory.demo import edge
from inventory.demo.frame import Frame, face_frame, span_of
from inventory.demo.ground import Ground, ground_picture, shadow, under_light
from inventory.demo.look import SpeciesLook
from inventory.demo.noise import F32
from inventory.demo.shape import DemoShape
from inventory.demo.slab import slab_and_mask, wood_pixels

_TILT = 0.42
"""How much a face is foreshortened when one stands by the slab and looks at its edge."""


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
    rows, columns = span_of(shape, frame)
    inner = frame.cropped(rows, columns)
    slab, mask = slab_and_mask(shape, look, inner, seed, figure, wet)
    whole = Image.new("L", floor.size)
    whole.paste(mask, (columns[0], rows[0]))
    light = shadow(whole, frame.px_per_mm, 0.3 * shape.thickness_mm)
    picture = under_light(floor, light)
    picture.paste(slab, (columns[0], rows[0]), mask)
    return picture


def draw_edge(
    shape: DemoShape,
    look: SpeciesLook,
    *,
    seed: int,
    figure: AbstractSet[str] = frozenset({"plain"}),
    wet: bool = False,
    px_per_m: float = 1250.0,
    ground: Ground = "floor",
    width_px: int = 1200,
) -> Image.Image:
    """The lower live edge seen from the side, the face running away above it."""
    scale = px_per_m / 1000
    rng = np.random.default_rng([seed, 72])
    left = rng.uniform(0.1, 0.9) * max(shape.length_mm - width_px / scale, 0)
    near = shape.lower_mm[(shape.x_mm > left) & (shape.x_mm < left + width_px / scale)]
    top, bottom = float(near.max()) + 330, float(near.min()) - 20
    frame = Frame(left, top, scale, width_px, round((top - bottom) * scale))
    face = _tilted_face(shape, look, frame, seed, figure, wet)
    line = edge.rough_edge_px(shape, frame, upper=False)
    return _edge_on_ground(face, line * np.float32(_TILT), shape, look, frame, seed, wet, ground)


def _tilted_face(
    shape: DemoShape, look: SpeciesLook, frame: Frame, seed: int,
    figure: AbstractSet[str], wet: bool,
) -> Image.Image:  # fmt: skip
    pixels = wood_pixels(shape, look, frame, seed=seed, figure=figure, wet=wet)
    size = (frame.width_px, round(frame.height_px * _TILT))
    return Image.fromarray(pixels).convert("RGB").resize(size, Image.Resampling.BILINEAR)


def _edge_on_ground(
    face: Image.Image, line: F32, shape: DemoShape, look: SpeciesLook, frame: Frame,
    seed: int, wet: bool, ground: Ground,
) -> Image.Image:  # fmt: skip
    """The tilted face down to its edge, the edge's own side below, then the floor."""
    side_px = edge.side_height_px(shape, frame)
    size = (face.width, face.height + round(float(side_px.max())) + round(95 * frame.px_per_mm))
    mask = edge.mask_above(line + side_px, size)
    light = shadow(mask, frame.px_per_mm, 0.5 * shape.thickness_mm)
    picture = under_light(ground_picture(ground, size, seed), light)
    wood = Image.new("RGB", size)
    wood.paste(face)
    pixels = np.array(wood)
    edge.paint_side(pixels, line, side_px, shape, frame, look, wet=wet)
    picture.paste(Image.fromarray(pixels), mask=mask)
    return picture
