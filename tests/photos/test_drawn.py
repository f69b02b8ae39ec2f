"""A picture drawn here is developed just as one that arrives."""

import hashlib
from io import BytesIO

import pytest
from PIL import Image

from inventory.photos.intake import from_image, take_in


def a_drawing(size: tuple[int, int]) -> Image.Image:
    return Image.radial_gradient("L").resize(size).convert("RGB")


@pytest.mark.parametrize("size", [(1400, 400), (2400, 700)])
def test_a_drawing_becomes_what_the_same_picture_uploaded_would(size: tuple[int, int]) -> None:
    file = BytesIO()
    a_drawing(size).save(file, "PNG")
    file.seek(0)
    drawn, uploaded = from_image(a_drawing(size)), take_in(file, "drawn.png")
    assert drawn.derivatives == uploaded.derivatives
    assert drawn.original == uploaded.original
    assert (drawn.width, drawn.height) == size
    assert drawn.dominant_hex == uploaded.dominant_hex


def test_a_drawing_is_known_by_the_digest_of_its_master() -> None:
    drawn = from_image(a_drawing((900, 300)))
    assert drawn.sha256 == hashlib.sha256(drawn.original).hexdigest()


def test_a_picture_no_larger_than_a_page_is_written_once_for_page_and_zoom() -> None:
    _, page, zoom = from_image(a_drawing((1400, 400))).derivatives
    assert (page.name, zoom.name) == ("page", "zoom")
    assert page.data == zoom.data


def test_a_larger_picture_keeps_its_pixels_for_zoom() -> None:
    _, page, zoom = from_image(a_drawing((2400, 700))).derivatives
    assert (page.width, zoom.width) == (1600, 2400)
