"""Air of places: what is stored, corrected and refused; EMC now and over 30 days."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory import air, air_reading
from inventory.models import AirGiven, AirRecord, HistoryIsKept, Person, Place
from inventory.wood import humidity
from tests.factories import at, make_place

pytestmark = pytest.mark.django_db
NOW = at(2026, 5, 31, 0)
RH = AirGiven.RH


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def record(place: Place, moment: datetime, temp_c: float = 20.0, rh: float = 45.0) -> AirRecord:
    return air.record_air(
        place, at=moment, temp_c=temp_c, given=RH, value=rh, by=None, now=moment
    )  # fmt: skip


def test_emc_is_stored_as_the_published_table_has_it() -> None:
    """70 °F and 45 % RH give 8.5 % (Wood Handbook, FPL-GTR-190, 2010, Table 4-2)."""
    stored = record(make_place(), at(2026, 5, 1), temp_c=(70 - 32) / 1.8, rh=45.0)
    assert stored.emc_pct == pytest.approx(8.5, abs=0.1)


def test_wet_bulb_and_dew_point_are_kept_as_given(worker: Person) -> None:
    place = make_place()
    for hour, given, value in ((9, AirGiven.WET_BULB, 15.0), (10, AirGiven.DEW_POINT, 10.0)):
        stored = air.record_air(
            place,
            at=at(2026, 5, 1, hour),
            temp_c=20.0,
            given=given,
            value=value,
            by=worker,
            now=NOW,
        )
        assert (stored.given, stored.given_value, stored.by) == (given, value, worker)
        assert stored.rh_pct == pytest.approx(air_reading.rh_given(20.0, given, value))
        assert 50 < stored.rh_pct < 62


def test_the_working_emc_weighs_each_record_by_the_time_it_covers() -> None:
    """By hand: 12 days of one air and 18 of another; the first began before the window did."""
    place = make_place(name="Shop")
    wet, dry = humidity.emc_pct(20.0, 60.0), humidity.emc_pct(20.0, 40.0)
    record(place, NOW - timedelta(days=33), rh=60.0)
    for days in (28, 24, 20):
        record(place, NOW - timedelta(days=days), rh=60.0)
    for days in (18, 12, 6, 2):
        record(place, NOW - timedelta(days=days), rh=40.0)
    working = air.working_emc(place, NOW)
    assert working.mean == pytest.approx((12 * wet + 18 * dry) / 30)
    assert working.covered_share == pytest.approx(1.0)


def test_a_gap_over_seven_days_is_a_gap_and_not_an_average() -> None:
    """By hand: 6 days at 60 % RH, then 8 days of nothing (from day 24 to 16), 4 at 40 %, a gap."""
    place = make_place()
    wet, dry = humidity.emc_pct(20.0, 60.0), humidity.emc_pct(20.0, 40.0)
    record(place, NOW - timedelta(days=30), rh=60.0)
    record(place, NOW - timedelta(days=24), rh=80.0)
    record(place, NOW - timedelta(days=16), rh=40.0)
    record(place, NOW - timedelta(days=12), rh=80.0)
    working = air.airs_of([place], NOW)[place.pk]
    assert working.working_emc_pct == pytest.approx((6 * wet + 4 * dry) / 10)
    assert working.days_covered == 10
    assert working.covered_words == "From only 10 of the last 30 days: the rest is a gap."
    assert (
        working.settles_words
        == f"Wood left here settles at about {(6 * wet + 4 * dry) / 10:.1f}\N{NO-BREAK SPACE}%."
    )


def test_the_working_emc_follows_each_new_record() -> None:
    """It is kept for some minutes, but never past a record."""
    place = make_place()
    record(place, NOW - timedelta(days=4), rh=40.0)
    before = air.working_emc(place, NOW)
    assert air.working_emc(place, NOW) == before
    record(place, NOW - timedelta(days=2), rh=60.0)
    after = air.working_emc(place, NOW)
    assert before.mean is not None
    assert after.mean is not None
    assert after.mean > before.mean + 1


def test_a_place_without_air_says_so() -> None:
    nothing = air.airs_of([(place := make_place())], NOW)[place.pk]
    assert nothing.latest is None
    assert nothing.settles_words == "Where wood left here would settle is not known."
    assert nothing.covered_words == "No air on record in the last 30 days."


def test_air_now_is_the_latest_that_stands() -> None:
    place = make_place()
    record(place, at(2026, 5, 1), rh=40)
    later = record(place, at(2026, 5, 2), rh=50)
    assert air.air_now(place) == later
    corrected = record(place, at(2026, 5, 2), rh=55)
    assert air.air_now(place) == corrected
    assert air.airs_of([place], NOW)[place.pk].latest == corrected


def test_a_second_record_of_a_moment_corrects_the_first_and_both_stay() -> None:
    place = make_place()
    first = record(place, at(2026, 5, 1), rh=40)
    second = record(place, at(2026, 5, 1), rh=44)
    assert second.supersedes == first
    assert AirRecord.objects.count() == 2
    assert AirRecord.objects.current().get() == second
    third = record(place, at(2026, 5, 1), rh=43)
    assert third.supersedes == second
    assert record(place, at(2026, 5, 1), rh=43) == third


def test_a_wrong_moment_is_put_right_by_a_new_record() -> None:
    place = make_place()
    wrong, other = record(place, at(2026, 5, 1)), record(place, at(2026, 5, 3))

    def correct(moment: datetime) -> AirRecord:
        return air.record_air(
            place, at=moment, temp_c=20, given=RH, value=45, by=None, now=NOW, corrects=wrong
        )

    with pytest.raises(ValidationError, match="has a record of that moment"):
        correct(other.at)
    right = correct(at(2026, 5, 2))
    assert set(AirRecord.objects.current()) == {right, other}
    with pytest.raises(ValidationError, match="put right to another"):
        record(place, at(2026, 5, 1))


def test_air_cannot_be_rewritten_or_deleted() -> None:
    stored = record(make_place(), at(2026, 5, 1))
    with pytest.raises(HistoryIsKept):
        stored.delete()
    with pytest.raises(HistoryIsKept):
        stored.save()


@pytest.mark.parametrize(
    ("field", "numbers"),
    [
        ("temp_c", {"temp_c": 130.0}),
        ("temp_c", {"temp_c": -41.0}),
        ("value", {"value": 101.0}),
        ("value", {"value": -1.0}),
        ("value", {"given": AirGiven.WET_BULB, "value": 21.0}),
        ("value", {"given": AirGiven.DEW_POINT, "value": 20.5}),
        ("at", {"at": NOW + timedelta(hours=1)}),
        ("at", {"at": datetime(1926, 5, 1, tzinfo=NOW.tzinfo)}),
    ],
)
def test_air_that_cannot_be_is_refused_in_a_sentence(
    field: str, numbers: dict[str, object]
) -> None:
    said = {"at": NOW, "temp_c": 20.0, "given": RH, "value": 45.0, **numbers}
    with pytest.raises(ValidationError) as problem:
        air.record_air(make_place(), by=None, now=NOW, **said)  # type: ignore[arg-type]
    assert list(problem.value.message_dict) == [field]
    assert problem.value.message_dict[field][0].endswith(".")
    assert not AirRecord.objects.exists()


def test_daily_means_are_of_the_days_that_have_records() -> None:
    place, other = make_place(), make_place()
    for hour, rh in ((6, 40.0), (18, 50.0)):
        record(place, at(2026, 5, 1, hour), rh=rh)
    record(place, at(2026, 5, 3), rh=60.0)
    record(other, at(2026, 5, 2), rh=60.0)
    record(place, at(2026, 5, 9), rh=60.0)
    series = air.emc_series(place, date(2026, 5, 1), date(2026, 5, 8))
    mean = (humidity.emc_pct(20.0, 40.0) + humidity.emc_pct(20.0, 50.0)) / 2
    assert [day for day, _ in series] == [date(2026, 5, 1), date(2026, 5, 3)]
    assert series[0][1] == pytest.approx(mean)


def test_corrected_records_count_in_no_mean() -> None:
    place = make_place()
    record(place, at(2026, 5, 1), rh=90.0)
    record(place, at(2026, 5, 1), rh=40.0)
    (day,) = air.air_series(place, date(2026, 5, 1), date(2026, 5, 1))
    assert day.rh_pct == 40.0


def test_many_places_are_asked_for_as_few() -> None:
    def queries(count: int) -> int:
        places = [make_place() for _ in range(count)]
        for place in places:
            record(place, at(2026, 5, 1))
        with CaptureQueriesContext(connection) as asked:
            assert len(air.airs_of(places, NOW)) == count
        return len(asked)

    assert queries(1) == queries(12) == 4
