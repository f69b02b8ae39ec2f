"""The label of a slab, and the square on it."""

import re

import pytest
import segno
from django.test import Client
from django.urls import reverse

from inventory.views.slabs import qr_svg
from tests.factories import make_slab, make_species

pytestmark = pytest.mark.django_db


def test_a_label_shows_code_species_and_a_square_without_inline_style(
    worker_client: Client,
) -> None:
    slab = make_slab(species=make_species(common_name="Old plum"), log=None)
    page = worker_client.get(reverse("inventory:slab_label", args=[slab.code]))
    words = page.content.decode()
    assert slab.display_code in words
    assert "Old plum" in words
    assert page.context["address"] == f"http://testserver/slabs/{slab.code}/"
    assert "<svg" in page.context["qr"]
    assert "style=" not in words


def test_the_square_of_a_label_is_the_code_of_the_slabs_address() -> None:
    """Module by module as the library (ISO/IEC 18004) computes it, with a border of two."""
    address = "http://yard.example/slabs/K7M4Q/"
    matrix = segno.make(address, error="m", micro=False).matrix
    drawn = qr_svg(address, "Address")
    assert f'viewBox="0 0 {len(matrix) + 4} {len(matrix) + 4}"' in drawn
    assert dark_modules(drawn) == {
        (x + 2, y + 2) for y, row in enumerate(matrix) for x, dark in enumerate(row) if dark
    }


def dark_modules(svg: str) -> set[tuple[int, int]]:
    """Where the path's strokes, one module high, lie: M x y, h run, m step."""
    path = re.search(r' d="([^"]+)"', svg)
    assert path is not None
    dark, x, y = set(), 0, 0.0
    for command, numbers in re.findall(r"([Mmh])([-\d. ]+)", path[1]):
        if command == "h":
            dark |= {(x + step, int(y)) for step in range(int(numbers))}
            x += int(numbers)
            continue
        across, down = (float(number) for number in numbers.split())
        x, y = (int(across), down) if command == "M" else (x + int(across), y + down)
    return dark
