"""Photographs of invented slabs as uploads, and clicks on them, for tests of the tracing pages."""

import io
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from PIL import Image

from inventory.models import Slab
from inventory.photos.scale import Floats, Pixels, Scale
from tests.bench.bad_pictures import all_on_the_floor, bad_picture, no_sheet
from tests.bench.hand import clicks_round
from tests.bench.photographs import Photograph, Shot, photograph
from tests.factories import make_slab

SIZE_PX = (2000, 1500)
SEED = 2031
CLICK_SEED = 5


@lru_cache(maxsize=4)
def face(kind: str = "good") -> Photograph:
    """A slab with two sheets on its face ("good"), on the floor ("floor"), or none ("bare")."""
    if kind == "floor":
        return bad_picture(all_on_the_floor, SEED, is_small=True)
    if kind == "bare":
        return bad_picture(no_sheet, SEED, is_small=True)
    return photograph(Shot(SEED, 6.0, SIZE_PX, has_bark=False))


def jpeg_of(pixels: Pixels) -> bytes:
    kept = io.BytesIO()
    Image.fromarray(pixels).save(kept, "JPEG", quality=92)
    return kept.getvalue()


def slab_of(picture: Photograph) -> Slab:
    """The slab on the record as its owner taped it: its length and thickness right, its widths
    one too wide everywhere."""
    wide = float(np.ptp(picture.slab_mm[:, 1]))
    return make_slab(
        length_mm=float(np.ptp(picture.slab_mm[:, 0])),
        thickness_mm=picture.thickness_mm,
        widths=[(0.0, wide), (0.5, wide), (1.0, wide)],
    )


def clicks_px(picture: Photograph) -> Floats:
    """Rough clicks round the wood, in the photograph's pixels."""
    rng = np.random.default_rng(CLICK_SEED)
    return picture.camera.px(clicks_round(picture.wood_mm, rng))


def clicks_mm(picture: Photograph, scale: Scale) -> Floats:
    return scale.mm(clicks_px(picture))


def area_mm2(ring: npt.ArrayLike) -> float:
    """Of a ring of places, by the shoelace rule."""
    x, y = np.asarray(ring, dtype=np.float64).T
    return float(abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2)
