"""The worth page and its workbook: who may see them, what they count, and that they agree."""

import io
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from openpyxl import load_workbook

from inventory.models import GoneHow, LengthSystem, Person, Slab, Standing
from inventory.worth import AgeBar
from inventory.worth_picture import BAR_WIDTH, rows
from tests.conftest import client_for
from tests.factories import at, make_place, make_slab, make_species

pytestmark = pytest.mark.django_db
PAGE, WORKBOOK = "/worth/", "/worth/workbook/"


def stock(cost: str, asking: str | None = "900.00", **kwargs: Any) -> Slab:
    price = None if asking is None else Decimal(asking)
    slab = make_slab(asking_price=price, own_cost=Decimal(cost), **kwargs)
    Slab.objects.filter(pk=slab.pk).update(cost=Decimal(cost))
    return slab


def html(client: Client, address: str = PAGE, **query: Any) -> str:
    response = client.get(address, query)
    assert response.status_code == 200
    return response.content.decode()


@pytest.mark.parametrize("address", [PAGE, WORKBOOK])
def test_only_those_who_see_cost_come_in(
    address: str, client: Client, worker_client: Client, owner_client: Client, buyer_client: Client
) -> None:
    assert client.get(address)["Location"].startswith(reverse("sign_in"))
    assert worker_client.get(address).status_code == 403
    shown = buyer_client.get(address)
    assert b"".join(shown)  # read to its end, so that the file behind it is closed
    assert shown.status_code == 200
    assert buyer_client.post(address).status_code == 405
    session = owner_client.session
    session["client_view"] = True
    session.save()
    assert owner_client.get(address).status_code == 403


def test_the_page_shows_the_lower_of_cost_and_what_it_would_fetch(buyer_client: Client) -> None:
    stock("500.00", "500.00")
    stock("100.00", "900.00")
    text = html(buyer_client)
    assert "its asking price less 10&nbsp;% for selling it" in text
    assert "$550.00" in text
    assert "$50.00" in text
    assert "$600.00" in html(buyer_client, selling="0")


def test_slabs_without_a_price_are_told_apart(buyer_client: Client) -> None:
    stock("500.00", None)
    text = html(buyer_client)
    assert '?priced=no">1 slab</a> has no asking price' in text
    assert "1 without a price" in text


def test_each_row_leads_to_the_same_slabs(buyer_client: Client) -> None:
    slab = stock("10.00", place=make_place(name="Loft"))
    stock("10.00", species=slab.species)
    browse = reverse("catalogue:browse")
    assert f'href="{browse}?species={slab.species_id}"' in html(buyer_client)
    by_place = html(buyer_client, by="place", standing="free")
    assert f'href="{browse}?standing=free&amp;place={slab.place_id}"' in by_place
    assert f'href="{browse}?standing=free&amp;place=none"' in by_place
    assert f'href="{browse}?standing=free"' in html(buyer_client, by="standing")
    assert f'href="{browse}?condition=unknown"' in html(buyer_client, by="condition")
    assert f'href="{browse}?place={slab.place_id}&amp;age=0"' in html(
        buyer_client, by="age", place=str(slab.place_id)
    )
    shown = buyer_client.get(browse, {"place": "none", "standing": "free"}).content.decode()
    assert slab.display_code not in shown


def test_what_is_counted_can_be_narrowed_and_gone_wood_looked_at(buyer_client: Client) -> None:
    stock("11.00")
    gone = stock("77.00")
    Slab.objects.filter(pk=gone.pk).update(standing=Standing.GONE, gone_how=GoneHow.SOLD)
    assert "$77.00" not in html(buyer_client)
    text = html(buyer_client, standing="gone")
    assert "$77.00" in text
    assert "$11.00" not in text


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ({"selling": "120"}, "Selling cannot cost more than the whole price."),
        ({"selling": "-1"}, "Selling cannot cost less than nothing."),
        ({"selling": "a tenth"}, "Write a share of the price in per cent"),
        ({"selling": "NaN"}, "Write a share of the price in per cent"),
        ({"species": "99999"}, "That is not there to choose any more"),
        ({"by": "moon"}, "By species"),
        ({"standing": "x' OR 1=1"}, "By species"),
    ],
)
def test_what_is_no_answer_is_told_and_the_page_still_counts(
    buyer_client: Client, query: dict[str, str], words: str
) -> None:
    stock("11.00")
    response = buyer_client.get(PAGE, query)
    assert response.status_code == 422
    assert words in response.content.decode()
    assert "$11.00" in response.content.decode()
    workbook = buyer_client.get(WORKBOOK, query)
    assert workbook["Location"].startswith(PAGE)


def test_an_empty_yard_says_so(buyer_client: Client) -> None:
    assert "No slab is counted here." in html(buyer_client)


def test_the_page_asks_the_database_as_often_for_ten_species_as_for_thirty(
    buyer_client: Client,
) -> None:
    counts = []
    for size in (10, 30):
        while Slab.objects.count() < size:
            stock("10.00", species=make_species())
        html(buyer_client)
        with CaptureQueriesContext(connection) as taken:
            html(buyer_client)
        counts.append(len(taken))
    assert counts[0] == counts[1]


@time_machine.travel("2026-06-30T12:00:00Z")
def test_the_workbook_is_named_by_its_day_and_counts_what_the_page_counts(buyer: Person) -> None:
    buyer.length_system = LengthSystem.METRIC
    buyer.save()
    slab = stock("10.00", place=make_place())
    stock("20.00")
    Slab.objects.update(received_at=at(2026, 6, 1))
    query: dict[str, Any] = {"place": slab.place_id, "selling": "12.5"}
    client = client_for(buyer)
    assert f"{WORKBOOK}?place={slab.place_id}&amp;selling=12.5" in html(client, **query)
    response: Any = client.get(WORKBOOK, query)
    assert response["Content-Disposition"] == 'attachment; filename="stock-2026-06-30.xlsx"'
    book = load_workbook(io.BytesIO(b"".join(response.streaming_content)))
    assert [row[0] for row in book["Slabs"].iter_rows(min_row=2, values_only=True)] == [
        slab.display_code
    ]
    assert book["Slabs"]["K1"].value == "Length (mm)"
    assert book["Assumptions"]["B3"].value == 0.125


def test_bars_share_one_scale_and_fill_their_length() -> None:
    bars = [
        AgeBar("Oak", (1.0, 0.0, 3.0, 0.0), (1, 0, 2, 0)),
        AgeBar("Elm", (2.0,) + (0.0,) * 3, (1, 0, 0, 0)),
    ]
    oak, elm = rows(bars)
    assert [segment.width for segment in oak.segments] == [250.0, 0.0, 750.0, 0.0]
    assert [segment.x for segment in oak.segments] == [0.0, 250.0, 250.0, BAR_WIDTH]
    assert elm.segments[0].width == BAR_WIDTH / 2
    assert (oak.total.pieces, rows([])) == (3, [])
