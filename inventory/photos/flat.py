"""The photograph an outline was traced on, laid flat in the slab's own mm.

Made when it is first asked for and kept beside the pictures: an outline never changes, so neither
does this. In a drawing whose y runs down (SVG), the slab's y is minus the drawing's.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.urls import reverse
from PIL import Image

from inventory.models import Outline
from inventory.photos.rectify import Window, rectify
from inventory.photos.scale import Floats, Scale, from_record

LONG_SIDE_PX = {"page": 1800, "small": 720}
AIR_SHARE = 0.03
"""So much of the slab's length is shown round it."""
QUALITY = 82


@dataclass(frozen=True)
class Flat:
    """Where the picture lies in a drawing in the slab's mm with y running down; its addresses."""

    url: str
    small_url: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float


def flat_of(outline: Outline | None) -> Flat | None:
    """The flat picture of a traced face; None when it was not traced on a photograph."""
    if outline is None or outline.photo_id is None or outline.is_withdrawn:
        return None
    return flat_at(outline.pk, outline.ring)


def flat_at(outline_pk: int, ring: Sequence[Sequence[float]]) -> Flat:
    """The same of an outline whose ring is at hand; it was traced on a photograph."""
    window = _window(ring)
    page, small = (
        reverse("inventory:outline_picture", args=[outline_pk, size]) for size in LONG_SIDE_PX
    )
    return Flat(page, small, window.left_mm, window.top_mm, window.width_mm, window.height_mm)


def file_name(outline: Outline, size: str = "page") -> str:
    """Where its file is kept, made first when it is not there yet. WebP."""
    assert outline.photo is not None
    name = f"flat/{outline.pk}-{outline.photo.sha256[:16]}-{size}.webp"
    if not default_storage.exists(name):
        default_storage.save(name, ContentFile(_made(outline, LONG_SIDE_PX[size])))
    return name


def _window(ring: Sequence[Sequence[float]]) -> Window:
    flat = np.array(ring, dtype=np.float64)
    air = AIR_SHARE * float(np.ptp(flat[:, 0]))
    left, top = float(flat[:, 0].min()) - air, -float(flat[:, 1].max()) - air
    width, height = np.ptp(flat, axis=0) + 2 * air
    return Window(left, top, float(width), float(height))


def _made(outline: Outline, long_side_px: int) -> bytes:
    assert outline.photo is not None
    with outline.photo.master.open("rb") as opened:
        pixels = np.asarray(Image.open(opened).convert("RGB"))
    window = _window(outline.ring)
    scale = in_slabs_frame(from_record(outline.scale), np.array(outline.to_slab, dtype=np.float64))
    share = long_side_px / max(window.width_mm, window.height_mm)
    flat = rectify(pixels, scale, min(share, scale.px_per_mm()), window)
    kept = io.BytesIO()
    Image.fromarray(flat.pixels).save(kept, "WEBP", quality=QUALITY, method=4)
    return kept.getvalue()


def in_slabs_frame(scale: Scale, to_slab: Floats) -> Scale:
    """The scale from the slab's x and minus y, instead of the picture's mm."""
    to_picture = np.linalg.inv(np.vstack([to_slab, (0.0, 0.0, 1.0)]))
    to_px = scale.to_px @ to_picture @ np.diag([1.0, -1.0, 1.0])
    return replace(scale, to_px=to_px / to_px[2, 2], sheets=(), covariance=None)
