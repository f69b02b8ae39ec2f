"""The client view: one switch, and nothing of the house gets past it, on any page."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver

from catalogue.models import Client as ShopClient
from inventory import holds
from inventory.models import Person, Slab, Standing
from tests.catalogue.test_browse import listed, with_state
from tests.conftest import client_for
from tests.factories import (
    at,
    make_bay,
    make_client,
    make_commission,
    make_log,
    make_parcel,
    make_person,
    make_place,
    make_slab,
)

SECRETS = (
    "7431.19",
    "7,431.19",
    "Supplier-Secret",
    "Parcel-Secret",
    "House-note-secret",
    "Hold-label-secret",
    "Client-name-secret",
    "Commission-secret",
)


@dataclass
class House:
    slabs: list[Slab]
    pks: set[int]


def turn(client: Client, on: bool, came_from: str = "/slabs/") -> Any:
    return client.post("/client-view/", {"on": "yes" if on else "no", "next": came_from})


@pytest.fixture
def house(owner: Person) -> Iterator[House]:
    """A yard whose every secret is a word to look for; one slab held, one allotted, one gone."""
    with time_machine.travel(at(2026, 5, 4), tick=False):
        parcel = make_parcel(name="Parcel-Secret", supplier="Supplier-Secret")
        log = make_log(parcel=parcel)
        bay = make_bay(make_place(name="Place-secret"))
        commission = make_commission(
            title="Commission-secret", client=make_client(name="Client-name-secret")
        )
        common: dict[str, Any] = {
            "log": log,
            "parcel": parcel,
            "place": bay.place,
            "bay": bay,
            "house_note": "House-note-secret",
        }
        slabs = [make_slab(**common, number_in_log=number) for number in (1, 2, 3, 4)]
        held, allotted, gone, _ = slabs
        label, now = "Hold-label-secret", at(2026, 5, 4)
        holds.place_hold(held, label=label, until=date(2026, 6, 1), by=owner, now=now)
        holds.allot(allotted, label=commission.promised_to, by=owner, now=now)
        with_state(gone, standing=Standing.GONE, gone_how="sold")
        for slab in slabs:
            with_state(slab, cost=Decimal("7431.19"))
        pks = {commission.pk, commission.client_id, parcel.pk, log.pk, bay.place_id}
        yield House(slabs, pks)


def addresses(house: House) -> Iterator[str]:
    """Every address of both apps, with every code and key the yard holds put in."""
    for route in routes(get_resolver().url_patterns):
        if route.startswith("admin"):
            continue
        yield from filled(route, house)


def routes(patterns: list[Any], before: str = "") -> Iterator[str]:
    for pattern in patterns:
        route = before + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            yield from routes(pattern.url_patterns, route)
        elif isinstance(pattern, URLPattern):
            yield route


def filled(route: str, house: House) -> Iterator[str]:
    if "<slab:code>" in route or "<str:code>" in route:
        for slab in house.slabs:
            coded = route.replace("<slab:code>", slab.code).replace("<str:code>", slab.code)
            yield from filled(coded, house)
    elif "<int:" in route:
        start, _, rest = route.partition("<int:")
        for pk in sorted(house.pks):
            yield from filled(f"{start}{pk}{rest.partition('>')[2]}", house)
    else:
        yield "/" + route.replace("<str:size>", "grid")


def content(client: Client, address: str) -> str:
    page = client.get(address)
    assert page.status_code in (200, 302, 403, 404, 405, 422), address
    body = b"".join(page.streaming_content) if page.streaming else page.content  # type: ignore[attr-defined]
    return str(body.decode(errors="replace"))


def test_no_page_lets_a_secret_past_the_client_view(owner_client: Client, house: House) -> None:
    in_the_open = "".join(content(owner_client, address) for address in addresses(house))
    for secret in ("7,431.19", "Supplier-Secret", "House-note-secret", "Hold-label-secret"):
        assert secret in in_the_open, "the walk must be able to find what it looks for"
    turn(owner_client, True)
    walked = 0
    for address in addresses(house):
        text = content(owner_client, address)
        for secret in SECRETS:
            assert secret not in text, f"{secret} on {address}"
        walked += 1
    assert walked > 30


@pytest.mark.parametrize("role", ["Worker", ""])
def test_no_page_tells_a_cost_to_those_who_see_none(house: House, role: str) -> None:
    """By hand too: worth, parcels, the workbook, costs in the ledger, looking for a supplier."""
    client = client_for(make_person(role))
    for address in addresses(house):
        text = content(client, address)
        for secret in ("7431.19", "7,431.19", "Supplier-Secret", "Parcel-Secret"):
            assert secret not in text, f"{secret} on {address}"
    for words in ("Supplier-Secret", "Parcel-Secret"):
        assert listed(client, f"?q={words}") == set()
    for address in ("?priced=no", "?age=0", "?age=3&priced=yes"):
        assert len(listed(client, address)) == 3, address


@pytest.mark.parametrize(
    "words", ["House-note-secret", "Supplier-Secret", "Parcel-Secret", "Place-secret"]
)
def test_searching_does_not_tell_what_is_hidden(
    owner_client: Client, house: House, words: str
) -> None:
    assert len(listed(owner_client, f"?q={words}")) == 3
    turn(owner_client, True)
    assert listed(owner_client, f"?q={words}") == set()


def test_questions_only_the_house_may_ask_do_nothing(owner_client: Client, house: House) -> None:
    turn(owner_client, True)
    held, allotted, _, free = house.slabs
    everything = {held.code, allotted.code, free.code}
    place = free.place_id
    for address in ("?place=none", f"?place={place}", "?standing=gone", "?standing=held"):
        assert listed(owner_client, address) == everything, address
    assert listed(owner_client, "?standing=kept") == {held.code, allotted.code}
    page = owner_client.get("/slabs/").content.decode()
    assert 'name="place"' not in page
    assert 'value="gone"' not in page


def test_kept_wood_says_so_without_a_name_and_in_one_way(
    owner_client: Client, house: House
) -> None:
    turn(owner_client, True)
    for slab in house.slabs[:2]:
        page = owner_client.get(slab.get_absolute_url()).content.decode()
        assert "Kept for somebody" in page
        assert "state-standing-allotted" not in page
        assert "Allotted" not in page


def test_gone_wood_is_out_of_sight_everywhere(owner_client: Client, house: House) -> None:
    held, _, gone, free = house.slabs
    turn(owner_client, True)
    assert gone.code not in listed(owner_client)
    assert owner_client.get(gone.get_absolute_url()).status_code == 404
    assert owner_client.get("/slabs/", {"q": gone.code}).status_code == 200
    neighbours = owner_client.get(free.get_absolute_url()).context["sheet"].neighbours
    assert gone.code not in {card.slab.code for card in neighbours}
    compared = owner_client.get(f"/compare/?slab={gone.code}&slab={free.code}&slab={held.code}")
    assert "No slab here bears the code" in compared.content.decode()


def test_the_asking_price_stays_in_sight(owner_client: Client, house: House) -> None:
    turn(owner_client, True)
    assert "$900.00" in owner_client.get("/slabs/").content.decode()
    assert len(listed(owner_client, "?price_to=900")) == 3


def test_doors_of_the_house_are_shut_with_a_sentence(owner_client: Client, house: House) -> None:
    slab = house.slabs[3]
    measure = f"/slabs/{slab.code}/measure/"
    assert owner_client.get(measure).status_code == 200
    turn(owner_client, True)
    shut = owner_client.get(measure)
    assert shut.status_code == 403
    assert "The client view is on: turn it off" in shut.content.decode()
    assert owner_client.get(slab.get_absolute_url()).context["sheet"].actions == []


def test_the_switch_is_remembered_and_plainly_shown(owner_client: Client, house: House) -> None:
    assert "client-view-note" not in owner_client.get("/slabs/").content.decode()
    turn(owner_client, True)
    for _ in range(2):
        page = owner_client.get("/slabs/").content.decode()
        assert "Client view: costs, suppliers and house notes are out of sight." in page
        assert "Leave the client view" in page
    turn(owner_client, False)
    assert "client-view-note" not in owner_client.get("/slabs/").content.decode()


@pytest.mark.parametrize(
    ("on", "came_from", "leads_to"),
    [
        (True, "/slabs/?sawn=flat", "/slabs/?sawn=flat"),
        (True, "/compare/?slab=22223", "/compare/?slab=22223"),
        (True, "/parcels/", "/slabs/"),
        (True, "/", "/slabs/"),
        (False, "/slabs/?sawn=flat", "/slabs/?sawn=flat"),
        (False, "https://elsewhere.example/", "/slabs/"),
        (True, "//elsewhere.example/slabs/", "/slabs/"),
        (True, "", "/slabs/"),
        (True, "/no/such/page/", "/slabs/"),
    ],
)
def test_the_switch_leads_back_where_one_may_be(
    owner_client: Client, on: bool, came_from: str, leads_to: str
) -> None:
    answer = turn(owner_client, on, came_from)
    assert answer.status_code == 302
    assert answer.headers["Location"] == leads_to


def test_the_switch_is_only_turned_on_purpose(client: Client, owner_client: Client) -> None:
    assert owner_client.get("/client-view/").status_code == 405
    assert client.post("/client-view/", {"on": "yes"}).status_code == 302
    assert "sign-in" in client.post("/client-view/", {"on": "yes"}).headers["Location"]


def test_a_worker_may_show_a_client_round_too(worker_client: Client, house: House) -> None:
    turn(worker_client, True)
    page = worker_client.get(house.slabs[0].get_absolute_url()).content.decode()
    assert "House-note-secret" not in page
    assert ShopClient.objects.get().name not in page
