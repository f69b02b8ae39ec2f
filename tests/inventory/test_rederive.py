"""`manage.py rederive` proves that stored results follow from the facts, and mends the others."""

from datetime import date, timedelta
from decimal import Decimal
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory import air, checks, derive, holds, parcels, receiving
from inventory.models import (
    AirDayMean,
    AirGiven,
    AirRecord,
    Condition,
    CostKind,
    GoneHow,
    MoistureCheck,
    Slab,
    Standing,
    TypicalYear,
)
from inventory.wood import humidity
from tests.factories import make_meter, make_parcel, make_person, make_place, make_slab

pytestmark = pytest.mark.django_db


def rederive(**options: Any) -> str:
    out = StringIO()
    call_command("rederive", stdout=out, **options)
    return out.getvalue()


def a_yard(slabs: int = 3) -> list[Slab]:
    """Slabs of one parcel, received, checked, one held, one gone; a place with air."""
    by, now, parcel = make_person(), timezone.now(), make_parcel()
    place = make_place()
    made = [
        receiving.receive(
            by,
            now,
            species=make_slab().species,
            parcel=parcel,
            place=place,
            length_mm=2000.0 + number,
            thickness_mm=50.0,
            widths=[[0.5, 600.0]],
            figures=["burl"],
        )
        for number in range(slabs)
    ]
    parcels.add_cost(parcel, CostKind.TIMBER, Decimal("1000.00"), date(2026, 1, 1), by=by)
    meter, on = make_meter(), timezone.localdate()
    entry = checks.ReadingEntry(9.5, along=0.5, depth_mm=25.0)
    for slab in made:
        checks.record_check(
            slab, by=by, on=on, meter=meter, wood_temp_c=20.0, readings=[entry, entry]
        )
    holds.place_hold(made[0], label="Ada", until=on + timedelta(days=3), by=by, now=now)
    holds.mark_gone(made[1], how=GoneHow.SOLD, by=by, now=now)
    air.record_air(
        place, at=now, temp_c=20.0, given=AirGiven.RH, value=50.0, by=None, now=now
    )  # fmt: skip
    derive.write_many(list(Slab.objects.all()), on)
    return made


def test_a_yard_written_by_its_operations_has_drifted_nowhere() -> None:
    a_yard()
    assert "every stored result agrees" in rederive(check=True)


DRIFTS = [
    ("area_mm2", 1.0),
    ("figure_words", "|curl|"),
    ("mc_pct", 50.0),
    ("condition", Condition.READY),
    ("cost", Decimal("1.00")),
    ("checked_on", date(2020, 1, 1)),
]


@pytest.mark.parametrize(("field", "wrong"), DRIFTS)
def test_a_drifted_figure_is_named_and_then_mended(field: str, wrong: Any) -> None:
    slab = a_yard()[2]
    right = getattr(Slab.objects.get(pk=slab.pk), field)
    Slab.objects.filter(pk=slab.pk).update(**{field: wrong})
    out = StringIO()
    with pytest.raises(CommandError, match="1 stored results have drifted"):
        call_command("rederive", check=True, stdout=out)
    assert f"{slab.display_code}: {field} is" in out.getvalue()
    assert getattr(Slab.objects.get(pk=slab.pk), field) == wrong
    assert "1 stored results were mended" in rederive()
    assert getattr(Slab.objects.get(pk=slab.pk), field) == right


def test_a_lost_standing_comes_back_from_hold_and_ledger() -> None:
    held, gone, _ = a_yard()
    Slab.objects.update(standing=Standing.FREE, gone_how="")
    rederive()
    assert Slab.objects.get(pk=held.pk).standing == Standing.HELD
    assert Slab.objects.get(pk=gone.pk).gone_how == GoneHow.SOLD


def test_a_lost_shape_is_mended_before_the_costs_that_follow_from_it() -> None:
    slab = a_yard()[2]
    right = Slab.objects.get(pk=slab.pk).cost
    Slab.objects.filter(pk=slab.pk).update(volume_mm3=1.0, cost=Decimal("0.10"))
    rederive()
    assert Slab.objects.get(pk=slab.pk).cost == right
    assert "agrees" in rederive(check=True)


def test_the_figures_of_a_check_and_the_emc_of_air_are_proved_too() -> None:
    a_yard()
    MoistureCheck.objects.all().rederive(mean_pct=3.0)
    AirRecord.objects.all().rederive(emc_pct=3.0)
    with pytest.raises(CommandError, match="drifted"):
        rederive(check=True)
    rederive()
    assert MoistureCheck.objects.filter(mean_pct=9.5).count() == 3
    assert AirRecord.objects.get().emc_pct == humidity.emc_pct(20.0, 50.0)
    assert "agrees" in rederive(check=True)


def test_the_days_and_the_year_of_a_places_air_are_proved_too() -> None:
    a_yard()
    right = AirDayMean.objects.get()
    AirDayMean.objects.update(rh_pct=3.0)
    TypicalYear.objects.update(spread_pct=9.0)
    with pytest.raises(CommandError, match="2 stored results have drifted"):
        rederive(check=True)
    AirDayMean.objects.all().delete()
    rederive()
    again = AirDayMean.objects.get()
    assert (again.on, again.rh_pct, again.records) == (right.on, 50.0, 1)
    assert "agrees" in rederive(check=True)


def test_a_long_list_is_cut_and_says_how_much_more() -> None:
    for _ in range(25):
        make_slab()
    Slab.objects.update(area_mm2=1.0)
    out = StringIO()
    with pytest.raises(CommandError):
        call_command("rederive", check=True, stdout=out)
    assert "and 5 more" in out.getvalue()


def test_queries_grow_with_batches_and_not_with_slabs() -> None:
    a_yard(3)
    with CaptureQueriesContext(connection) as few:
        rederive(check=True)
    for _ in range(30):
        make_slab()
    with CaptureQueriesContext(connection) as many:
        rederive(check=True)
    assert len(few) == len(many)


def test_more_slabs_than_a_batch_are_all_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(derive, "AT_ONCE", 2)
    slabs = [make_slab() for _ in range(5)]
    Slab.objects.update(area_mm2=1.0)
    assert "5 stored results were mended" in rederive()
    assert {Slab.objects.get(pk=slab.pk).area_mm2 for slab in slabs} == {slabs[0].area_mm2}


def test_the_calendar_re_judges_what_it_has_overtaken() -> None:
    slab = a_yard()[2]
    later = timezone.localdate() + timedelta(days=200)
    assert derive.refresh_conditions(later) >= 1
    stored = Slab.objects.get(pk=slab.pk)
    assert derive.differences(stored, later, ["moisture"]) == {}
    assert stored.condition == Condition.UNKNOWN
    assert derive.refresh_conditions(later) == 0


@pytest.mark.parametrize("command", ["rederive", "reforecast"])
def test_where_no_yard_is_the_commands_say_so(
    monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    monkeypatch.setattr(connection.introspection, "table_names", lambda *args, **kwargs: [])
    with pytest.raises(CommandError, match=r"There is no yard in .* yet"):
        call_command(command)
