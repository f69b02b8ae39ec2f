"""Warnings kept of the facts: raised once, resolved by them, set aside while they stand."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from inventory import air, daily, derive, moves, watch
from inventory.checks import ReadingEntry
from inventory.models import (
    AirGiven,
    AirRecord,
    Alert,
    AlertKind,
    Condition,
    DryingStage,
    Meter,
    Person,
    Place,
    PlaceKind,
    Slab,
    Standing,
)
from tests.factories import at, make_meter, make_place, make_slab
from tests.inventory.check_helpers import NOW, TODAY, record

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def days(count: int) -> date:
    return TODAY - timedelta(days=count)


def drying_slab(kind: str = PlaceKind.SHED, **kwargs: Any) -> Slab:
    """A walnut slab drying in one place for a year."""
    place = kwargs.pop("place", None) or make_place(kind)
    slab = make_slab(place=place, **kwargs)
    DryingStage.objects.create(slab=slab, kind="air", place=place, started_on=days(365))
    return slab


def check(slab: Slab, by: Person, days_ago: int, mean_pct: float, **kwargs: Any) -> None:
    """Three places of one reading, by one meter."""
    readings = [ReadingEntry(mean_pct, along=along) for along in (0.2, 0.5, 0.8)]
    meter = Meter.objects.first() or make_meter()
    record(slab, by, on=days(days_ago), readings=readings, meter=meter, **kwargs)


def write_air(
    place: Place, days_ago: int, rh: float = 40.0, count: int = 1, now: datetime = NOW
) -> None:
    """One record a day, the last so many days ago, at 20 °C."""
    for day in range(days_ago + count - 1, days_ago - 1, -1):
        moment = now - timedelta(days=day)
        air.record_air(
            place, at=moment, temp_c=20.0, given=AirGiven.RH, value=rh, by=None, now=moment
        )


def standing() -> list[str]:
    return list(Alert.objects.open().order_by("pk").values_list("kind", flat=True))


def every() -> list[tuple[str, date, date | None]]:
    rows = Alert.objects.order_by("pk").values_list("kind", "raised_on", "resolved_on")
    return [(kind, raised, resolved) for kind, raised, resolved in rows]


# --- a slab's -----------------------------------------------------------------------------------


def test_regaining_is_raised_by_the_check_that_shows_it_and_once(worker: Person) -> None:
    slab = drying_slab()
    check(slab, worker, 20, 12.0)
    assert standing() == []
    check(slab, worker, 0, 15.0)
    watch.look_at_slab(slab, TODAY)
    watch.look_over_yard(TODAY)
    assert every() == [(AlertKind.REGAINING, TODAY, None)]
    assert Alert.objects.get().slab == slab


def test_the_next_falling_check_resolves_it(worker: Person) -> None:
    slab = drying_slab()
    for days_ago, mean_pct in ((40, 12.0), (20, 15.0), (0, 13.0)):
        check(slab, worker, days_ago, mean_pct)
    assert every() == [(AlertKind.REGAINING, TODAY, TODAY)]


def test_a_correction_of_the_wrong_check_resolves_it(worker: Person) -> None:
    slab = drying_slab()
    check(slab, worker, 20, 12.0)
    check(slab, worker, 0, 15.0)
    wrong = slab.checks.current()[0]
    check(slab, worker, 0, 11.5, supersedes=wrong)
    assert standing() == []


def test_too_fast_a_loss_is_raised_and_resolved(worker: Person) -> None:
    """Black walnut of 54 mm: 8.2 × (54/25.4)^-1.33 = 3.0 % a day (FOR-128, Table 9)."""
    slab = drying_slab(PlaceKind.KILN)
    for days_ago, mean_pct in ((5, 60.0), (0, 28.0)):
        check(slab, worker, days_ago, mean_pct)
    (alert,) = Alert.objects.all()
    assert alert.kind == AlertKind.TOO_FAST
    assert alert.facts["safe_pct_a_day"] == pytest.approx(3.01, abs=0.01)
    with time_machine.travel(NOW + timedelta(days=5), tick=False):
        check(slab, worker, -5, 24.0, now=NOW + timedelta(days=5))
    assert standing() == []


def test_stalled_wood_is_warned_of_until_it_is_moved(worker: Person) -> None:
    slab = drying_slab()
    check(slab, worker, 60, 13.0)
    check(slab, worker, 0, 12.8)
    assert standing() == [AlertKind.STALLED]
    room = make_place(PlaceKind.CONDITIONING)
    moves.move(slab, place=room, bay=None, by=worker, on=TODAY, now=NOW)
    assert standing() == []


def test_a_check_off_its_curve_stands_until_checked_again(worker: Person) -> None:
    slab = drying_slab()
    assert slab.place is not None
    write_air(slab.place, 0, rh=65.0, count=20)
    for days_ago, mean_pct in ((70, 20.0), (40, 17.0), (10, 26.0)):
        check(slab, worker, days_ago, mean_pct, now=NOW - timedelta(days=days_ago))
    kinds = {AlertKind.OFF_CURVE, AlertKind.REGAINING}
    assert set(standing()) == kinds
    later = NOW + timedelta(days=30)
    watch.look_over_yard(later.date())
    assert set(standing()) == {*kinds, AlertKind.SILENT}
    check(slab, worker, 0, 14.5)
    assert standing() == [AlertKind.SILENT]


def test_set_aside_it_is_not_raised_again_while_the_same_facts_stand(worker: Person) -> None:
    slab = drying_slab()
    check(slab, worker, 20, 12.0)
    check(slab, worker, 0, 15.0)
    alert = Alert.objects.get()
    watch.set_aside(alert, by=worker, reason=" The meter was\nchanged ", now=NOW)
    watch.look_at_slab(slab, TODAY)
    watch.look_over_yard(TODAY + timedelta(days=3))
    assert standing() == []
    alert.refresh_from_db()
    assert (alert.set_aside_by, alert.set_aside_at) == (worker, NOW)
    assert alert.set_aside_reason == "The meter was changed"
    assert alert.resolved_on is None


def test_other_facts_raise_it_again_after_it_was_set_aside(worker: Person) -> None:
    slab = drying_slab()
    check(slab, worker, 40, 12.0)
    check(slab, worker, 20, 15.0)
    watch.set_aside(Alert.objects.get(), by=worker, reason="The roof is mended", now=NOW)
    check(slab, worker, 0, 18.0)
    assert standing() == [AlertKind.REGAINING]
    assert Alert.objects.standing().count() == 1
    assert Alert.objects.count() == 2


def test_a_warning_that_goes_on_is_told_anew_not_twice(worker: Person) -> None:
    slab = drying_slab()
    for days_ago in (80, 40, 0):
        check(slab, worker, days_ago, 12.8, now=NOW - timedelta(days=days_ago))
    check(slab, worker, 0, 12.6)
    alert = Alert.objects.get()
    assert "about 12.6 %" in alert.sentence
    assert alert.raised_on == TODAY


def test_taken_up_again_it_stands(worker: Person) -> None:
    slab = drying_slab()
    check(slab, worker, 20, 12.0)
    check(slab, worker, 0, 15.0)
    alert = Alert.objects.get()
    watch.set_aside(alert, by=worker, reason="Let it be", now=NOW)
    watch.take_up(alert)
    assert standing() == [AlertKind.REGAINING]


def test_what_is_settled_cannot_be_set_aside(worker: Person) -> None:
    slab = drying_slab()
    check(slab, worker, 20, 12.0)
    check(slab, worker, 0, 15.0)
    alert = Alert.objects.get()
    with pytest.raises(ValidationError, match="Say in a few words"):
        watch.set_aside(alert, by=worker, reason="  ", now=NOW)
    watch.set_aside(alert, by=worker, reason="Let it be", now=NOW)
    with pytest.raises(ValidationError, match="settled already"):
        watch.set_aside(alert, by=worker, reason="Again", now=NOW)
    Alert.objects.update(resolved_on=TODAY)
    with pytest.raises(ValidationError, match="is over"):
        watch.take_up(alert)


def test_wood_that_is_gone_warns_of_nothing(worker: Person) -> None:
    slab = drying_slab()
    check(slab, worker, 60, 13.0)
    check(slab, worker, 0, 12.8)
    Slab.objects.filter(pk=slab.pk).update(standing=Standing.GONE)
    assert standing() == []
    watch.look_daily(TODAY + timedelta(days=1))
    assert Alert.objects.get().resolved_on == TODAY + timedelta(days=1)


# --- places and meters ----------------------------------------------------------------------------


def test_damp_air_is_raised_by_the_record_that_shows_it_and_resolved_by_drier_air() -> None:
    """20 °C and 40 % RH hold wood at 7.7 %, 60 % RH at 10.9 % (Wood Handbook, Table 4-2)."""
    place = make_place(PlaceKind.SHOP)
    slab = make_slab(place=place)
    Slab.objects.filter(pk=slab.pk).update(condition=Condition.READY)
    write_air(place, 10, rh=40.0, count=5)
    assert standing() == []
    write_air(place, 0, rh=60.0, count=8)
    assert standing() == [AlertKind.DAMP_AIR]
    assert Alert.objects.get().place == place
    Slab.objects.filter(pk=slab.pk).update(condition=Condition.RESTING)
    watch.look_at_place(place, NOW)
    assert standing() == []


def test_moving_the_last_ready_slab_away_resolves_damp_air(worker: Person) -> None:
    damp, dry = make_place(PlaceKind.SHOP), make_place(PlaceKind.SHOP)
    slab = make_slab(place=damp)
    DryingStage.objects.create(slab=slab, kind="shop", place=damp, started_on=days(90))
    for days_ago in (20, 0):
        record(slab, worker, on=days(days_ago))
    write_air(damp, 0, rh=65.0, count=10)
    assert standing() == [AlertKind.DAMP_AIR]
    moves.move(slab, place=dry, bay=None, by=worker, on=TODAY, now=NOW)
    assert standing() == []


def test_a_slab_that_becomes_ready_in_damp_air_warns_at_once(worker: Person) -> None:
    place = make_place(PlaceKind.SHOP)
    slab = make_slab(place=place)
    DryingStage.objects.create(slab=slab, kind="shop", place=place, started_on=days(90))
    write_air(place, 0, rh=65.0, count=10)
    record(slab, worker, on=days(20))
    assert standing() == []
    record(slab, worker, on=TODAY)
    assert standing() == [AlertKind.DAMP_AIR]


def test_a_silent_place_is_told_by_the_day_and_resolved_by_a_record() -> None:
    place = make_place()
    make_slab(place=place)
    write_air(place, 3, count=10)
    daily.new_day(TODAY)
    assert standing() == []
    late = TODAY + timedelta(days=5)
    daily.new_day(late)
    daily.new_day(late)
    assert every() == [(AlertKind.SILENT, late, None)]
    with time_machine.travel(NOW + timedelta(days=6), tick=False):
        write_air(place, 0, now=NOW + timedelta(days=6))
    assert every() == [(AlertKind.SILENT, late, late + timedelta(days=1))]


def test_silence_set_aside_is_raised_again_after_the_next_word(owner: Person) -> None:
    place = make_place()
    make_slab(place=place)
    write_air(place, 9, count=10)
    watch.look_over_yard(TODAY)
    watch.set_aside(Alert.objects.get(), by=owner, reason="New battery ordered", now=NOW)
    daily.new_day(TODAY + timedelta(days=1))
    assert standing() == []
    write_air(place, 0)
    daily.new_day(TODAY + timedelta(days=8))
    assert standing() == [AlertKind.SILENT]


def test_a_pasted_table_is_looked_at_too(worker: Person) -> None:
    place = make_place()
    make_slab(place=place)
    write_air(place, 9, count=10)
    watch.look_over_yard(TODAY)
    air.paste_air(
        place, "time,temp,rh\n2026-05-20 08:00,20,40\n", by=worker, now=NOW, fahrenheit=False
    )
    assert standing() == []


def test_a_meter_past_its_test_is_told_until_it_is_tested_or_laid_by() -> None:
    meter, old = make_meter(), make_meter()
    Meter.objects.update(test_due_on=days(1), tested_on=days(366))
    Meter.objects.filter(pk=old.pk).update(is_retired=True)
    daily.new_day(TODAY)
    daily.new_day(TODAY)
    assert every() == [(AlertKind.METER_DUE, TODAY, None)]
    assert Alert.objects.get().meter == meter
    meter.refresh_from_db()
    meter.test_due_on = TODAY + timedelta(days=365)
    watch.look_at_meter(meter, TODAY)
    assert standing() == []


# --- keeping it true, and quick -------------------------------------------------------------------


def test_the_database_refuses_a_second_of_a_kind_and_one_about_two_things() -> None:
    slab, place = make_slab(), make_place()
    common: dict[str, Any] = {
        "kind": AlertKind.STALLED,
        "sentence": "It stands.",
        "stands_on": "x",
        "raised_on": TODAY,
    }
    Alert.objects.create(slab=slab, resolved_on=TODAY, **common)
    Alert.objects.create(slab=slab, **common)
    for subject in ({"slab": slab}, {"slab": slab, "place": place}, {}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Alert.objects.create(**subject, **common)
    with pytest.raises(IntegrityError), transaction.atomic():
        Alert.objects.create(place=place, set_aside_at=NOW, **common)


def test_two_who_look_at_once_raise_it_once(worker: Person) -> None:
    slab = drying_slab()
    check(slab, worker, 20, 12.0)
    check(slab, worker, 0, 15.0)
    alert = Alert.objects.get()
    again = Alert(
        slab=slab, kind=alert.kind, sentence="x", stands_on="x", facts={}, raised_on=TODAY
    )
    Alert.objects.bulk_create([again], ignore_conflicts=True)
    assert Alert.objects.count() == 1


def queries(deed: Any) -> int:
    with CaptureQueriesContext(connection) as captured:
        deed()
    return len(captured)


def warned_slabs(worker: Person, count: int, place: Place) -> None:
    for _ in range(count):
        slab = drying_slab(place=place)
        check(slab, worker, 60, 13.0)
        check(slab, worker, 0, 12.8)


def test_looking_over_many_takes_as_many_queries_as_over_few(worker: Person) -> None:
    place = make_place(PlaceKind.SHED)
    write_air(place, 9, count=6)
    warned_slabs(worker, 2, place)

    def raised_anew() -> int:
        watch.look_over_yard(TODAY)  # from here on the air's mean is kept
        Alert.objects.filter(slab__isnull=False).delete()
        return queries(lambda: watch.look_over_yard(TODAY))

    few = raised_anew()
    warned_slabs(worker, 10, place)
    for _ in range(5):
        write_air(make_place(), 9, count=5)
        make_meter()
    assert raised_anew() == few
    assert Alert.objects.filter(kind=AlertKind.STALLED).count() == 12


def test_a_check_gains_only_a_handful_of_queries(
    worker: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    slab = drying_slab()
    check(slab, worker, 20, 12.0)
    check(slab, worker, 10, 11.0)
    watched = queries(lambda: check(slab, worker, 0, 14.0))
    assert standing() == [AlertKind.REGAINING]
    monkeypatch.setattr(watch, "look_at_slab", lambda slab, on: None)
    assert watched - queries(lambda: check(slab, worker, 0, 14.1)) <= 7


def test_the_days_look_leaves_slabs_checked_long_ago_alone(
    worker: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    old, fresh = drying_slab(), drying_slab()
    check(old, worker, 30, 12.0)
    check(fresh, worker, 1, 12.0)
    looked: list[int] = []
    monkeypatch.setattr(
        watch, "look_at_slabs", lambda slabs, on: looked.extend(slab.pk for slab in slabs)
    )
    watch.look_daily(TODAY)
    assert looked == [fresh.pk]


def test_warnings_do_not_touch_what_is_stored_of_a_slab(worker: Person) -> None:
    slab = drying_slab()
    check(slab, worker, 60, 13.0)
    check(slab, worker, 0, 12.8)
    assert derive.differences(Slab.objects.get(pk=slab.pk), TODAY) == {}
    assert AirRecord.objects.count() == 0


def test_moments_are_of_the_yards_own_day() -> None:
    assert air.end_of(TODAY) == at(2026, 5, 21, 0)
