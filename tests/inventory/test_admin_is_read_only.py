"""In the admin nobody, superusers included, adds, changes or deletes what happened."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.contrib import admin
from django.db import models
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory import (
    boards,
    charges,
    checks,
    holds,
    ledger,
    meter_tables,
    meter_tests,
    parcels,
    sensors,
)
from inventory.models import (
    AirImport,
    AirRecord,
    BoardSections,
    Charge,
    ChargeSlab,
    CoreLog,
    CoreTemperature,
    CostKind,
    DryingStage,
    Hold,
    LedgerEntry,
    LedgerKind,
    MeterCorrection,
    MeterTable,
    MeterTest,
    MoistureCheck,
    ParcelCost,
    Person,
    Photo,
    Place,
    Reading,
    SampleBoard,
    SensorToken,
    Slab,
    Species,
    StageKind,
    Weighing,
)
from tests.conftest import client_for
from tests.factories import (
    make_log,
    make_meter,
    make_parcel,
    make_person,
    make_place,
    make_slab,
    make_species,
)

pytestmark = pytest.mark.django_db

MEASURING: list[type[models.Model]] = [
    MeterTest,
    MeterTable,
    MeterCorrection,
    Weighing,
    SampleBoard,
    BoardSections,
]
HISTORY: list[type[models.Model]] = [
    LedgerEntry,
    MoistureCheck,
    Reading,
    ParcelCost,
    AirRecord,
    AirImport,
    SensorToken,
    Hold,
    DryingStage,
    Charge,
    ChargeSlab,
    CoreLog,
    CoreTemperature,
    *MEASURING,
    Slab,
    Photo,
]


@pytest.fixture
def superuser(db: None) -> Person:
    return Person.objects.create_superuser("keeper", password="wane-and-bark-9")


@pytest.fixture
def keeper(superuser: Person) -> Client:
    return client_for(superuser)


def address(model: type[models.Model], page: str, *args: Any) -> str:
    return reverse(f"admin:inventory_{model._meta.model_name}_{page}", args=args)


def a_row(model: type[models.Model], by: Person) -> models.Model:
    """One row of the model, written as the application writes it."""
    slab, now, today = make_slab(), timezone.now(), timezone.localdate()
    ledger.write(slab, LedgerKind.RECEIVED, by=by, after="A slab")
    check = checks.record_check(
        slab,
        by=by,
        on=today,
        meter=make_meter(),
        wood_temp_c=20.0,
        readings=[checks.ReadingEntry(9.0)],
    )
    rows: dict[type[models.Model], models.Model] = {
        LedgerEntry: slab.ledger.all()[0],
        MoistureCheck: check,
        Reading: check.readings.all()[0],
        Slab: slab,
    }
    if model is ParcelCost:
        return parcels.add_cost(make_parcel(), CostKind.TIMBER, Decimal("5.00"), today, by=by)
    if model in (AirRecord, AirImport, SensorToken):
        return an_air_row(model, by)
    if model is Hold:
        return holds.place_hold(slab, label="Ada", until=today, by=by, now=now)
    if model is DryingStage:
        return DryingStage.objects.create(slab=slab, kind=StageKind.AIR, started_on=today)
    if model in (Charge, ChargeSlab, CoreLog, CoreTemperature):
        return a_charge_row(model, slab, by)
    if model in MEASURING:
        return a_measuring_row(model, slab, by)
    if model is Photo:
        return Photo.objects.create(slab=slab, width_px=400, height_px=300, sha256="a" * 64)
    return rows[model]


def an_air_row(model: type[models.Model], by: Person) -> models.Model:
    place, now = make_place(), timezone.now()
    if model is AirImport:
        return AirImport.objects.create(place=place, by=by, uploaded_name="air.csv")
    if model is SensorToken:
        return sensors.make_sensor(place, name="Rack", by=by, now=now)[0]
    return AirRecord.objects.create(
        place=place, at=now, temp_c=20, rh_pct=50, emc_pct=9.2, given_value=50
    )


def a_measuring_row(model: type[models.Model], slab: Slab, by: Person) -> models.Model:
    meter, today = make_meter(), timezone.localdate()
    if model in (Weighing, SampleBoard, BoardSections):
        return a_board_row(model, slab, by)
    if model is MeterTest:
        return meter_tests.record_test(meter, by=by, on=today, block_pct=12.0, read_pct=12.1)
    table = meter_tables.take_table(meter, [meter_tables.TableRow(None, 6.0, 7.0)], by=by)
    return table if model is MeterTable else table.rows.get()


def a_board_row(model: type[models.Model], slab: Slab, by: Person) -> models.Model:
    today = timezone.localdate()
    board = SampleBoard.objects.create(name="A", slab=slab)
    cut = boards.record_sections(
        board, by=by, on=today, board_mass_kg=2.85, sections=[(0.171, 0.1)]
    )
    weighed = boards.weigh_board(board, by=by, on=today, mass_kg=2.15)
    return {SampleBoard: board, BoardSections: cut}.get(model, weighed)


def a_charge_row(model: type[models.Model], slab: Slab, by: Person) -> models.Model:
    today = timezone.localdate()
    charge = charges.open_charge(
        make_place("kiln"), [slab], started_on=today, by=by, now=timezone.now()
    )
    log = CoreLog.objects.create(charge=charge, at=timezone.now(), by=by)
    temperature = CoreTemperature.objects.create(
        log=log, charge=charge, at=timezone.now(), probe="Core 1", temp_c=56.0
    )
    rows = {Charge: charge, ChargeSlab: charge.stays.all()[0], CoreLog: log}
    return rows.get(model, temperature)


def values_of(row: models.Model) -> dict[str, Any]:
    return type(row)._default_manager.filter(pk=row.pk).values().get()


def test_every_table_of_the_record_is_in_the_admin() -> None:
    registered = {model for model in admin.site._registry if model._meta.app_label == "inventory"}
    assert set(HISTORY) < registered
    assert {Species, Place, Person} < registered


@pytest.mark.parametrize("model", HISTORY, ids=lambda model: model.__name__)
def test_a_superuser_reads_but_finds_nothing_to_change(
    keeper: Client, superuser: Person, model: type[models.Model]
) -> None:
    row = a_row(model, superuser)
    assert keeper.get(address(model, "changelist")).status_code == 200
    page = keeper.get(address(model, "change", row.pk))
    assert page.status_code == 200
    assert b'name="_save"' not in page.content
    assert keeper.get(address(model, "add")).status_code == 403
    assert keeper.get(address(model, "delete", row.pk)).status_code == 403


@pytest.mark.parametrize("model", HISTORY, ids=lambda model: model.__name__)
def test_a_superuser_can_post_neither_change_nor_deletion_nor_addition(
    keeper: Client, superuser: Person, model: type[models.Model]
) -> None:
    row = a_row(model, superuser)
    before, count = values_of(row), model._default_manager.count()
    sent = {"note": "rewritten", "label": "rewritten", "raw_pct": "1", "amount": "1", "rh_pct": "1"}
    assert keeper.post(address(model, "change", row.pk), sent).status_code == 403
    assert keeper.post(address(model, "delete", row.pk), {"post": "yes"}).status_code == 403
    assert keeper.post(address(model, "add"), sent).status_code == 403
    assert (values_of(row), model._default_manager.count()) == (before, count)


@pytest.mark.parametrize("model", HISTORY, ids=lambda model: model.__name__)
def test_the_bulk_action_deletes_nothing(
    keeper: Client, superuser: Person, model: type[models.Model]
) -> None:
    row = a_row(model, superuser)
    count = model._default_manager.count()
    sent = {"action": "delete_selected", "_selected_action": [row.pk], "post": "yes"}
    keeper.post(address(model, "changelist"), sent)
    assert model._default_manager.count() == count
    assert b"delete_selected" not in keeper.get(address(model, "changelist")).content


def test_a_ledger_entry_cannot_be_changed_through_the_list(
    keeper: Client, superuser: Person
) -> None:
    entry = a_row(LedgerEntry, superuser)
    before = values_of(entry)
    sent = {
        "form-TOTAL_FORMS": "1",
        "form-INITIAL_FORMS": "1",
        "form-0-id": str(entry.pk),
        "form-0-note": "rewritten",
        "_save": "Save",
    }
    keeper.post(address(LedgerEntry, "changelist"), sent)
    assert values_of(entry) == before


def test_published_species_are_only_read_and_a_yards_own_are_kept(keeper: Client) -> None:
    published = Species.objects.filter(is_published=True)[0]
    before = values_of(published)
    for page in ("change", "delete"):
        sent = {"common_name": "Renamed", "post": "yes"}
        assert keeper.post(address(Species, page, published.pk), sent).status_code == 403
    sent_many = {"action": "delete_selected", "_selected_action": [published.pk], "post": "yes"}
    keeper.post(address(Species, "changelist"), sent_many)
    assert values_of(published) == before
    own = make_species()
    assert b'name="_save"' in keeper.get(address(Species, "change", own.pk)).content


def test_a_parcels_bills_and_split_are_shown_but_not_changed(keeper: Client) -> None:
    parcel = make_parcel(name="Fen load")
    bill = parcels.add_cost(parcel, CostKind.TIMBER, Decimal("5.00"), date(2026, 1, 1), by=None)
    sent = {
        "name": "Fen load, spring",
        "supplier": parcel.supplier,
        "bought_on": "2026-01-15",
        "split_basis": "equal",
        "costs-TOTAL_FORMS": "1",
        "costs-INITIAL_FORMS": "1",
        "costs-0-id": str(bill.pk),
        "costs-0-parcel": str(parcel.pk),
        "costs-0-amount": "1.00",
        "costs-0-DELETE": "on",
    }
    keeper.post(address(type(parcel), "change", parcel.pk), sent)
    parcel.refresh_from_db()
    assert (parcel.name, parcel.split_basis) == ("Fen load, spring", "volume")
    assert ParcelCost.objects.get().amount == Decimal("5.00")


def test_what_stored_results_follow_from_is_chosen_once(keeper: Client) -> None:
    place, log = make_place("yard"), make_log()
    other = make_species()
    keeper.post(address(Place, "change", place.pk), {"name": "Far", "kind": "shop", "position": 1})
    keeper.post(address(type(log), "change", log.pk), {"number": "L1", "species": other.pk})
    place.refresh_from_db()
    log.refresh_from_db()
    assert (place.name, place.kind) == ("Far", "yard")
    assert log.species != other


def test_a_person_is_made_inactive_and_never_deleted(keeper: Client) -> None:
    person = make_person("Worker")
    page = keeper.post(address(Person, "delete", person.pk), {"post": "yes"})
    assert page.status_code == 403
    assert Person.objects.filter(pk=person.pk).exists()


def test_roles_alone_open_no_admin() -> None:
    for role in ("Owner", "Worker", "Buyer"):
        response = client_for(make_person(role)).get(reverse("admin:index"))
        assert response.status_code == 302


def test_the_admin_is_shut_in_the_client_view(keeper: Client) -> None:
    assert keeper.get(reverse("admin:index")).status_code == 200
    session = keeper.session
    session["client_view"] = True
    session.save()
    assert keeper.get(reverse("admin:index")).status_code == 302
    assert keeper.get(address(LedgerEntry, "changelist")).status_code == 302
