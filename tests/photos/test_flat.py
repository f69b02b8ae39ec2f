"""The picture laid flat: every place of the slab shows what the photograph shows there."""

import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from django.core.files.storage import default_storage
from django.test import Client
from django.utils import timezone
from PIL import Image

from inventory.models import Outline, Slab
from inventory.photos import flat
from inventory.photos.scale import Floats, from_record
from tests.factories import make_slab
from tests.outlines import add_picture, trace
from tests.photos import pictures

pytestmark = pytest.mark.django_db
WIDE, HIGH = 640, 400
MM_PER_PX = 3.0


@pytest.fixture(autouse=True)
def _own_media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


def traced(slab: Slab, ring_px: Floats) -> Outline:
    """An outline traced on a picture whose quarters have four colours, 3 mm a pixel."""
    return trace(slab, add_picture(slab, pictures.corners(WIDE, HIGH)), ring_px, MM_PER_PX)


@pytest.mark.parametrize("turn_deg", [0.0, 17.0, -40.0])
def test_each_place_shows_what_the_photograph_shows_there(turn_deg: float) -> None:
    turn = np.radians(turn_deg)
    spin = np.array([(np.cos(turn), np.sin(turn)), (-np.sin(turn), np.cos(turn))])
    board = np.array([(-230.0, -70.0), (230.0, -60.0), (230.0, 60.0), (-230.0, 70.0)])
    ring_px = board @ spin + (WIDE / 2, HIGH / 2)
    outline = traced(make_slab(), ring_px)
    shown = flat.flat_of(outline)
    assert shown is not None
    with default_storage.open(flat.file_name(outline), "rb") as opened:
        picture = np.asarray(Image.open(opened).convert("RGB"), dtype=np.float64)
    per_mm = picture.shape[1] / shown.width_mm
    photo = np.asarray(pictures.corners(WIDE, HIGH), dtype=np.float64)
    scale = from_record(outline.scale)
    back = np.linalg.inv(np.vstack([np.array(outline.to_slab), (0, 0, 1)]))
    looked_at = 0
    for x, y in [(150, 90), (150, -90), (1200, 120), (1250, -130), (300, 0), (1100, 40)]:
        in_photo = scale.px((back @ (x, y, 1))[:2])[0]
        if np.abs(in_photo - (WIDE / 2, HIGH / 2)).min() < 12:
            continue  # on a border between two colours
        seen = picture[int((-y - shown.y_mm) * per_mm), int((x - shown.x_mm) * per_mm)]
        wanted = photo[int(in_photo[1]), int(in_photo[0])]
        assert np.abs(seen - wanted).max() < 25, (x, y)
        looked_at += 1
    assert looked_at >= 3


def test_the_picture_is_made_once_and_shown_to_the_house(worker_client: Client) -> None:
    outline = traced(make_slab(), np.array([(90.0, 60), (500, 60), (500, 300), (90, 300)]))
    shown = flat.flat_of(outline)
    assert shown is not None
    first = worker_client.get(shown.url)
    made = default_storage.get_modified_time(flat.file_name(outline))
    assert (first.status_code, first["Content-Type"]) == (200, "image/webp")
    assert worker_client.get(shown.url).getvalue() == first.getvalue()
    assert default_storage.get_modified_time(flat.file_name(outline)) == made


def test_an_outline_without_a_photograph_has_no_picture(worker_client: Client) -> None:
    outline = Outline.objects.create(
        slab=make_slab(), ring=[[0, 0], [900, 0], [900, 300]], at=timezone.now()
    )
    assert flat.flat_of(outline) is None
    assert worker_client.get(f"/outlines/{outline.pk}/picture/page/").status_code == 404


def test_no_other_sizes_are_made(worker_client: Client) -> None:
    outline = traced(make_slab(), np.array([(90.0, 60), (500, 60), (500, 300), (90, 300)]))
    assert worker_client.get(f"/outlines/{outline.pk}/picture/huge/").status_code == 404
    small = worker_client.get(f"/outlines/{outline.pk}/picture/small/").getvalue()
    assert Image.open(io.BytesIO(small)).width <= flat.LONG_SIDE_PX["small"] + 1
