"""Slabs as outlines to one common scale."""

import re

import pytest
from django.test import Client

from catalogue import silhouettes
from inventory.models import Slab, SlabShape
from tests.factories import make_slab

pytestmark = pytest.mark.django_db
ADDRESS = "/slabs/?view=outlines"


def text(client: Client, address: str = ADDRESS) -> str:
    return str(client.get(address).content.decode()).replace("\xa0", " ")


def test_every_outline_has_the_frame_of_the_longest_and_widest(owner_client: Client) -> None:
    make_slab(length_mm=1000.0, widths=[(0.5, 300.0)])
    make_slab(length_mm=3000.0, widths=[(0.0, 500.0), (1.0, 900.0)])
    page = text(owner_client)
    boxes = set(re.findall(r'class="lying" viewBox="([^"]+)"', page))
    assert len(boxes) == 1
    left, top, wide, high = (float(side) for side in boxes.pop().split())
    assert wide >= 3000 > 3000 + left * 2 - 200
    assert high >= 900
    assert top == pytest.approx(-high / 2, abs=0.1)
    assert "1000 150" in page  # half the narrow one's width, in the same millimetres


def test_an_outline_lies_about_the_frames_middle() -> None:
    slab = make_slab(length_mm=1000.0, widths=[(0.0, 400.0), (1.0, 200.0)])
    drawn = silhouettes.lying([slab])[slab.pk]
    ys = [float(y) for _, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", drawn.path)]
    assert (max(ys), min(ys)) == (200.0, -200.0)
    assert drawn.words == "Approximate outline, from widths"
    assert drawn.picture is None


def test_what_was_asked_stays_asked_and_the_way_back_is_there(owner_client: Client) -> None:
    make_slab(sawn="quarter")
    page = text(owner_client, "/slabs/?sawn=quarter&view=outlines")
    assert 'href="?sawn=quarter"' in page
    assert '<input type="hidden" name="view" value="outlines" form="filters">' in page
    assert owner_client.get("/slabs/?sawn=quarter&view=outlines").context["browse"].frame


def test_a_slab_without_widths_says_so_and_an_odd_view_is_the_usual_one(
    owner_client: Client,
) -> None:
    slab = make_slab()
    SlabShape.objects.filter(slab=slab).delete()
    Slab.objects.filter(pk=slab.pk).update(widths=[], greatest_width_mm=0)
    assert "Widths not taken yet" in text(owner_client)
    assert owner_client.get("/slabs/?view=cubist").context["browse"].frame is None


def test_pages_and_fragments_share_the_frame(owner_client: Client) -> None:
    for at in range(26):
        make_slab(length_mm=1000.0 + 50.0 * at, widths=[(0.5, 300.0)])
    whole = owner_client.get(f"{ADDRESS}&page=1").context["browse"]
    more = owner_client.get(
        f"{ADDRESS}&page=1&pages=2", headers={"HX-Request": "true", "HX-Target": "more"}
    ).context["browse"]
    assert (len(whole.cards), len(more.cards)) == (24, 2)
    assert whole.frame == more.frame
