"""What a browser keeps of the yard, and how whoever looks next is kept from it."""

import pytest
from django.test import Client
from django.urls import reverse

from inventory.models import Person, Photo, Standing
from inventory.viewer import SEEN_BY
from tests.conftest import client_for
from tests.factories import make_slab
from tests.test_doors import Yard, yard

__all__ = ["yard"]
BROWSE = "/slabs/"


def stamp_on(client: Client, address: str = BROWSE) -> str:
    page = client.get(address).content.decode()
    return page.partition('data-seen-by="')[2].partition('"')[0]


def turn(client: Client, on: str) -> None:
    client.post(reverse("catalogue:client_view"), {"on": on, "next": BROWSE})


def test_pages_of_those_who_see_costs_are_kept_nowhere(
    owner_client: Client, buyer_client: Client, worker_client: Client
) -> None:
    for client in (owner_client, buyer_client):
        assert "no-store" in client.get(BROWSE)["Cache-Control"]
        assert "no-store" in client.get(reverse("inventory:worth"))["Cache-Control"]
    workbook = buyer_client.get(reverse("inventory:worth_workbook"))
    workbook.getvalue()
    assert "no-store" in workbook["Cache-Control"]
    # A worker's page holds no cost: what was typed there may come back with the Back button.
    assert worker_client.get(BROWSE)["Cache-Control"] == "private, no-cache"


def test_a_page_bears_the_stamp_of_who_looks(owner_client: Client) -> None:
    stamp = stamp_on(owner_client)
    assert stamp
    assert owner_client.cookies[SEEN_BY].value == stamp
    assert stamp_on(owner_client, "/") == stamp
    assert not owner_client.cookies[SEEN_BY]["httponly"], "the page's script must read it"


def test_the_client_view_has_a_stamp_of_its_own(owner_client: Client) -> None:
    house = stamp_on(owner_client)
    turn(owner_client, "yes")
    assert owner_client.cookies[SEEN_BY].value != house, "at once, with the answer to the switch"
    assert stamp_on(owner_client) == owner_client.cookies[SEEN_BY].value
    turn(owner_client, "no")
    assert owner_client.cookies[SEEN_BY].value == stamp_on(owner_client) == house


def test_signing_out_takes_the_stamp_and_what_the_browser_keeps(owner_client: Client) -> None:
    stamp_on(owner_client)
    answer = owner_client.post(reverse("sign_out"))
    assert answer["Clear-Site-Data"] == '"cache"'
    assert answer.cookies[SEEN_BY].value == ""
    assert stamp_on(owner_client, "/sign-in/") == ""


def test_every_signing_in_has_another_stamp(owner: Person) -> None:
    assert stamp_on(client_for(owner)) != stamp_on(client_for(owner))


def test_pictures_are_asked_for_again_by_whoever_looks_next(
    owner_client: Client, yard: Yard
) -> None:
    """Kept for a year, but by cookie: after signing out, what is kept answers to no request."""
    etag = {"If-None-Match": f'"{yard.photo.sha256[:32]}-grid"'}
    unchanged = owner_client.get(f"/photos/{yard.photo.pk}/grid/", headers=etag)
    assert unchanged.status_code == 304
    assert "Cookie" in unchanged["Vary"]
    assert "private" in unchanged["Cache-Control"]


@pytest.mark.parametrize("page", ["photo", "label", "movement"])
def test_a_client_sees_nothing_of_wood_that_is_gone(owner_client: Client, page: str) -> None:
    slab = make_slab()
    photo = Photo.objects.create(
        slab=slab, master="m.jpg", grid="g.webp", page="p.webp", zoom="z.webp",
        width_px=10, height_px=10, sha256="0" * 64,
    )  # fmt: skip
    etag = {"If-None-Match": f'"{"0" * 32}-grid"'}
    address = f"/photos/{photo.pk}/grid/" if page == "photo" else f"/slabs/{slab.code}/{page}/"
    turn(owner_client, "yes")
    assert owner_client.get(address, headers=etag).status_code in (200, 304)
    type(slab).objects.filter(pk=slab.pk).update(standing=Standing.GONE, gone_how="sold")
    assert owner_client.get(address, headers=etag).status_code == 404
    turn(owner_client, "no")
    assert owner_client.get(address, headers=etag).status_code in (200, 304)


def test_a_client_changes_nothing_of_the_person_whose_tablet_it_is(owner_client: Client) -> None:
    turn(owner_client, "yes")
    for name in ("catalogue:me", "catalogue:password"):
        assert owner_client.get(reverse(name)).status_code == 403
        assert owner_client.post(reverse(name), {"first_name": "Nobody"}).status_code == 403
    assert not Person.objects.filter(first_name="Nobody").exists()
