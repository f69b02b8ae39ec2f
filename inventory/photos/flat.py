"""The photograph an outline was traced on, laid flat in the slab's own mm.

Made when it is first asked for and kept beside the pictures: an outline never changes, so neither
does this. In a drawing whose y runs down (SVG), the slab's y is minus the drawing's.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, replace

import numpy as np
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.urls import reverse
from PIL import Image

from inventory.models import Outline
from inventory.photos.rectify import Window, rectify
from inventory.photos.scale import Floats, Scale, from_record

LONG_SIDE_PX = 1800
AIR_SHARE = 0.03
"""So much of the slab's length is shown round it."""
QUALITY = 82


@dataclass(frozen=True)
class Flat:
    """Where the picture lies in a drawing in the slab's mm with y running down, and its address."""

    url: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float


def flat_of(outline: Outline | None) -> Flat | None:
    """The flat picture of a traced face; None when it was not traced on a photograph."""
    if outline is None or outline.photo_id is None or outline.is_withdrawn:
        return None
    window = _window(outline)
    url = reverse("inventory:outline_picture", args=[outline.pk])
    return Flat(url, window.left_mm, window.top_mm, window.width_mm, window.height_mm)


def file_name(outline: Outline) -> str:
    """Where its file is kept, made first when it is not there yet. WebP."""
    assert outline.photo is not None
    name = f"flat/{outline.pk}-{outline.photo.sha256[:16]}.webp"
    if not default_storage.exists(name):
        default_storage.save(name, ContentFile(_made(outline)))
    return name


def _window(outline: Outline) -> Window:
    ring = np.array(outline.ring, dtype=np.float64)
    air = AIR_SHARE * float(np.ptp(ring[:, 0]))
    left, top = float(ring[:, 0].min()) - air, -float(ring[:, 1].max()) - air
    width, height = np.ptp(ring, axis=0) + 2 * air
    return Window(left, top, float(width), float(height))


def _made(outline: Outline) -> bytes:
    assert outline.photo is not None
    with outline.photo.master.open("rb") as opened:
        pixels = np.asarray(Image.open(opened).convert("RGB"))
    window = _window(outline)
    scale = in_slabs_frame(from_record(outline.scale), np.array(outline.to_slab, dtype=np.float64))
    share = LONG_SIDE_PX / max(window.width_mm, window.height_mm)
    flat = rectify(pixels, scale, min(share, scale.px_per_mm()), window)
    kept = io.BytesIO()
    Image.fromarray(flat.pixels).save(kept, "WEBP", quality=QUALITY, method=4)
    return kept.getvalue()


def in_slabs_frame(scale: Scale, to_slab: Floats) -> Scale:
    """The scale from the slab's x and minus y, instead of the picture's mm."""
    to_picture = np.linalg.inv(np.vstack([to_slab, (0.0, 0.0, 1.0)]))
    to_px = scale.to_px @ to_picture @ np.diag([1.0, -1.0, 1.0])
    return replace(scale, to_px=to_px / to_px[2, 2], sheets=(), covariance=None)
