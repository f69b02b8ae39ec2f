"""The wood of a face as fields of numbers: depth under the bark, and tone.

A slab is a plane through growth rings. With the pith `z` away from the plane and the
edges where the bark was, a point's ring is its distance from the pith, and rings are
counted inward from the bark, so that grain and sapwood follow the live edge and the
tapering, crooked log draws its own cathedrals.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from inventory.demo.frame import Frame
from inventory.demo.look import SpeciesLook
from inventory.demo.noise import (
    F32,
    TILE_COLS,
    TILE_ROWS,
    cloud,
    crop,
    fibre_tile,
    fleck_tile,
    mottle_tile,
    pore_tile,
)
from inventory.demo.palette import (
    RING_STEP_MM,
    SAP_LEVELS,
    TONE_MAX,
    TONE_MIN,
    TONES,
    colour_table,
    ring_tones,
)
from inventory.demo.shape import DemoShape

LEAN = 0.024
"""Young wood tapers faster than the log that hides it; this makes the cathedrals."""
SAP_BLEND_MM = 7.0
"""Heartwood gives way to sapwood over about this much."""


@dataclass
class WoodField:
    """Fields over a frame, (rows, columns), float32; figures change them in place.

    `across_mm` is the distance from the pith line, `share` that distance over the
    way to the edge (0 pith, 1 bark), `depth_mm` the depth under the bark, `tone`
    the tone before colour. `heart_depth_mm` stands in for the depth where
    sapwood ends, when a figure has bent the rings away from the bark.
    """

    frame: Frame
    across_mm: F32
    share: F32
    depth_mm: F32
    tone: F32
    heart_depth_mm: F32 | None = None
    grainless: bool = False


def column(values_mm: NDArray[np.float64], shape: DemoShape, frame: Frame) -> F32:
    """A line of the shape at every column of a frame."""
    return np.asarray(np.interp(frame.x_mm(), shape.x_mm, values_mm), dtype=np.float32)


def growth_field(shape: DemoShape, frame: Frame) -> WoodField:
    """Depth under the bark over a frame, before any figure."""
    pith = column(shape.pith_y_mm, shape, frame)
    upper = column(shape.upper_mm, shape, frame) - pith
    lower = pith - column(shape.lower_mm, shape, frame)
    z, radius = column(shape.depth_mm, shape, frame), column(shape.radius_mm, shape, frame)
    across = frame.y_mm().astype(np.float32)[:, None] - pith
    share = np.maximum(across * (1 / upper), across * (-1 / lower))
    if shape.fork_x_mm is not None:
        share = _two_piths(shape, frame, share)
    chord2 = np.maximum(radius**2 - z**2, (0.3 * radius) ** 2)
    rooted = share * share
    rooted *= chord2
    rooted += z**2 + 16.0
    np.sqrt(rooted, out=rooted)
    edge = np.sqrt(chord2 + z**2 + 16.0)
    depth = np.subtract(edge, rooted, out=rooted)
    inner = np.clip(1.0 - share, 0.0, 1.0)
    inner *= (-LEAN * (frame.x_mm() - shape.length_mm / 2)).astype(np.float32)
    depth += inner
    warp = cloud("warp", frame, shape.family_seed) * np.float32(10.0)
    warp *= np.clip(1.25 - share, 0.15, 1.0)
    depth += warp
    return WoodField(frame, across, share, depth, np.zeros_like(depth))


def _two_piths(shape: DemoShape, frame: Frame, share: F32) -> F32:
    """Above the fork each limb has its own pith; between them the rings meet."""
    assert shape.fork_x_mm is not None
    beyond = (frame.x_mm() - shape.fork_x_mm) / (shape.length_mm - shape.fork_x_mm)
    split = (0.52 * np.clip(beyond, 0, None) ** 0.8).astype(np.float32)
    outward, inward = (share - split) / (1 - split), (split - share) / (split + 0.28)
    return np.asarray(np.maximum(outward, inward), dtype=np.float32)


def ring_and_fibre(field: WoodField, shape: DemoShape, look: SpeciesLook) -> None:
    """Add to the tone: rings by depth, and fibres that run with the edges."""
    frame = field.frame
    tones = ring_tones(look, round(frame.px_per_mm * 1000 / 50) * 50 or 50)
    offset = (shape.family_seed * 7919) % (tones.size // 3)
    index = (field.depth_mm * np.float32(1 / RING_STEP_MM)).astype(np.int32)
    index += offset
    rings = np.take(tones, index, mode="clip")
    fibre = _fibre(field, shape, look)
    body = fibre * np.float32(0.26 if look.porosity in ("ring", "semi-ring") else 0.14)
    body += np.float32(0.62)
    rings *= body
    gain = min(3.0 * look.grain, 1.4) if field.grainless else 2.1 * look.grain
    rings *= np.float32(gain)
    field.tone += rings
    fibre *= np.float32(0.13)
    field.tone += fibre
    field.tone += cloud("tint", frame, shape.family_seed) * np.float32(0.16)


def _fibre(field: WoodField, shape: DemoShape, look: SpeciesLook) -> F32:
    """The fibre or pore tile, bent so that streaks follow pith and knots."""
    frame = field.frame
    if field.grainless:
        tile = mottle_tile()
    else:
        tile = pore_tile() if look.porosity in ("ring", "semi-ring") else fibre_tile()
    middle = np.float32(frame.px_per_mm)
    where = field.across_mm * middle
    rows = where.astype(np.int32)
    rows += TILE_ROWS + (shape.family_seed * 131) % TILE_ROWS
    rows &= TILE_ROWS - 1
    rows *= TILE_COLS
    rows += (np.arange(frame.width_px, dtype=np.int32) + shape.family_seed * 37) % TILE_COLS
    return np.take(tile.ravel(), rows, mode="clip")


def ray_fleck(field: WoodField, shape: DemoShape, strength: float) -> None:
    """Pale ribbons across the grain where the plane runs along the rays."""
    z = column(shape.depth_mm, shape, field.frame)
    radius = column(shape.radius_mm, shape, field.frame)
    chord2 = np.maximum(radius**2 - z**2, (0.3 * radius) ** 2)
    along_rays = field.share**2 * chord2
    along_rays /= along_rays + z**2 + 200.0
    along_rays **= 5
    along_rays *= np.clip(cloud("patch", field.frame, shape.family_seed + 4) * 0.6 + 1.0, 0, 1.3)
    along_rays *= _flecks(field.frame, shape.family_seed)
    field.tone += along_rays * np.float32(0.5 * strength)


def _flecks(frame: Frame, seed: int) -> F32:
    """The ray tile at the frame's own scale, (rows, columns)."""
    rng = np.random.default_rng([seed, 31])
    zoom = max(frame.px_per_mm / 0.55, 0.5)
    size = (frame.width_px, frame.height_px)
    piece = crop(fleck_tile(), int(size[1] / zoom) + 1, int(size[0] / zoom) + 1, rng)
    enlarged = Image.fromarray(piece).resize(size, Image.Resampling.BICUBIC)
    return np.asarray(enlarged, dtype=np.float32)


def coloured(field: WoodField, look: SpeciesLook, wet: bool) -> NDArray[np.uint8]:
    """(rows, columns, 4) RGBA bytes from tone and depth."""
    depth = field.depth_mm if field.heart_depth_mm is None else field.heart_depth_mm
    sap = depth * np.float32(1 / SAP_BLEND_MM)
    sap += np.float32(0.5 - look.sap_mm / SAP_BLEND_MM)
    sap += field.tone * np.float32(-0.35)
    np.clip(sap, 0, 1, out=sap)
    level = (sap * np.float32(SAP_LEVELS - 0.01)).astype(np.int32)
    level *= TONES
    scaled = field.tone * np.float32((TONES - 1) / (TONE_MAX - TONE_MIN) * (1.18 if wet else 1.0))
    scaled += np.float32(-TONE_MIN * (TONES - 1) / (TONE_MAX - TONE_MIN))
    np.clip(scaled, 0, TONES - 1, out=scaled)
    level += scaled.astype(np.int32)
    packed = np.take(colour_table(look, wet), level)
    return packed.view(np.uint8).reshape(*packed.shape, 4)
