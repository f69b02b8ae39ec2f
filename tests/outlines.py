"""Outlines traced on pictures of known size, for tests of what follows from them."""

import io
from collections.abc import Sequence

from django.utils import timezone
from PIL import Image

from inventory import outlines
from inventory.models import FaceSide, Outline, Photo, Slab
from inventory.photos import store
from inventory.photos.intake import take_in
from inventory.photos.scale import Floats, Scale, scale_from_rectangle
from inventory.photos.trace import judge


def add_picture(slab: Slab, picture: Image.Image) -> Photo:
    """A picture taken in as an upload is."""
    held = io.BytesIO()
    picture.save(held, "PNG")
    held.seek(0)
    return store.add_photo(slab, take_in(held, "face.png"), "face_dry", None, "face.png")


def trace(
    slab: Slab,
    photo: Photo,
    ring_px: Floats,
    mm_per_px: float,
    weak_px: Sequence[tuple[float, float]] = (),
) -> Outline:
    """The ring in the picture's pixels, straight from above at that scale, as an outline."""
    wide, high = photo.width_px, photo.height_px
    corners = [(0.0, 0.0), (wide - 1.0, 0.0), (wide - 1.0, high - 1.0), (0.0, high - 1.0)]
    size = (mm_per_px * (wide - 1), mm_per_px * (high - 1))
    scale = scale_from_rectangle(corners, *size, (wide, high))
    assert isinstance(scale, Scale)
    judged = judge(scale.mm(ring_px))
    assert not judged.is_refused
    return outlines.keep(
        slab,
        side=FaceSide.UPPER,
        photo=photo,
        scale=scale,
        raised_mm=0.0,
        clicks=(),
        traced=scale.mm(ring_px),
        traced_holes=(),
        judged=judged,
        is_bark_inside=False,
        bark_mm=0.0,
        corrected_points=0,
        weak=scale.mm(weak_px) if weak_px else (),
        by=None,
        now=timezone.now(),
    )
