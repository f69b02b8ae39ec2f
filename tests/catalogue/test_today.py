"""Today: to each what waits for them, and nothing that is not theirs."""

from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal

import pytest
import time_machine
from django.db import connection
from django.test import Client as Browser
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from catalogue import promises
from catalogue.today import Today
from inventory import holds
from inventory.models import AirRecord, GoneHow, Person, Place, Slab
from tests.catalogue.wood import NOW, TODAY, make_checked
from tests.conftest import client_for
from tests.factories import make_bay, make_commission, make_person, make_place, make_slab

ADDRESS = "/"
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def page(browser: Browser) -> Today:
    response = browser.get(ADDRESS)
    assert response.status_code == 200
    today: Today = response.context["page"]
    return today


def text(browser: Browser) -> str:
    return browser.get(ADDRESS).content.decode().replace("\xa0", " ")


def air(place: Place, days_ago: int) -> AirRecord:
    return AirRecord.objects.create(
        place=place,
        at=NOW - timedelta(days=days_ago),
        temp_c=20,
        rh_pct=45,
        emc_pct=8.6,
        given_value=45,
    )


def test_slabs_due_a_check_are_counted_by_place_with_the_first_few(
    worker_client: Browser,
) -> None:
    shed, shop = make_place(name="Shed", position=1), make_place(name="Shop", position=2)
    bay = make_bay(shed)
    due = [make_slab(place=shed, bay=bay) for _ in range(6)]
    make_slab(place=shop)
    make_checked(7.0, place=shop)
    places = page(worker_client).due
    assert places is not None
    assert [(p.place, p.count, len(p.slabs)) for p in places] == [(shed, 6, 4), (shop, 1, 1)]
    assert set(places[0].slabs) <= set(due)
    assert reverse("inventory:check_round") in text(worker_client)


def test_a_slab_without_a_place_is_due_as_well(worker_client: Browser) -> None:
    make_slab()
    assert "No place written down" in text(worker_client)


def test_a_slab_that_is_gone_is_due_nothing(worker_client: Browser, owner: Person) -> None:
    holds.mark_gone(make_slab(), how=GoneHow.SOLD, by=owner, now=NOW)
    assert page(worker_client).due == ()
    assert page(worker_client).is_quiet


def test_places_with_wood_and_no_word_of_their_air_are_named(worker_client: Browser) -> None:
    fresh, stale, never, empty = (make_place(name=n) for n in ("A", "B", "C", "D"))
    for place in (fresh, stale, never):
        make_slab(place=place)
    air(fresh, 7)
    air(stale, 40)
    air(stale, 8)
    stale_air = page(worker_client).stale_air
    assert stale_air is not None
    assert [(item.place, item.words) for item in stale_air] == [
        (stale, "last written down on 2 April"),
        (never, "never written down"),
    ]
    assert empty not in {item.place for item in stale_air}


def test_the_owner_sees_what_became_ready_lately_and_is_free(
    owner_client: Browser, owner: Person
) -> None:
    fresh, old, held = (make_checked(7.0) for _ in range(3))
    Slab.objects.filter(pk__in=[fresh.pk, held.pk]).update(ready_since=TODAY - timedelta(days=14))
    Slab.objects.filter(pk=old.pk).update(ready_since=TODAY - timedelta(days=15))
    holds.allot(held, label="x", by=owner, now=NOW)
    ready = page(owner_client).newly_ready
    assert ready is not None
    assert ready.slabs == (fresh,)


def test_holds_that_lapse_within_a_week_are_listed_with_their_commission(
    owner_client: Browser, owner: Person
) -> None:
    commission, near, far, other = make_commission(), make_slab(), make_slab(), make_slab()
    promises.hold(commission, [near], until=TODAY + timedelta(days=7), by=owner, now=NOW)
    promises.hold(commission, [far], until=TODAY + timedelta(days=8), by=owner, now=NOW)
    holds.place_hold(other, label="Fair", until=TODAY, by=owner, now=NOW)
    lapsing = page(owner_client).lapsing
    assert lapsing is not None
    assert [(item.hold.slab, item.commission, item.words) for item in lapsing] == [
        (other, None, "today is its last day"),
        (near, commission, "until 17 April, 7 days more"),
    ]


def test_commissions_that_want_wood_or_start_soon_are_listed(
    owner_client: Browser, owner: Person
) -> None:
    bare = make_commission(title="Bench")
    soon = make_commission(title="Desk", start_on=TODAY + timedelta(days=30))
    later = make_commission(title="Table", start_on=TODAY + timedelta(days=31))
    for commission in (soon, later):
        promises.allot(commission, [make_slab()], by=owner, now=NOW)
    wanting = page(owner_client).wanting
    assert wanting is not None
    assert [(row.commission, row.has_wood) for row in wanting] == [(soon, True), (bare, False)]


def test_the_buyer_sees_what_lacks_a_price_or_cost_and_what_the_stock_is(
    buyer_client: Browser, owner: Person
) -> None:
    unpriced = make_slab(asking_price=None, cost=Decimal(100))
    uncosted = make_slab(asking_price=Decimal(400), cost=Decimal(0))
    gone = make_slab(asking_price=None, cost=Decimal(50))
    holds.mark_gone(gone, how=GoneHow.SOLD, by=owner, now=NOW)
    today = page(buyer_client)
    assert today.unpriced is not None
    assert today.unpriced.slabs == (unpriced,)
    assert today.uncosted is not None
    assert today.uncosted.slabs == (uncosted,)
    assert today.stock is not None
    assert today.stock.pieces == 2
    assert today.stock.cost == 100
    assert today.stock.asking == 400
    assert today.stock.volume_mm3 == pytest.approx(unpriced.volume_mm3 + uncosted.volume_mm3)


def test_the_buyer_sees_what_has_lain_for_over_two_years_longest_first(
    buyer_client: Browser,
) -> None:
    older, old, young = (make_slab() for _ in range(3))
    received = {older: 900, old: 731, young: 729}
    for slab, days in received.items():
        Slab.objects.filter(pk=slab.pk).update(received_at=NOW - timedelta(days=days))
    slow = page(buyer_client).slow
    assert slow is not None
    assert slow.slabs == (older, old)


def test_only_the_first_few_are_shown_and_the_rest_counted(owner_client: Browser) -> None:
    for _ in range(9):
        make_slab(asking_price=None)
    few = page(owner_client).unpriced
    assert few is not None
    assert (few.count, len(few.slabs), few.more) == (9, 6, 3)
    assert "and 3 more" in text(owner_client)


OWNS = {
    "Owner": {
        "due", "stale_air", "newly_ready", "lapsing", "wanting",
        "unpictured", "unpriced", "uncosted", "slow", "stock",
    },
    "Worker": {"due", "stale_air", "unpictured"},
    "Buyer": {"unpictured", "unpriced", "uncosted", "slow", "stock"},
    "": set(),
}  # fmt: skip


@pytest.mark.parametrize("role", list(OWNS))
def test_each_role_is_shown_only_its_own_part(role: str) -> None:
    today = page(client_for(make_person(role)))
    parts = set(OWNS["Owner"])
    assert {name for name in parts if getattr(today, name) is not None} == OWNS[role]


def test_a_worker_reads_no_money(worker_client: Browser) -> None:
    make_slab(cost=Decimal("123.45"), asking_price=Decimal("678.90"))
    assert "123.45" not in text(worker_client)
    assert "at a glance" not in text(worker_client)


@pytest.mark.parametrize("role", list(OWNS))
def test_an_empty_yard_is_met_kindly(role: str) -> None:
    assert "Nothing waits for you today." in text(client_for(make_person(role)))


def test_the_client_view_goes_to_the_slabs(owner_client: Browser) -> None:
    session = owner_client.session
    session["client_view"] = True
    session.save()
    response = owner_client.get(ADDRESS)
    assert (response.status_code, response["Location"]) == (302, reverse("catalogue:browse"))


def test_today_is_read_never_written_to(owner_client: Browser) -> None:
    assert owner_client.post(ADDRESS).status_code == 405


def test_today_asks_no_more_in_a_larger_yard(owner_client: Browser, owner: Person) -> None:
    def grow(times: int) -> None:
        for _ in range(times):
            place = make_place()
            make_slab(place=place, bay=make_bay(place), asking_price=None)
            make_checked(7.0, place=place)
            commission = make_commission(start_on=TODAY)
            promises.hold(commission, [make_slab()], until=TODAY, by=owner, now=NOW)

    def count() -> int:
        with CaptureQueriesContext(connection) as queries:
            page(owner_client)
        return len(queries)

    grow(7)
    page(owner_client)
    few = count()
    grow(12)
    assert count() == few
