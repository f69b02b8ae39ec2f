"""An invented slab painted as a camera sees it: floor, edge, face, sheets, light and grain."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt
from shapely import Polygon, contains_xy

from inventory.demo.frame import Frame
from inventory.demo.look import SpeciesLook, load_looks
from inventory.photos.sheet import BLOCK_MM, Paper, black_shapes, geometry
from tests.bench.photo_parts import F32, Camera, DrawnSlab, Floats, Pixels, SheetLaid

LOOKS = Path(__file__).parents[2] / "fixtures" / "species_looks.toml"
SHEET_PX_PER_MM = 4
SIDE_LAYERS = 5
FLOOR_PX_PER_MM = 0.6
_GROUNDS = tuple(
    np.array(tint)
    for tint in ((1.0, 0.98, 0.95), (1.0, 0.99, 0.97), (1.05, 0.95, 0.8), (0.85, 1.0, 0.7))
)
"""Tints of concrete, a grey cloth, boards or chips, and grass."""


@lru_cache(maxsize=1)
def looks() -> dict[str, SpeciesLook]:
    return load_looks(LOOKS)


def cover_of(ring_mm: Floats, frame: Frame, finer: int = 4) -> F32:
    """Share of every pixel of the frame inside an outline."""
    at = (ring_mm - (frame.left_mm, -frame.top_mm)) * frame.px_per_mm * finer - 0.5
    big = np.zeros((frame.height_px * finer, frame.width_px * finer), dtype=np.uint8)
    cv2.fillPoly(big, [np.round(at * 16).astype(np.int32)], 255, lineType=cv2.LINE_8, shift=4)
    size = (frame.width_px, frame.height_px)
    small = cv2.resize(big, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    return np.asarray(small / 255, dtype=np.float32)


def paint_rim(
    rgb: F32, wood_cover: F32, look: SpeciesLook, frame: Frame, rng: np.random.Generator
) -> None:
    """Bark outside the wood, and the wood rounding over towards it, in place."""
    rough = rng.normal(0, 1, wood_cover.shape).astype(np.float32)
    rough = cv2.GaussianBlur(rough, (0, 0), 2.2 * frame.px_per_mm) * 7 * frame.px_per_mm
    bark = np.array(look.bark, dtype=np.float32) * (1 + 0.16 * rough[..., None])
    rgb[:] = rgb * wood_cover[..., None] + bark * (1 - wood_cover[..., None])
    depth = cv2.distanceTransform((wood_cover > 0.5).astype(np.uint8), cv2.DIST_L2, 5)
    rounded = 1 - 0.28 * np.exp(-((depth / (5 * frame.px_per_mm)) ** 2)) * wood_cover
    rgb *= rounded[..., None].astype(np.float32)


# --- the picture -------------------------------------------------------------------


def _box(camera: Camera, points: Floats, margin: int = 24) -> tuple[int, int, int, int]:
    at = camera.px(points)
    low, high = at.min(axis=0) - margin, at.max(axis=0) + margin
    width, height = camera.size_px
    left, right = np.clip([low[0], high[0]], 0, width).astype(int)
    top, bottom = np.clip([low[1], high[1]], 0, height).astype(int)
    return int(left), int(top), int(right), int(bottom)


def _seen(camera: Camera, rays: tuple[F32, F32], z_mm: float) -> tuple[F32, F32]:
    """World x and y where the rays meet a level plane."""
    back = np.linalg.inv(camera.plane(z_mm)).astype(np.float32)
    x, y = rays
    depth = back[2, 0] * x + back[2, 1] * y + back[2, 2]
    return (
        (back[0, 0] * x + back[0, 1] * y + back[0, 2]) / depth,
        (back[1, 0] * x + back[1, 1] * y + back[1, 2]) / depth,
    )


def _sample(texture: Pixels | F32, x: F32, y: F32, border: int = 0) -> F32:
    mode = cv2.BORDER_REFLECT if border < 0 else cv2.BORDER_CONSTANT
    found = cv2.remap(texture, x, y, cv2.INTER_LINEAR, borderMode=mode)
    return np.asarray(found, dtype=np.float32)


def floor_of(slab: DrawnSlab, camera: Camera, rng: np.random.Generator) -> F32:
    """The whole picture with the floor alone: boards, offcuts, sticks, and the slab's shadow."""
    width, height = camera.size_px
    x, y = _seen(camera, camera.rays((0, 0, width, height)), slab.shape.thickness_mm)
    low = np.array([x.min(), y.min()]).clip(-4000, 0)
    high = np.array([x.max(), y.max()]).clip(0, 9000)
    texture = _floor_texture(slab, low, high, rng)
    s = np.float32(FLOOR_PX_PER_MM)
    at = [(v - np.float32(w)) * s - np.float32(0.5) for v, w in ((x, low[0]), (y, low[1]))]
    return _sample(texture, at[0], at[1], border=-1)


def _floor_texture(slab: DrawnSlab, low: Floats, high: Floats, rng: np.random.Generator) -> Pixels:
    columns, rows = np.ceil((high - low) * FLOOR_PX_PER_MM).astype(int)
    colour = float(rng.uniform(55, 195)) * _GROUNDS[int(rng.integers(len(_GROUNDS)))]
    colour = colour * rng.uniform(0.95, 1.05, 3)
    cloud = rng.normal(0, 1, (rows // 16 + 2, columns // 16 + 2)).astype(np.float32)
    soft = cv2.resize(cloud, (int(columns), int(rows)), interpolation=cv2.INTER_CUBIC)
    grain = rng.normal(0, 1, (rows, columns)).astype(np.float32)
    tone = 1 + 0.05 * soft + 0.04 * grain
    floor = np.asarray(tone[..., None] * colour.astype(np.float32), dtype=np.float32)
    for _ in range(int(rng.integers(4, 14))):
        _drop_clutter(floor, slab, low, rng)
    floor *= _shadow(slab, low, (int(columns), int(rows)))[..., None]
    return np.asarray(floor.clip(0, 255), dtype=np.uint8)


def _drop_clutter(floor: F32, slab: DrawnSlab, low: Floats, rng: np.random.Generator) -> None:
    """One offcut, stick or rag, of wood's colours as often as not; some run under the slab."""
    palette = list(looks().values())
    look = palette[int(rng.integers(len(palette)))]
    colours = (look.heart, look.sap, look.bark, tuple(rng.uniform(20, 230, 3)))
    colour = np.array(colours[int(rng.integers(4))]) * rng.uniform(0.7, 1.1)
    place = rng.uniform((-300, -900), (slab.shape.length_mm + 300, 900))
    size = rng.uniform((25, 120), (260, 900)) / 2
    angle = rng.uniform(0, np.pi)
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * size
    turned = corners @ np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    at = (turned + place - low) * FLOOR_PX_PER_MM
    shape = [np.round(at * 16).astype(np.int32)]
    cv2.fillPoly(floor, shape, [float(c) for c in colour], lineType=cv2.LINE_AA, shift=4)


def _shadow(slab: DrawnSlab, low: Floats, size: tuple[int, int]) -> F32:
    """Light left on the floor round the slab, lit from the upper left."""
    h = slab.shape.thickness_mm
    mask = np.zeros((size[1], size[0]), dtype=np.float32)
    at = (slab.slab_mm + np.array([0.35, 0.5]) * h - low) * FLOOR_PX_PER_MM
    cv2.fillPoly(mask, [np.round(at).astype(np.int32)], 1.0)
    soft = cv2.GaussianBlur(mask, (0, 0), 0.45 * h * FLOOR_PX_PER_MM)
    return np.asarray(1 - 0.55 * soft, dtype=np.float32)


def lay_slab(picture: F32, slab: DrawnSlab, camera: Camera) -> None:
    """The slab's sides, layer by layer from the floor up, then its face, in place."""
    h = slab.shape.thickness_mm
    levels = [np.column_stack([slab.slab_mm, np.full(len(slab.slab_mm), z)]) for z in (0, h)]
    box = _box(camera, np.vstack(levels))
    rays = camera.rays(box)
    part = picture[box[1] : box[3], box[0] : box[2]]
    for z in np.linspace(h, 0, SIDE_LAYERS, endpoint=False):
        cover = _sample(slab.cover, *_on_frame(slab.frame, *_seen(camera, rays, float(z))))
        side = slab.side_rgb * (0.55 + 0.35 * (1 - z / h))
        part += (side.astype(np.float32) - part) * cover[..., None]
    at = _on_frame(slab.frame, *_seen(camera, rays, 0.0))
    cover = _sample(slab.cover, *at)
    part += (_sample(slab.pixels, *at, border=-1) - part) * cover[..., None]


def _on_frame(frame: Frame, x: F32, y: F32) -> tuple[F32, F32]:
    s, half = np.float32(frame.px_per_mm), np.float32(0.5)
    return (x - np.float32(frame.left_mm)) * s - half, (y + np.float32(frame.top_mm)) * s - half


@lru_cache(maxsize=8)
def _sheet_texture(number: int) -> F32:
    """An A4 sheet in grey, 0 to 255, at `SHEET_PX_PER_MM`, exact to its pixels."""
    s = SHEET_PX_PER_MM
    width, height = Paper.A4.size_mm
    left, top = (width - BLOCK_MM[0]) / 2, (height - BLOCK_MM[1]) / 2
    page = np.full((round(height * s), round(width * s)), 244, dtype=np.float32)
    for mark in geometry(number).marks:
        for outer, *holes in black_shapes(mark):
            rings = [np.add(ring, (left, top)) for ring in (outer, *holes)]
            at = [np.round(ring * s).astype(np.int32) for ring in rings]
            _ink(page, at)
    return page


def _ink(page: F32, rings: Sequence[npt.NDArray[np.int32]]) -> None:
    """Black inside rings whose sides run along the pixels' edges, even-odd, to the pixel."""
    (x0, y0), (x1, y1) = rings[0].min(axis=0), rings[0].max(axis=0)
    step = 10 * SHEET_PX_PER_MM // 4
    shape = Polygon(rings[0], rings[1:])
    across = np.arange(x0, x1, step)
    down = np.arange(y0, y1, step)
    inside = contains_xy(shape, *np.meshgrid(across + step / 2, down + step / 2))
    big = np.kron(inside, np.ones((step, step), dtype=bool))
    page[y0:y1, x0:x1][big] = 26


def lay_sheet(picture: F32, sheet: SheetLaid, camera: Camera) -> None:
    """A sheet on the face, above it, or bowed, in place."""
    width, height = (side * sheet.print_share for side in Paper.A4.size_mm)
    reach = np.hypot(width, height) / 2 + sheet.bow_mm
    around = np.array([(dx, dy) for dx in (-reach, reach) for dy in (-reach, reach)])
    level = np.column_stack([np.add(around, (sheet.x_mm, sheet.y_mm)), np.full(4, -sheet.above_mm)])
    box = _box(camera, level)
    if box[0] >= box[2] or box[1] >= box[3]:
        return
    across, down = _on_sheet(sheet, camera, camera.rays(box), height)
    s = np.float32(SHEET_PX_PER_MM / sheet.print_share)
    per_px = SHEET_PX_PER_MM * abs(camera.at_mm[2]) / camera.focal_px
    sharp = _sheet_texture(sheet.number)
    soft = max(0.45 * per_px, 0.3)
    texture: F32 = np.asarray(cv2.GaussianBlur(sharp, (0, 0), soft), dtype=np.float32)
    half = np.float32(0.5)
    at = (across + np.float32(width / 2)) * s - half, (down + np.float32(height / 2)) * s - half
    cover = _sample(np.ones_like(texture), *at)
    part = picture[box[1] : box[3], box[0] : box[2]]
    part += (_sample(texture, *at)[..., None] - part) * cover[..., None]


def _on_sheet(
    sheet: SheetLaid, camera: Camera, rays: tuple[F32, F32], height_mm: float
) -> tuple[F32, F32]:
    """Sheet coordinates, from its middle, that each ray meets; a bow is met by trying again."""
    angle = np.radians(sheet.turn_deg)
    c, s = np.float32(np.cos(angle)), np.float32(np.sin(angle))
    chord = np.float32(1 - 8 / 3 * (sheet.bow_mm / height_mm) ** 2)
    lift: F32 = np.zeros_like(rays[0])
    for _ in range(4 if sheet.bow_mm else 1):
        x, y = _seen_at(camera, rays, lift - np.float32(sheet.above_mm))
        dx, dy = x - np.float32(sheet.x_mm), y - np.float32(sheet.y_mm)
        across, down = c * dx + s * dy, (c * dy - s * dx) / chord
        arch = 1 - (2 * down / np.float32(height_mm)) ** 2
        lift = np.asarray(-sheet.bow_mm * arch.clip(0), dtype=np.float32)
    return np.asarray(across, dtype=np.float32), np.asarray(down, dtype=np.float32)


def _seen_at(camera: Camera, rays: tuple[F32, F32], z_mm: F32) -> tuple[F32, F32]:
    """World x and y where rays reach each its own z."""
    ways = np.stack([rays[0], rays[1], np.ones_like(rays[0])], axis=-1) @ camera.turn.astype(
        np.float32
    )
    at = camera.at_mm.astype(np.float32)
    steps = (z_mm - at[2]) / ways[..., 2]
    return at[0] + steps * ways[..., 0], at[1] + steps * ways[..., 1]


def developed(
    picture: F32, camera: Camera, glare: Sequence[SheetLaid], rng: np.random.Generator
) -> Pixels:
    """Uneven light, glare, blur, noise and JPEG: what a telephone makes of the scene."""
    height, width = picture.shape[:2]
    slope = rng.uniform(-0.16, 0.16, 2)
    light = (
        1 + slope[0] * np.linspace(-1, 1, width) + slope[1] * np.linspace(-1, 1, height)[:, None]
    )
    picture *= (light * rng.uniform(0.75, 1.12)).astype(np.float32)[..., None]
    for sheet in glare:
        _shine(picture, camera, sheet)
    blur = float(rng.uniform(0.6, 1.3)) * width / 4000
    picture = np.asarray(cv2.GaussianBlur(picture, (0, 0), max(blur, 0.4)), dtype=np.float32)
    noise = rng.normal(0, float(rng.uniform(1.5, 4.0)), (height, width)).astype(np.float32)
    picture += noise[..., None]
    quality = int(rng.integers(82, 95))
    bgr = picture[..., ::-1].clip(0, 255).astype(np.uint8)
    data = cv2.imencode(".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
    return np.ascontiguousarray(np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR))[..., ::-1])


def _shine(picture: F32, camera: Camera, sheet: SheetLaid) -> None:
    """A lamp's reflection that washes out most of a sheet, in place."""
    middle = camera.px([(sheet.x_mm, sheet.y_mm)])[0]
    size = 120 * camera.focal_px / abs(camera.at_mm[2])
    y, x = np.ogrid[: picture.shape[0], : picture.shape[1]]
    far2 = ((x - middle[0]) ** 2 + (y - middle[1]) ** 2) / size**2
    picture += (420 * np.exp(-(far2**2))).astype(np.float32)[..., None]
