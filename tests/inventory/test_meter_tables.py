"""The shop's own tables: which rows hold for a slab, and what stays as it was."""

from datetime import timedelta
from typing import Any

import pytest

from inventory import meter_tables
from inventory.meter_tables import TableRow, own_table_for, take_table
from inventory.models import HistoryIsKept, Meter, MeterCorrection, MeterTable, Person, Species
from tests.factories import make_meter, make_slab, make_species
from tests.inventory.check_helpers import NOW, record


def rows(species: Species | None, *pairs: tuple[float, float]) -> list[TableRow]:
    return [TableRow(species.pk if species else None, *pair) for pair in pairs]


def plain_meter(**kwargs: Any) -> Meter:
    return make_meter(**{"corrects_temperature": True, "corrects_species": False, **kwargs})


def test_a_reading_goes_by_the_shops_own_table(worker: Person) -> None:
    slab, meter = make_slab(), plain_meter()
    table = take_table(meter, rows(slab.species, (6.0, 7.0), (12.0, 14.0)), by=worker, now=NOW)
    check = record(slab, worker, meter=meter)
    reading = check.readings.first()
    assert reading is not None
    assert reading.raw_pct == 7.1
    assert reading.species_step_pct == pytest.approx(1 + 1.1 / 6)
    assert reading.correction.endswith("for the species, by the shop's own table.")
    assert check.own_table == table


def test_a_species_own_rows_go_before_those_for_any(worker: Person) -> None:
    walnut, elm, meter = make_species(), make_species(botanical_name="Ulmus glabra"), plain_meter()
    both = rows(walnut, (6.0, 7.0), (9.0, 10.0)) + rows(None, (6.0, 6.5), (9.0, 9.5))
    take_table(meter, both, by=worker)
    for species, pairs in ((walnut, ((6, 7), (9, 10))), (elm, ((6, 6.5), (9, 9.5)))):
        own = own_table_for(meter, species)
        assert own is not None
        assert own.pairs == pairs


def test_rows_hold_for_every_species_of_that_botanical_name(worker: Person) -> None:
    ours, published, other = make_species(), make_species(), make_species(botanical_name="")
    meter = plain_meter()
    take_table(meter, rows(published, (6.0, 7.0), (9.0, 10.0)), by=worker)
    assert own_table_for(meter, ours) is not None
    assert own_table_for(meter, other) is None


def test_a_meter_set_to_the_species_never_uses_a_table(worker: Person) -> None:
    slab, meter = make_slab(), plain_meter(corrects_species=True)
    take_table(meter, rows(slab.species, (6.0, 7.0), (12.0, 14.0)), by=worker)
    check = record(slab, worker, meter=meter)
    assert check.own_table is None
    assert {reading.species_step_pct for reading in check.readings.all()} == {0.0}


def test_a_new_table_replaces_the_last_and_touches_no_check(worker: Person) -> None:
    slab, meter = make_slab(), plain_meter()
    first = take_table(meter, rows(slab.species, (6.0, 7.0), (12.0, 14.0)), by=worker, now=NOW)
    check = record(slab, worker, meter=meter)
    before = check.mean_pct
    later = NOW + timedelta(days=1)
    second = take_table(meter, rows(None, (6.0, 5.0), (12.0, 11.0)), by=worker, now=later)
    check.refresh_from_db()
    assert (check.mean_pct, check.own_table) == (before, first)
    own = own_table_for(meter, slab.species)
    assert own is not None
    assert own.table == second


def test_a_table_laid_aside_leaves_the_published_one(worker: Person) -> None:
    slab, meter = make_slab(), plain_meter()
    take_table(meter, rows(slab.species, (6.0, 7.0), (12.0, 14.0)), by=worker)
    meter_tables.lay_aside(meter, by=worker)
    assert meter_tables.current_table(meter) is None
    assert own_table_for(meter, slab.species) is None
    reading = record(slab, worker, meter=meter).readings.first()
    assert reading is not None
    assert reading.correction.endswith("for the species.")
    assert MeterTable.objects.count() == 2


def test_a_meter_of_another_calibration_is_left_uncorrected_without_a_table(
    worker: Person,
) -> None:
    slab, meter = make_slab(), plain_meter(calibrated_on="Norway spruce")
    check = record(slab, worker, meter=meter)
    assert not check.is_trusted
    take_table(meter, rows(None, (6.0, 7.0), (12.0, 14.0)), by=worker)
    assert record(slab, worker, meter=meter).is_trusted


def test_a_pinless_meter_can_be_given_a_table(worker: Person) -> None:
    slab, meter = make_slab(), plain_meter(method="pinless")
    assert not record(slab, worker, meter=meter).is_trusted
    take_table(meter, rows(slab.species, (6.0, 7.0), (12.0, 14.0)), by=worker)
    assert record(slab, worker, meter=meter).is_trusted


def test_tables_are_history(worker: Person) -> None:
    meter = plain_meter()
    table = take_table(meter, rows(None, (6.0, 7.0), (9.0, 9.5)), by=worker)
    for act in (table.delete, table.save, MeterCorrection.objects.all().delete):
        with pytest.raises(HistoryIsKept):
            act()
