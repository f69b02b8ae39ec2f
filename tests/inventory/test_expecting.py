"""What the forecast before a check said of its day: read off its curve, kept with the check.

From outside: the normal distribution's 10 and 90 % points lie 1.2816 standard deviations either
side of its middle (from memory; scipy's own table of it is the reference).
"""

from collections.abc import Iterator
from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from scipy.stats import norm

from inventory import expecting, forecasting, watch
from inventory.checks import ReadingEntry
from inventory.models import Alert, AlertKind, MoistureCheck, Person, Place, Slab, SlabForecast
from tests.factories import at
from tests.inventory.check_helpers import record
from tests.inventory.forecast_helpers import TODAY, falling_to, forecast, make_air, make_drying

pytestmark = pytest.mark.django_db

NOW = at(2026, 5, 20, 10)
LATER_DAYS = 42


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(NOW + timedelta(days=LATER_DAYS), tick=False):
        yield


def row_of(curve: list[list[float]]) -> SlabForecast:
    return SlabForecast(made_on=TODAY, curve=curve)


def test_the_curve_is_read_between_its_points() -> None:
    row = row_of([[0, 14.0, 15.0, 16.0], [14, 12.0, 14.0, 16.0]])
    pct, sd_pct = expecting.read_at(row, TODAY + timedelta(days=7)) or (0.0, 0.0)
    assert pct == pytest.approx(14.5)
    assert sd_pct == pytest.approx((16.0 - 13.0) / 2 / float(norm.ppf(0.9)), rel=1e-4)


@pytest.mark.parametrize("day", [-1, 15])
def test_off_its_ends_a_curve_says_nothing(day: int) -> None:
    row = row_of([[0, 14.0, 15.0, 16.0], [14, 12.0, 14.0, 16.0]])
    assert expecting.read_at(row, TODAY + timedelta(days=day)) is None
    assert expecting.read_at(row_of([]), TODAY) is None


def drying() -> Slab:
    """At some 17 % in outdoor air of 12 %, with a forecast of TODAY."""
    slab = make_drying(make_air(12.0, kind="shed"), falling_to(12.0, months=4.5), days=250)
    forecast(slab)
    return slab


def check(slab: Slab, by: Person, mean_pct: float, **kwargs: object) -> MoistureCheck:
    """Six weeks after the forecast, three places of one reading."""
    readings = [ReadingEntry(mean_pct, along=along) for along in (0.2, 0.5, 0.8)]
    now = NOW + timedelta(days=LATER_DAYS)
    return record(slab, by, on=now.date(), now=now, readings=readings, **kwargs)


def off_curve() -> list[Alert]:
    return list(Alert.objects.open().filter(kind=AlertKind.OFF_CURVE))


def test_a_check_keeps_what_the_forecast_before_it_said(worker: Person) -> None:
    slab = drying()
    before = SlabForecast.objects.get(slab=slab)
    wanted = expecting.read_at(before, TODAY + timedelta(days=LATER_DAYS))
    assert wanted is not None
    found = check(slab, worker, wanted[0])
    assert (found.expected_pct, found.expected_sd_pct) == wanted
    assert 12.0 < wanted[0] < 17.0
    assert SlabForecast.objects.get(slab=slab).made_on > before.made_on
    assert off_curve() == []


def test_a_check_far_from_its_forecast_is_warned_of_and_stays_so(worker: Person) -> None:
    """The forecast made anew believes the check; what it was held against stays with it."""
    slab = drying()
    check(slab, worker, 24.0)
    (alert,) = off_curve()
    kept = MoistureCheck.objects.get(pk=int(alert.stands_on.removeprefix("check ")))
    assert kept.expected_pct is not None
    assert f"about {kept.expected_pct:.1f} %" in alert.sentence
    later = TODAY + timedelta(days=LATER_DAYS + 30)
    forecasting.forecast_again([slab.pk], later)
    watch.look_over_yard(later)
    assert [one.pk for one in off_curve()] == [alert.pk]


def test_a_correction_is_held_against_what_the_wrong_check_was(worker: Person) -> None:
    slab = drying()
    wrong = check(slab, worker, 26.0)
    assert len(off_curve()) == 1
    right = check(slab, worker, wrong.expected_pct or 0.0, supersedes=wrong)
    assert right.expected_pct == wrong.expected_pct
    assert off_curve() == []


def test_a_check_of_a_day_before_the_forecast_is_held_against_none(worker: Person) -> None:
    slab = drying()
    assert expecting.foreseen(slab, TODAY - timedelta(days=1)) is None
    assert expecting.foreseen(slab, TODAY) is not None


def test_a_forecast_for_another_place_says_nothing(worker: Person) -> None:
    slab = drying()
    slab.place = Place.objects.create(name="Loft", kind="shop", position=9)
    assert expecting.foreseen(slab, TODAY) is None


def test_judging_many_slabs_takes_the_queries_of_judging_few(worker: Person) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as captured:
            watch.look_at_slabs(list(Slab.objects.select_related("species", "place")), later)
        return len(captured)

    later = TODAY + timedelta(days=LATER_DAYS)
    place = make_air(12.0, kind="shed")
    for count in (2, 6):
        slabs = [make_drying(place, falling_to(12.0), days=250) for _ in range(count)]
        forecasting.forecast_again([slab.pk for slab in slabs], TODAY)
        for slab in slabs:
            check(slab, worker, 25.0)
        if count == 2:
            watch.look_over_yard(later)
            few = queries()
    assert queries() == few
    assert len(off_curve()) == 8
