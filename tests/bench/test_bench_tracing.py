"""What a person waits for when a 12-megapixel picture is traced, against bare library calls.

Run with `-m bench -n 0 -s`.
"""

import io
import json
import sys
from collections.abc import Callable
from pathlib import Path
from time import perf_counter
from typing import Any

import cv2
import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image

from inventory.models import Photo
from inventory.outline_setup import Asked, Setup, pixels_of, set_up
from inventory.photos.rectify import around, rectify
from inventory.photos.segment import DRAFT_PX, MARGIN_MM, ROUNDS, draft_outline
from tests.bench.photographs import Shot, photograph
from tests.conftest import client_for
from tests.factories import make_person
from tests.traced_pictures import clicks_mm, jpeg_of, slab_of

pytestmark = [pytest.mark.bench, pytest.mark.django_db]

SEED = 4021
DRAFT_S = 0.6
SAID_S = 0.15


def seconds(act: Callable[[], Any], times: int = 3) -> float:
    """The quickest of some runs."""
    spent = []
    for _ in range(times):
        start = perf_counter()
        act()
        spent.append(perf_counter() - start)
    return min(spent)


def bare_cut(pixels: Any, scale: Any, clicks: Any) -> Callable[[], Any]:
    """The library's cut alone, on a picture straightened beforehand to the same size."""
    window = around(clicks, MARGIN_MM)
    small = rectify(pixels, scale, DRAFT_PX / max(window.width_mm, window.height_mm), window)
    ring = np.round(small.px(clicks)).astype(np.int32)

    def cut() -> None:
        mask = np.full(small.pixels.shape[:2], cv2.GC_BGD, dtype=np.uint8)
        cv2.fillPoly(mask, [ring], cv2.GC_PR_FGD)
        models = np.zeros((1, 65)), np.zeros((1, 65))
        cv2.grabCut(small.pixels, mask, (0, 0, 0, 0), *models, ROUNDS, cv2.GC_INIT_WITH_MASK)

    return cut


def test_from_a_12_megapixel_picture_to_its_draft_and_figures(
    tmp_path: Path, settings: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    settings.MEDIA_ROOT = tmp_path
    cv2.setNumThreads(1)
    picture = photograph(Shot(SEED, 8.0))
    slab, data = slab_of(picture), jpeg_of(picture.pixels)
    client = client_for(make_person("Worker"))

    def page(name: str, query: str = "") -> str:
        return f"{reverse(f'inventory:outline_{name}', args=[slab.code])}?{query}"

    start = perf_counter()
    said = {"side": "upper", "way": "sheets", "bar": "254 mm"}
    file = SimpleUploadedFile("face.jpg", data)
    assert client.post(page("start"), {**said, "file": file}).status_code == 302
    uploaded_s = perf_counter() - start
    setup = set_up(Asked(Photo.objects.get(), "upper"))
    assert isinstance(setup, Setup)
    clicks = clicks_mm(picture, setup.scale)
    pixels = pixels_of(setup.photo)
    sent = {"clicks": json.dumps(clicks.tolist()), "how": "draft"}
    drafted = client.post(page("trace", setup.query), sent)
    line = {"drawn": drafted.context["form"]["drawn"].value(), "clicks": "", "bark": "bare"}

    decode_s = seconds(lambda: np.asarray(Image.open(io.BytesIO(data)).convert("RGB")))
    cut_s = seconds(bare_cut(pixels, setup.scale, clicks))
    draft_s = seconds(lambda: draft_outline(pixels, setup.scale, clicks))
    posted_s = seconds(lambda: client.post(page("trace", setup.query), sent))
    figures_s = seconds(lambda: client.post(page("figures", setup.query), line), 5)
    start = perf_counter()
    client.get(page("straight", setup.query))
    straight_s = perf_counter() - start
    again_s = seconds(lambda: client.get(page("straight", setup.query)))
    start = perf_counter()
    assert client.post(page("save", setup.query), line).status_code == 302
    kept_s = perf_counter() - start
    with capsys.disabled():
        sys.stdout.write(
            f"\ntracing 12 MP, s: added and its sheets read {uploaded_s:.2f}; "
            f"decoding {decode_s:.2f}; draft {draft_s:.2f} (bare cut {cut_s:.2f}), "
            f"its page {posted_s:.2f}; "
            f"straightened picture {straight_s:.2f}, again {again_s:.3f}; "
            f"figures {figures_s:.3f}; kept {kept_s:.2f}\n"
        )
    assert draft_s < max(DRAFT_S, 4 * cut_s)
    assert figures_s < SAID_S
