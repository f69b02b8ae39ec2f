"""Photo intake of a 12-megapixel JPEG against the imaging library doing only what it must.

The floor: open, decode once, resize to zoom, page from zoom, grid from page (Lanczos), encode
each as WebP with the very settings intake uses. No checks, digest, master, profile, turning or
mean colour. Run with `-m bench -n 0` (alone, so that the line is shown); floor and intake take
turns in one run, medians are compared.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from io import BytesIO
from statistics import median
from time import perf_counter

import numpy as np
import pytest
from PIL import Image

from inventory.photos.intake import LONG_SIDES_PX, WEBP_METHODS, WEBP_QUALITY, take_in
from tests.photos.pictures import exif, jpeg, srgb_profile

ROUNDS = 7
CASES = {
    "upright": 1,  # the master keeps its own data
    "phone held upright": 6,  # the master is turned and encoded anew
}


def textured(width: int = 4000, height: int = 3000) -> Image.Image:
    """Brown, with noise at every scale and fine bands, as hard to encode as a photographed slab."""
    rng = np.random.default_rng(1)
    tone = rng.normal(0, 4, (height, width)).astype(np.float32)
    for cell_px in (2, 4, 16, 64, 256):
        coarse = rng.normal(0, 3 + 4 * np.log2(cell_px), (height // cell_px, width // cell_px))
        layer = Image.fromarray(coarse.astype(np.float32))
        tone += np.asarray(layer.resize((width, height), Image.Resampling.BICUBIC))
    tone += 12 * np.sin(np.arange(height, dtype=np.float32)[:, None] / 9 + tone / 18)
    colours = np.stack([150 + tone, 105 + 0.8 * tone, 70 + 0.6 * tone], axis=-1)
    return Image.fromarray(colours.clip(0, 255).astype(np.uint8))


def floor(data: bytes) -> int:
    picture = Image.open(BytesIO(data))
    picture.load()
    made = 0
    for name, long_side_px in LONG_SIDES_PX.items():
        scale = long_side_px / max(picture.size)
        size = (round(picture.width * scale), round(picture.height * scale))
        resized = picture.resize(size, Image.Resampling.LANCZOS)
        out = BytesIO()
        resized.save(out, "WEBP", quality=WEBP_QUALITY, method=WEBP_METHODS[name], exif=b"")
        made += len(out.getvalue())
        picture = resized  # type: ignore[assignment]
    return made


def seconds(work: Callable[[], object]) -> float:
    start = perf_counter()
    work()
    return perf_counter() - start


@pytest.mark.bench
@pytest.mark.parametrize("case", CASES)
def test_intake_of_a_12_megapixel_jpeg(case: str, capsys: pytest.CaptureFixture[str]) -> None:
    data = jpeg(textured(), exif=exif(CASES[case]), icc_profile=srgb_profile())
    intakes, floors = [], []
    for _ in range(ROUNDS):
        floors.append(seconds(lambda: floor(data)))
        intakes.append(seconds(lambda: take_in(BytesIO(data), "slab.jpg")))
    ratio = median(intakes) / median(floors)
    with capsys.disabled():
        sys.stdout.write(
            f"\nphoto intake, 12 MP JPEG of {len(data) / 2**20:.1f} MB, {case}: "
            f"{median(intakes) * 1000:.0f} ms, floor {median(floors) * 1000:.0f} ms, "
            f"ratio {ratio:.2f}\n"
        )
    taken = take_in(BytesIO(data), "slab.jpg")
    assert sum(len(made.data) for made in taken.derivatives) > 0.9 * floor(data)
