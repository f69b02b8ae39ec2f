"""A log in sawn order, and two neighbours opened like a book."""

import re
from typing import Any

import numpy as np
import pytest
from django.test import Client
from PIL import Image
from shapely import Polygon, affinity, box

from inventory import seen_shapes
from inventory.models import LengthSystem, Log, Person, Slab, Standing
from inventory.wood.shape import Floats
from tests.catalogue.layout.shapes import wavy
from tests.catalogue.layout.test_pairs import ring_of
from tests.catalogue.test_browse import with_state
from tests.factories import make_log, make_slab
from tests.outlines import add_picture, trace

pytestmark = pytest.mark.django_db

# Straight on one side of its axis, so every figure can be worked out by hand.
TAPER = [(0.0, 400.0), (1.0, 600.0)]
EVEN = [(0.0, 500.0), (1.0, 500.0)]
MM_PER_PX = 3.0


def log_of(*widths: list[tuple[float, float]]) -> tuple[Log, list[Slab]]:
    log = make_log()
    slabs = [
        make_slab(log=log, number_in_log=at, length_mm=2000.0, widths=some)
        for at, some in enumerate(widths, 1)
    ]
    return log, slabs


def look(client: Client, log: Log, asked: str = "") -> Any:
    Person.objects.update(length_system=LengthSystem.METRIC)
    answer = client.get(f"/logs/{log.pk}/sawn/{asked}")
    assert answer.status_code == 200
    return answer.context["boule"]


def opened(client: Client, log: Log, slabs: list[Slab], more: str = "") -> Any:
    asked = "&".join(f"open={slab.code}" for slab in slabs)
    return look(client, log, f"?{asked}{more}").opened


def test_slabs_lie_in_sawn_order_to_one_scale(owner_client: Client) -> None:
    log, slabs = log_of(TAPER, EVEN, EVEN)
    found = look(owner_client, log)
    assert [row.slab for row in found.rows] == slabs
    assert len({row.view_box.split()[2] for row in found.rows}) == 1
    assert [bool(row.open_query) for row in found.rows] == [True, True, False]


def test_even_leaves_meet_along_the_whole_joint(owner_client: Client) -> None:
    log, slabs = log_of(EVEN, EVEN)
    found = opened(owner_client, log, slabs)
    gap, glued = (sentence.replace("\xa0", " ") for sentence in found.sentences)
    assert "0 mm on average" in gap
    assert "would be 1.00 m wide" in glued
    first, second = (ys(part.path) for part in found.parts)
    assert (min(first), max(first)) == (-500.0, 0.0)
    assert (min(second), max(second)) == (0.0, 500.0)


def test_tapers_touch_at_one_place_and_the_gap_is_by_hand(owner_client: Client) -> None:
    # Each edge falls 100 mm over the length; looked at from 3 % to 97 % of it, the two together
    # open from 0 at the wide end to 0.94 × 200 = 188 mm, 94 mm on average.
    log, slabs = log_of(TAPER, TAPER)
    gap = opened(owner_client, log, slabs).sentences[0].replace("\xa0", " ")
    assert "94 mm on average" in gap
    assert "188 mm at its widest" in gap


def test_the_other_edges_may_be_opened_and_the_pages_change_places(owner_client: Client) -> None:
    log, slabs = log_of(TAPER, EVEN)
    near = opened(owner_client, log, slabs)
    far = opened(owner_client, log, slabs, "&edge=far")
    assert (near.edge_words, far.edge_words) == ("near edges", "far edges")
    assert "edge=far" in near.other_query
    assert "edge=near" in far.other_query


@pytest.mark.parametrize("asked", ["?open=nonsense", "?open=%00&open=x", "?edge=far"])
def test_what_cannot_be_opened_is_not(owner_client: Client, asked: str) -> None:
    log, _ = log_of(TAPER, EVEN)
    assert look(owner_client, log, asked).opened is None


def test_only_neighbours_open(owner_client: Client) -> None:
    log, slabs = log_of(EVEN, EVEN, EVEN)
    assert opened(owner_client, log, [slabs[0], slabs[2]]) is None
    assert opened(owner_client, log, slabs[1:]) is not None


def test_gone_wood_is_not_opened_and_clients_do_not_see_it(owner_client: Client) -> None:
    log, slabs = log_of(EVEN, EVEN, EVEN)
    with_state(slabs[0], standing=Standing.GONE, gone_how="used")
    assert opened(owner_client, log, slabs[:2]) is None
    assert [row.is_gone for row in look(owner_client, log).rows] == [True, False, False]
    owner_client.post("/client-view/", {"on": "yes"})
    answer = owner_client.get(f"/logs/{log.pk}/sawn/")
    assert [row.slab for row in answer.context["boule"].rows] == slabs[1:]
    assert slabs[0].display_code not in answer.content.decode()


def test_the_slabs_page_leads_to_its_log(owner_client: Client) -> None:
    log, slabs = log_of(EVEN, EVEN)
    assert f"/logs/{log.pk}/sawn/" in owner_client.get(slabs[0].get_absolute_url()).content.decode()


def ys(path: str) -> list[float]:
    return [y for _, y in xys(path)]


def on_picture(ring_mm: Floats, turn: float = 1.0) -> Floats:
    """A ring laid across a picture of 900 by 300 pixels at 3 mm a pixel; −1 turns it round."""
    return np.asarray(turn * (ring_mm - ring_mm.mean(axis=0)) / MM_PER_PX + (450.0, 150.0))


def sawn_pair(turn: float, cut_mm: float = 0.0) -> tuple[Log, list[Slab]]:
    """Two neighbours of one outline, the second pictured as is or from the log's other end.

    `cut_mm` is what was crosscut from the second's end where the first begins.
    """
    log, slabs = log_of(EVEN, EVEN)
    whole = Polygon(ring_of(wavy(1701, 2500, 230)))
    for slab, way, start_mm in zip(slabs, (1.0, turn), (0.0, cut_mm), strict=True):
        kept = whole.intersection(box(start_mm, -1e4, 1e4, 1e4))
        assert isinstance(kept, Polygon)
        ring_px = on_picture(np.asarray(kept.exterior.coords)[:-1], way)
        trace(slab, add_picture(slab, Image.new("RGB", (900, 300))), ring_px, MM_PER_PX)
    return log, slabs


@pytest.mark.parametrize(
    ("turn", "cut_mm", "said"),
    [
        (1.0, 0.0, []),
        (-1.0, 0.0, ["turned end for end, as"]),
        (1.0, 60.0, ["drawn 60 mm further along, as"]),
        (-1.0, 60.0, ["turned end for end and 60 mm further along, as"]),
    ],
)
def test_a_neighbour_pictured_otherwise_is_opened_as_it_grew(
    owner_client: Client, turn: float, cut_mm: float, said: list[str]
) -> None:
    """The same outline as its neighbour: opened, the two mirror each other."""
    straight = opened(owner_client, *sawn_pair(1.0))
    book = opened(owner_client, *sawn_pair(turn, cut_mm))
    *words, gap, glued = (sentence.replace("\xa0", " ") for sentence in book.sentences)
    assert len(words) == len(said)
    assert all(part in sentence for part, sentence in zip(said, words, strict=True))
    gap_before, glued_before = straight.sentences
    assert mm_of(glued) == pytest.approx(mm_of(glued_before), abs=3.0)
    if not cut_mm:  # a shorter one may touch elsewhere first
        assert mm_of(gap) == pytest.approx(mm_of(gap_before), abs=3.0)
    crossed = box(150.0, -1e4, 2350.0, 1e4)
    upper, lower = (
        Polygon(np.array(xys(part.path)) * (1, side)).intersection(crossed)
        for part, side in zip(book.parts, (1, -1), strict=True)
    )
    assert upper.symmetric_difference(lower).area <= 0.02 * upper.area


def test_the_picture_goes_where_its_outline_goes(owner_client: Client) -> None:
    """Exact: the picture's matrix takes the outline as traced to the outline as drawn."""
    for edge in ("near", "far"):
        log, slabs = sawn_pair(-1.0, 60.0)
        book = opened(owner_client, log, slabs, f"&edge={edge}")
        for part, shape in zip(book.parts, seen_shapes.seen(slabs).values(), strict=True):
            a, b, c, d, e, f = map(float, re.findall(r"-?[\d.]+", part.matrix))
            put = affinity.affine_transform(shape.wood, [a, -c, b, -d, e, f])
            drawn = Polygon(xys(part.path))
            assert put.symmetric_difference(drawn).area <= 0.01 * drawn.area


def mm_of(sentence: str) -> float:
    """The first length in a sentence, in mm."""
    found = re.search(r"([\d.]+)\s(mm|m)\b", sentence)
    assert found is not None
    return float(found[1]) * (1000.0 if found[2] == "m" else 1.0)


def xys(path: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", path)]
