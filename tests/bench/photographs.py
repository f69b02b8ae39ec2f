"""Photographs of invented slabs by an invented camera, every size of them known.

The world: x along the slab, y down the picture, z away from the camera, in mm; the slab's upper
face is the plane z = 0 and the floor lies one thickness behind it. The picture is drawn by asking,
for every pixel, which place of floor, edge, face or sheet it sees, through a pinhole whose lens
bends straight lines a little; then come light, blur, noise and JPEG.
"""

from __future__ import annotations

import cv2
import numpy as np
from shapely import Polygon

from inventory.demo.frame import Frame
from inventory.demo.shape import DemoShape, make_shape
from inventory.demo.slab import wood_pixels
from tests.bench.photo_painting import (
    cover_of,
    developed,
    floor_of,
    lay_sheet,
    lay_slab,
    looks,
    paint_rim,
)
from tests.bench.photo_parts import (
    Camera,
    DrawnSlab,
    Floats,
    Photograph,
    SheetLaid,
    Shot,
)

__all__ = ["Camera", "Photograph", "SheetLaid", "Shot", "photograph", "shape_of", "two_sheets"]

MARGIN_MM = 40.0


def photograph(shot: Shot) -> Photograph:
    """The picture that a shot gives: the same for the same shot."""
    rng = np.random.default_rng([shot.seed, 7])
    shape = _shape(shot.seed, rng)
    camera = _camera(shot, shape, rng)
    slab = _slab(shot, shape, rng, px_per_mm=camera.focal_px / abs(camera.at_mm[2]))
    sheets = shot.sheets if shot.sheets is not None else two_sheets(shape, rng)
    picture = floor_of(slab, camera, rng)
    lay_slab(picture, slab, camera)
    for sheet in sheets:
        lay_sheet(picture, sheet, camera)
    glare = [sheet for sheet in sheets if sheet.number == shot.glare_on]
    pixels = developed(picture, camera, glare, rng)
    return Photograph(pixels, camera, shape, slab.wood_mm, slab.slab_mm, sheets, shot)


def two_sheets(shape: DemoShape, rng: np.random.Generator) -> tuple[SheetLaid, ...]:
    """Two sheets flat on the face, one either side of its middle."""
    places = shape.length_mm * np.array([0.33, 0.66]) + rng.uniform(-60, 60, 2)
    return tuple(
        SheetLaid(number, float(x), _middle_y(shape, float(x)), float(rng.uniform(-12, 12)) + 90)
        for number, x in enumerate(places, 1)
    )


def one_sheet(shape: DemoShape, **other: float) -> tuple[SheetLaid, ...]:
    """One sheet on the face's middle."""
    x = shape.length_mm / 2
    return (SheetLaid(1, x, _middle_y(shape, x), 84.0, **other),)


def shape_of(seed: int) -> DemoShape:
    """The slab that every shot of that seed shows."""
    return _shape(seed, np.random.default_rng([seed, 7]))


def _middle_y(shape: DemoShape, x_mm: float) -> float:
    return -float(np.interp(x_mm, shape.x_mm, (shape.upper_mm + shape.lower_mm) / 2))


def _shape(seed: int, rng: np.random.Generator) -> DemoShape:
    return make_shape(
        seed,
        float(rng.uniform(1700, 2900)),
        float(rng.uniform(380, 760)),
        taper=float(rng.uniform(0.05, 0.25)),
        waviness=float(rng.uniform(0.03, 0.10)),
        crook=float(rng.uniform(5, 60)),
        thickness_mm=float(rng.uniform(45, 75)),
    )


# --- the camera --------------------------------------------------------------------


def _camera(shot: Shot, shape: DemoShape, rng: np.random.Generator) -> Camera:
    """A camera that looks at the slab's middle from far enough to hold it all."""
    focal = 0.75 * max(shot.size_px) * float(rng.uniform(0.92, 1.08))
    towards = float(rng.uniform(0, 2 * np.pi))
    turn = _rolled(float(np.radians(rng.uniform(-6, 6)))) @ _tilted(
        np.radians(shot.tilt_deg), towards
    )
    bend = float(rng.uniform(-0.006, 0.006)) if shot.bend is None else shot.bend
    middle = np.array([shape.length_mm * (0.5 + shot.aside), _middle_y(shape, 0.5), 0.0])
    corners = np.array(
        [(x, y, z) for x in (0, shape.length_mm) for y in _reach_y(shape) for z in (0, 75.0)]
    )
    if shot.aside:
        corners[:, 0] += shape.length_mm * shot.aside
    for away in np.geomspace(600, 9000, 200):
        camera = Camera(turn, middle - away * turn[2], focal, shot.size_px, bend)
        share = np.abs(camera.px(corners) - camera.middle_px) / (np.array(shot.size_px) / 2)
        ahead = ((corners - camera.at_mm) @ turn.T)[:, 2].min() > 100
        if ahead and share.max() <= shot.fill:
            break
    return camera


def _reach_y(shape: DemoShape) -> tuple[float, float]:
    return -float(shape.upper_mm.max()) - 20, -float(shape.lower_mm.min()) + 20


def _rolled(angle: float) -> Floats:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])


def _tilted(angle: float, towards: float) -> Floats:
    axis = np.array([np.cos(towards), np.sin(towards), 0.0]) * angle
    return np.asarray(cv2.Rodrigues(axis)[0], dtype=np.float64)


# --- the slab, drawn flat ----------------------------------------------------------


def _slab(shot: Shot, shape: DemoShape, rng: np.random.Generator, *, px_per_mm: float) -> DrawnSlab:
    names = sorted(looks())
    name = names[int(rng.integers(len(names)))]
    look = looks()[shot.species or name]
    drawn_bark = bool(rng.random() < 0.6)
    has_bark = drawn_bark if shot.has_bark is None else shot.has_bark
    wood, whole = _rings(shape, rng, has_bark=has_bark)
    top, bottom = -_reach_y(shape)[0] + MARGIN_MM, -_reach_y(shape)[1] - MARGIN_MM
    scale = min(px_per_mm, 2.0)
    frame = Frame(
        -MARGIN_MM,
        top,
        scale,
        round((shape.length_mm + 2 * MARGIN_MM) * scale),
        round((top - bottom) * scale),
    )
    figure = frozenset({"plain"})
    pixels = wood_pixels(shape, look, frame, seed=shot.seed, figure=figure, wet=False)
    rgb = np.ascontiguousarray(pixels[..., :3]).astype(np.float32)
    wood_cover, cover = cover_of(wood, frame), cover_of(whole, frame)
    paint_rim(rgb, wood_cover, look, frame, rng)
    side = np.array(look.bark, dtype=np.float64) * (0.8 if has_bark else 1.15)
    return DrawnSlab(shape, frame, wood, whole, rgb.clip(0, 255).astype(np.uint8), cover, side)


def _rings(shape: DemoShape, rng: np.random.Generator, *, has_bark: bool) -> tuple[Floats, Floats]:
    """Outlines of the wood alone, and with what bark it keeps; y down."""
    x = np.arange(0.0, shape.length_mm + 1e-6, 3.0)
    edges = [_edge(shape, x, line, rng) for line in (shape.upper_mm, shape.lower_mm)]
    barks = [_bark(x, rng) if has_bark else np.zeros_like(x) for _ in edges]
    wood = _ring(shape, x, edges[0], edges[1])
    whole = _ring(shape, x, edges[0] + barks[0], edges[1] - barks[1])
    return wood, whole


def _edge(shape: DemoShape, x: Floats, line: Floats, rng: np.random.Generator) -> Floats:
    small = np.convolve(rng.normal(0, 1, x.size), np.hanning(9) / 3, mode="same")
    middling = np.convolve(rng.normal(0, 1, x.size), np.hanning(41) / 4, mode="same")
    return np.asarray(np.interp(x, shape.x_mm, line) + 0.8 * small + 1.9 * middling)


def _bark(x: Floats, rng: np.random.Generator) -> Floats:
    lumps = np.convolve(rng.normal(0, 1, x.size), np.hanning(13) / 2, mode="same")
    return np.asarray(np.clip(float(rng.uniform(6, 11)) + 1.5 * lumps, 2.0, None))


def _ring(shape: DemoShape, x: Floats, upper: Floats, lower: Floats) -> Floats:
    top = np.column_stack([_skewed(shape, x, upper), -upper])
    bottom = np.column_stack([_skewed(shape, x, lower), -lower])
    ring = np.vstack([top, bottom[::-1]])
    if not Polygon(ring).is_valid:
        raise ValueError("This invented slab crosses itself: take another seed.")
    return ring


def _skewed(shape: DemoShape, x: Floats, y: Floats) -> Floats:
    along = x / shape.length_mm
    share = y / max(float(np.ptp(shape.upper_mm - shape.lower_mm)), 300.0)
    start, finish = shape.end_skew_mm
    return np.asarray(x + share * (start * (1 - along) ** 8 + finish * along**8))
