"""Every address × every role × signed-out × client view: who may open which door.

The table is written by hand; a test fails when an address is missing from it.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from catalogue.models import Commission, LaidTop
from inventory import boards
from inventory.models import (
    AirImport,
    AirRecord,
    Alert,
    BoardSections,
    Charge,
    CoreLog,
    ImportState,
    Log,
    Meter,
    MoistureCheck,
    Outline,
    Parcel,
    ParcelCost,
    Person,
    Photo,
    Place,
    SampleBoard,
    SensorToken,
    Slab,
    Species,
    Weighing,
)
from inventory.viewer import CLIENT_VIEW
from inventory.weighing import WeighingEntry, record_weighing
from tests.conftest import client_for
from tests.factories import (
    make_commission,
    make_log,
    make_meter,
    make_parcel,
    make_person,
    make_place,
    make_slab,
    make_species,
)

ALL = "owner worker buyer nobody client_view"
STAFF = "owner worker buyer nobody"
OWNER = "owner"
RECORD = "owner worker buyer"
YARD = "owner worker"
MONEY = "owner buyer"

Args = Callable[["Yard"], list[object]]


@dataclass
class Yard:
    """One of each thing an address may name."""

    slab: Slab
    log: Log
    parcel: Parcel
    cost: ParcelCost
    place: Place
    air: AirRecord
    air_import: AirImport
    sensor: SensorToken
    alert: Alert
    meter: Meter
    species: Species
    check: MoistureCheck
    weighing: Weighing
    board: SampleBoard
    sections: BoardSections
    board_weighing: Weighing
    photo: Photo
    outline: Outline
    commission: Commission
    person: Person


def none(yard: Yard) -> list[object]:
    return []


def slab(yard: Yard) -> list[object]:
    return [yard.slab.code]


def of(name: str) -> Args:
    return lambda yard: [getattr(yard, name).pk]


def slab_photo(yard: Yard) -> list[object]:
    return [yard.slab.code, yard.photo.pk]


def slab_side(yard: Yard) -> list[object]:
    return [yard.slab.code, yard.outline.side]


def a_layout(yard: Yard) -> list[object]:
    now = timezone.now()
    laid = LaidTop.objects.create(commission=yard.commission, how_made="one_slab", at=now)
    return [yard.commission.pk, laid.pk]


def a_charge(yard: Yard) -> Charge:
    began = {"place": yard.place, "started_on": timezone.localdate()}
    return Charge.objects.get_or_create(name="Kiln 1", defaults=began)[0]


def charge(yard: Yard) -> list[object]:
    return [a_charge(yard).pk]


def core_log(yard: Yard) -> list[object]:
    return [CoreLog.objects.create(charge=a_charge(yard), at=timezone.now()).pk]


@dataclass(frozen=True)
class Door:
    name: str
    args: Args
    opens_to: str
    method: str = "get"


DOORS = (
    # Looking
    Door("catalogue:today", none, ALL),
    Door("catalogue:browse", none, ALL),
    Door("catalogue:slab", slab, ALL),
    Door("catalogue:compare", none, ALL),
    Door("catalogue:boule", of("log"), ALL),
    Door("catalogue:client_view", none, ALL, "post"),
    Door("catalogue:me", none, STAFF),
    Door("catalogue:password", none, STAFF),
    # Commissions and people: the owner
    *(
        Door(f"catalogue:{name}", none, OWNER)
        for name in (
            "commissions",
            "commission_new",
            "clients",
            "client_new",
            "people",
            "person_new",
        )
    ),
    Door("catalogue:commission", of("commission"), OWNER),
    Door("catalogue:commission_edit", of("commission"), OWNER),
    Door("catalogue:commission_movement", of("commission"), OWNER),
    Door("catalogue:lay", of("commission"), OWNER),
    Door("catalogue:layout_take_back", a_layout, OWNER, "post"),
    Door("catalogue:layout_put_back", a_layout, OWNER, "post"),
    *(
        Door(f"catalogue:commission_{act}", of("commission"), OWNER, "post")
        for act in ("hold", "allot", "release")
    ),
    Door("catalogue:client", lambda yard: [yard.commission.client.pk], OWNER),
    Door("catalogue:client_edit", lambda yard: [yard.commission.client.pk], OWNER),
    Door("catalogue:person_edit", of("person"), OWNER),
    # The record of a slab
    Door("inventory:slab_new", none, RECORD),
    Door("inventory:slab_measure", slab, RECORD),
    Door("inventory:slab_photos", slab, RECORD),
    Door("inventory:photo_order", slab, RECORD, "post"),
    Door("inventory:photo_role", slab_photo, RECORD, "post"),
    Door("inventory:photo_remove", slab_photo, RECORD, "post"),
    Door("inventory:outline_start", slab, RECORD),
    Door("inventory:outline_trace", slab, RECORD),
    Door("inventory:outline_straight", slab, RECORD),
    Door("inventory:outline_figures", slab, RECORD, "post"),
    Door("inventory:outline_save", slab, RECORD, "post"),
    Door("inventory:outline_correct", slab_side, RECORD),
    Door("inventory:outline_withdraw", slab_side, RECORD),
    Door("inventory:scale_sheets", none, RECORD),
    Door("inventory:scale_sheets_print", lambda yard: ["a4"], RECORD),
    Door("inventory:scale_sheets_pdf", lambda yard: ["letter"], RECORD),
    Door("inventory:slab_price", slab, MONEY),
    Door("inventory:slab_gone", slab, MONEY),
    Door("inventory:slab_back", slab, MONEY, "post"),
    Door("inventory:slab_ledger", slab, STAFF),
    Door("inventory:slab_movement", slab, ALL),
    Door("inventory:slab_label", slab, ALL),
    Door("inventory:photo_file", lambda yard: [yard.photo.pk, "grid"], ALL),
    Door("inventory:photo_file", lambda yard: [yard.photo.pk, "master"], RECORD),
    Door("inventory:outline_picture", lambda yard: [yard.outline.pk, "page"], ALL),
    # Moisture
    Door("inventory:check_round", none, YARD),
    Door("inventory:check_new", slab, YARD),
    Door("inventory:check_page", of("check"), STAFF),
    Door("inventory:check_correct", of("check"), YARD),
    Door("inventory:weigh_new", slab, YARD),
    Door("inventory:weigh_correct", of("weighing"), YARD),
    Door("inventory:boards", none, STAFF),
    Door("inventory:board", of("board"), STAFF),
    Door("inventory:board_new", none, YARD),
    *(Door(f"inventory:board_{act}", of("board"), YARD) for act in ("edit", "sections", "weigh")),
    Door("inventory:sections_correct", of("sections"), YARD),
    Door("inventory:board_weigh_correct", of("board_weighing"), YARD),
    # Warnings: of a slab, for those who check slabs
    Door("inventory:warnings", none, STAFF),
    Door("inventory:warning_set_aside", of("alert"), YARD, "post"),
    Door("inventory:warning_take_up", of("alert"), YARD, "post"),
    # Places
    Door("inventory:places", none, STAFF),
    Door("inventory:place", of("place"), STAFF),
    Door("inventory:place_new", none, OWNER),
    Door("inventory:place_edit", of("place"), OWNER),
    Door("inventory:place_move_here", of("place"), YARD),
    Door("inventory:air_list", of("place"), STAFF),
    Door("inventory:air_add", of("place"), YARD),
    Door("inventory:air_paste", of("place"), YARD),
    Door("inventory:air_correct", of("air"), YARD),
    Door("inventory:air_file", of("place"), YARD),
    Door("inventory:air_import", of("air_import"), YARD),
    Door("inventory:air_import_start", of("air_import"), YARD, "post"),
    Door("inventory:air_import_drop", of("air_import"), YARD, "post"),
    Door("inventory:air_import_bad", of("air_import"), YARD),
    Door("inventory:sensors", of("place"), OWNER),
    Door("inventory:sensor_revoke", of("sensor"), OWNER, "post"),
    Door("inventory:slab_move", slab, YARD),
    Door("inventory:meters", none, STAFF),
    Door("inventory:meter_new", none, OWNER),
    Door("inventory:meter", of("meter"), STAFF),
    Door("inventory:meter_edit", of("meter"), OWNER),
    Door("inventory:meter_test", of("meter"), YARD),
    Door("inventory:meter_table", of("meter"), OWNER),
    Door("inventory:meter_table_drop", of("meter"), OWNER, "post"),
    Door("inventory:species", none, STAFF),
    Door("inventory:species_new", none, OWNER),
    Door("inventory:species_edit", of("species"), OWNER),
    # When slabs will be dry
    Door("inventory:ready_when", none, STAFF),
    Door("inventory:reforecast", none, YARD, "post"),
    Door("inventory:slab_when", slab, STAFF),
    # Charges
    Door("inventory:charges", none, STAFF),
    Door("inventory:charge", charge, STAFF),
    Door("inventory:charge_new", none, YARD),
    Door("inventory:charge_add", charge, YARD),
    Door("inventory:charge_end", charge, YARD),
    Door("inventory:core_paste", charge, YARD),
    Door("inventory:core_set_aside", core_log, YARD, "post"),
    # Money
    *(Door(f"inventory:{name}", none, MONEY) for name in ("parcels", "parcel_new", "worth")),
    Door("inventory:worth_workbook", none, MONEY),
    Door("inventory:parcel", of("parcel"), MONEY),
    Door("inventory:parcel_edit", of("parcel"), MONEY),
    Door("inventory:parcel_basis", of("parcel"), MONEY, "post"),
    Door("inventory:cost_add", of("parcel"), MONEY),
    Door("inventory:cost_correct", of("cost"), MONEY),
    Door("inventory:log_new", of("parcel"), MONEY),
    Door("inventory:log", of("log"), MONEY),
    Door("inventory:log_edit", of("log"), MONEY),
    Door("inventory:log_receive", of("log"), MONEY),
)

SIGNING = {"sign_in", "sign_out"}
# Opened by a sensor's token, never by a person: see tests/inventory/test_sensors.py.
BY_TOKEN = {"inventory:air_api"}
WHO = ("owner", "worker", "buyer", "nobody", "client_view")


def every_name(resolver: URLResolver, prefix: str = "") -> Iterator[str]:
    for pattern in resolver.url_patterns:
        if isinstance(pattern, URLPattern):
            yield f"{prefix}{pattern.name}"
        elif pattern.app_name != "admin":
            inner = f"{pattern.namespace}:" if pattern.namespace else prefix
            yield from every_name(pattern, inner)


def test_every_address_is_in_the_table() -> None:
    known = {door.name for door in DOORS} | SIGNING | BY_TOKEN
    assert set(every_name(get_resolver())) == known


def on_the_scale(slab: Slab, by: Person) -> dict[str, Any]:
    """A weighing of the slab, and a sample board with its sections and a weighing."""
    on = timezone.localdate()
    earlier = WeighingEntry(59, "earlier", earlier_kg=63, earlier_mc_pct=15)
    board = SampleBoard.objects.create(name="A", slab=slab)
    return {
        "weighing": record_weighing(slab, earlier, by=by, on=on).weighing,
        "board": board,
        "sections": boards.record_sections(
            board, by=by, on=on, board_mass_kg=2.85, sections=[(0.171, 0.1)]
        ),
        "board_weighing": boards.weigh_board(board, by=by, on=on, mass_kg=2.15),
    }


def from_loggers(place: Place, by: Person) -> dict[str, Any]:
    """A sensor of the place, and a logger's file waiting to be read in."""
    return {
        "sensor": SensorToken.objects.create(place=place, name="Rack", made_by=by),
        "air_import": AirImport.objects.create(
            place=place, by=by, uploaded_name="air.csv", state=ImportState.DONE
        ),
    }


@pytest.fixture
def yard(db: None) -> Yard:
    by = make_person("Owner")
    place, parcel, species = make_place(), make_parcel(), make_species()
    log = make_log(parcel=parcel, species=species)
    piece = make_slab(log=log, parcel=parcel, number_in_log=1, place=place)
    photo = Photo.objects.create(
        slab=piece, master="m.jpg", grid="g.webp", page="p.webp", zoom="z.webp",
        width_px=10, height_px=10, sha256="0" * 64,
    )  # fmt: skip
    traced = Photo.objects.create(
        slab=piece, master="n.jpg", grid="h.webp", page="q.webp", zoom="y.webp",
        width_px=10, height_px=10, sha256="1" * 64,
    )  # fmt: skip
    outline = Outline.objects.create(
        slab=piece, photo=traced, ring=[[0, -200], [900, -200], [900, 200], [0, 200]],
        to_slab=[[1, 0, 0], [0, -1, 0]], at=timezone.now(),
    )  # fmt: skip
    air = AirRecord.objects.create(
        place=place, at=timezone.now(), temp_c=20, rh_pct=45, emc_pct=8.6, given_value=45
    )
    cost = ParcelCost.objects.create(
        parcel=parcel, kind="timber", amount=100, on=parcel.bought_on, by=by
    )
    now = timezone.now()
    check = MoistureCheck.objects.create(slab=piece, on=now.date(), at=now, by=by)
    alert = Alert.objects.create(
        slab=piece, kind="stalled", sentence="It stands.", stands_on="stage", raised_on=now.date()
    )
    return Yard(
        slab=piece, log=log, parcel=parcel, cost=cost, place=place, air=air, alert=alert,
        meter=make_meter(), species=species, check=check, photo=photo,
        outline=outline, commission=make_commission(), person=by,
        **on_the_scale(piece, by), **from_loggers(place, by),
    )  # fmt: skip


def visitor(who: str) -> Client:
    roles = {"owner": "Owner", "worker": "Worker", "buyer": "Buyer", "client_view": "Owner"}
    client = client_for(make_person(roles.get(who, "")))
    if who == "client_view":
        session = client.session
        session[CLIENT_VIEW] = True
        session.save()
    return client


@pytest.mark.parametrize("who", WHO)
def test_doors_open_to_those_in_the_table_and_to_nobody_else(yard: Yard, who: str) -> None:
    client = visitor(who)
    stays = {"on": "yes"} if who == "client_view" else {}
    wrong = []
    for door in DOORS:
        address = reverse(door.name, args=door.args(yard))
        # The switch must stay where this visitor has it, or every later door sees another viewer.
        answer = getattr(client, door.method)(address, stays)
        if answer.streaming:
            answer.getvalue()
        status = answer.status_code
        if (status != 403) != (who in door.opens_to.split()):
            wrong.append((door.name, status))
        assert status < 500, door.name
    assert not wrong


def test_signed_out_every_door_leads_to_signing_in(yard: Yard, client: Client) -> None:
    for door in DOORS:
        answer = getattr(client, door.method)(reverse(door.name, args=door.args(yard)))
        assert answer.status_code == 302, door.name
        assert answer["Location"].startswith(reverse(settings.LOGIN_URL)), door.name


@pytest.mark.parametrize("who", WHO)
def test_doors_that_only_take_refuse_to_show(yard: Yard, who: str) -> None:
    client = visitor(who)
    for door in DOORS:
        if door.method == "post":
            answer = client.get(reverse(door.name, args=door.args(yard)))
            assert answer.status_code in (403, 405), door.name


def test_pages_carry_the_security_headers(owner_client: Client) -> None:
    page = owner_client.get(reverse("catalogue:browse"))
    policy = page["Content-Security-Policy"]
    assert "script-src 'self'" in policy
    assert "unsafe" not in policy
    assert page["X-Frame-Options"] == "DENY"
    assert page["Referrer-Policy"] == "same-origin"
    assert page["X-Content-Type-Options"] == "nosniff"
