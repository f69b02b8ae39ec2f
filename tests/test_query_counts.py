"""Every list page asks the database as often for a thousand rows as for ten."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from catalogue.models import Client as Customer
from catalogue.models import Commission
from inventory import parcels
from inventory.models import (
    AirRecord,
    Alert,
    Charge,
    Hold,
    LedgerEntry,
    Log,
    Meter,
    MoistureCheck,
    Parcel,
    Person,
    SampleBoard,
    Slab,
    Species,
)
from tests.factories import (
    copy_slab,
    make_bay,
    make_client,
    make_log,
    make_parcel,
    make_place,
    make_slab,
    make_species,
)

pytestmark = pytest.mark.django_db

PAGES = (
    "catalogue:today",
    "catalogue:browse",
    "catalogue:commissions",
    "catalogue:clients",
    "catalogue:people",
    "inventory:check_round",
    "inventory:places",
    "inventory:charges",
    "inventory:meters",
    "inventory:species",
    "inventory:boards",
    "inventory:warnings",
    "inventory:parcels",
    "inventory:worth",
    "inventory:ready_when",
)
PAGES_OF_ONE = (
    "inventory:place",
    "inventory:air_list",
    "inventory:parcel",
    "inventory:log",
    "catalogue:boule",
)


class Rows:
    """A yard that grows: `to(n)` makes every kind of row stand at n."""

    def __init__(self) -> None:
        self.place = make_place()
        self.bay = make_bay(self.place)
        self.parcel = make_parcel()
        self.species = make_species()
        self.log = make_log(parcel=self.parcel, species=self.species)
        self.customer = make_client()
        self.slab = make_slab(
            species=self.species, log=self.log, parcel=self.parcel, place=self.place, bay=self.bay
        )
        self.count = 1

    def to(self, count: int) -> None:
        new = range(self.count, count)
        copy_slab(self.slab, len(new))
        parcels.refresh_parcel(self.parcel)
        for make in (self._record, self._people, self._history):
            make(new)
        self.count = count

    def _record(self, new: range) -> None:
        today = timezone.localdate()
        Parcel.objects.bulk_create(Parcel(name=f"P{n}", supplier="S", bought_on=today) for n in new)
        Log.objects.bulk_create(
            Log(number=f"N{n}", species=self.species, parcel=self.parcel) for n in new
        )
        Species.objects.bulk_create(Species(common_name=f"Own {n}") for n in new)
        Meter.objects.bulk_create(Meter(name=f"Meter of row {n}") for n in new)
        SampleBoard.objects.bulk_create(SampleBoard(name=f"B{n}", slab=self.slab) for n in new)
        Charge.objects.bulk_create(
            Charge(name=f"C{n}", place=self.place, started_on=today, ended_on=today) for n in new
        )

    def _people(self, new: range) -> None:
        Person.objects.bulk_create(Person(username=f"row{n}") for n in new)
        Customer.objects.bulk_create(Customer(name=f"K{n}") for n in new)
        Commission.objects.bulk_create(
            Commission(
                title=f"T{n}",
                client=self.customer,
                top_shape="round",
                top_length_mm=900,
                top_width_mm=900,
                finished_thickness_mm=30,
                how_made="one_slab",
            )
            for n in new
        )

    def _history(self, new: range) -> None:
        now = timezone.now()
        slabs = list(Slab.objects.order_by("-pk")[: len(new)])
        AirRecord.objects.bulk_create(
            AirRecord(
                place=self.place,
                at=now - timedelta(hours=n),
                temp_c=20,
                rh_pct=45,
                emc_pct=8.6,
                given_value=45,
            )
            for n in new
        )
        LedgerEntry.objects.bulk_create(
            LedgerEntry(slab=self.slab, kind="moved", at=now) for _ in new
        )
        MoistureCheck.objects.bulk_create(
            MoistureCheck(slab=slab, on=now.date(), at=now, mean_pct=9.0) for slab in slabs
        )
        Hold.objects.bulk_create(
            Hold(slab=slab, label="Somebody", until=now.date(), made_at=now) for slab in slabs
        )
        Alert.objects.bulk_create(
            Alert(slab=slab, kind="stalled", sentence="It stands.", stands_on="s", raised_on=now)
            for slab in slabs
        )


def queries(client: Client, address: str) -> int:
    client.get(address)  # what is kept between requests is kept before counting
    with CaptureQueriesContext(connection) as asked:
        answer = client.get(address)
    assert answer.status_code == 200, address
    return len(asked)


def addresses(rows: Rows) -> list[str]:
    one = {
        "inventory:parcel": rows.parcel.pk,
        "inventory:log": rows.log.pk,
        "catalogue:boule": rows.log.pk,
    }
    return [
        *(reverse(name) for name in PAGES),
        *(reverse(name, args=[one.get(name, rows.place.pk)]) for name in PAGES_OF_ONE),
        reverse("inventory:slab_ledger", args=[rows.slab.code]),
        f"{reverse('catalogue:browse')}?view=outlines",
    ]


def test_a_list_page_asks_as_often_for_a_thousand_rows_as_for_ten(owner_client: Client) -> None:
    rows = Rows()
    owner_client.get(reverse("catalogue:browse"))  # the day's look is over before rows come
    rows.to(10)
    few = {address: queries(owner_client, address) for address in addresses(rows)}
    rows.to(1_000)
    many = {address: queries(owner_client, address) for address in addresses(rows)}
    assert many == few
