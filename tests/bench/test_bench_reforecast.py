"""Re-judging and re-forecasting a stock in bulk, and one slab after one check, database and all.

2,048 slabs in 5 places with 800 days of air, each with 6 checks of 4 readings over one to two
years; reported a second, carried on to 100,000 by plain proportion, and as a ratio to the bare
arithmetic of the same steps on arrays as large (tests/bench/test_bench_forecast.py). The bare
arithmetic reads no database, finds no quantiles and carries nobody a second time; ours does. Run
with `-m bench -n 0 -s`.
"""

import math
import sys
from collections.abc import Iterator
from datetime import date, timedelta
from statistics import median
from time import process_time

import pytest
import time_machine

from inventory import air_means, derive, forecasting
from inventory.checks import record_check
from inventory.models import (
    AirDayMean,
    DryingStage,
    MoistureCheck,
    Place,
    PlaceKind,
    Reading,
    Slab,
    SlabForecast,
    StageKind,
    Zone,
)
from inventory.slab_histories import told_of
from tests.bench.test_bench_forecast import floor, seconds
from tests.factories import at, copy_slab, make_person, make_place, make_slab
from tests.inventory.check_helpers import FIVE

SLABS, CHECKS, AIR_DAYS, ROUNDS = 2048, 6, 800, 3
TODAY = date(2026, 5, 20)
EMCS = {
    PlaceKind.YARD: 15.0,
    PlaceKind.SHED: 12.5,
    PlaceKind.CONDITIONING: 6.5,
    PlaceKind.SHOP: 7.5,
    PlaceKind.SHOWROOM: 7.0,
}
ZONES = (Zone.BETWEEN, Zone.SHELL, Zone.CORE, Zone.BETWEEN)

pytestmark = [pytest.mark.bench, pytest.mark.django_db]


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(at(2026, 5, 20, 10), tick=True):
        yield


def make_places() -> list[Place]:
    places = [make_place(kind) for kind in EMCS]
    for place in places:
        days = [TODAY - timedelta(days=n) for n in range(AIR_DAYS, 0, -1)]
        AirDayMean.objects.bulk_create(_air(place, day) for day in days)
        air_means.write_year(place.pk)
    return places


def _air(place: Place, day: date) -> AirDayMean:
    season, weather = math.sin(day.toordinal() / 58.1), math.sin(day.toordinal() * 0.7)
    emc = EMCS[PlaceKind(place.kind)] + 1.2 * season + weather
    return AirDayMean(
        place=place, on=day, temp_c=14 - 8 * season, rh_pct=60, emc_pct=emc, records=24
    )


def make_stock(places: list[Place]) -> list[Slab]:
    """Slabs whose checks fall toward a little over the EMC of their place."""
    copy_slab(make_slab(), SLABS - 1)
    slabs = list(Slab.objects.select_related("species").order_by("pk"))
    for n, slab in enumerate(slabs):
        slab.place = places[n % len(places)]
        slab.sawn_on = TODAY - timedelta(days=365 + n % 366)
        slab.thickness_mm = (27.0, 54.0, 66.0, 80.0)[n % 4]
    Slab.objects.bulk_update(slabs, ["place", "sawn_on", "thickness_mm"], batch_size=500)
    DryingStage.objects.bulk_create(
        DryingStage(slab=slab, kind=StageKind.AIR, place=slab.place, started_on=slab.sawn_on)
        for slab in slabs
        if slab.sawn_on
    )
    checks = MoistureCheck.objects.bulk_create(
        [check for slab in slabs for check in _checks(slab)], batch_size=500
    )
    Reading.objects.bulk_create([r for check in checks for r in _readings(check)], batch_size=500)
    return slabs


def _checks(slab: Slab) -> Iterator[MoistureCheck]:
    assert slab.sawn_on is not None
    assert slab.place is not None
    span = (TODAY - slab.sawn_on).days
    for n in range(1, CHECKS + 1):
        days = span * n // (CHECKS + 1)
        left = 30.0 * math.exp(-days / (2.2 * slab.thickness_mm))
        mean = EMCS[PlaceKind(slab.place.kind)] + 0.5 + left
        on = slab.sawn_on + timedelta(days=days)
        yield MoistureCheck(
            slab=slab, on=on, at=at(on.year, on.month, on.day), mean_pct=mean, max_pct=mean + 1,
            min_pct=mean - 1, shell_pct=mean - 1, core_pct=mean + 1, gradient_pct=2.0,
            spread_pct=0.5, places=4, is_trusted=True,
        )  # fmt: skip


def _readings(check: MoistureCheck) -> Iterator[Reading]:
    assert check.mean_pct is not None
    for position, zone in enumerate(ZONES):
        apart = {Zone.SHELL: -1.0, Zone.CORE: 1.0}.get(zone, 0.1 * position)
        value = check.mean_pct + apart
        yield Reading(
            moisture_check=check, position=position, zone=zone, raw_pct=value,
            corrected_pct=value, is_corrected=True,
        )  # fmt: skip


def test_a_stock_in_bulk() -> None:
    slabs = make_stock(make_places())
    keys = [slab.pk for slab in slabs]

    def forecast_all() -> None:
        for first in range(0, SLABS, forecasting.AT_ONCE):
            forecasting.forecast_again(keys[first : first + forecasting.AT_ONCE], TODAY)

    forecast_all()
    told, climates = told_of(slabs, TODAY)
    histories = [h for slab in slabs if (h := told[slab.pk].history) is not None]
    air = forecasting.Airs(TODAY, climates).of(next(iter(climates)))
    took = [(seconds(forecast_all), seconds(lambda: floor(histories, air))) for _ in range(ROUNDS)]
    ours, bare = (median(column) for column in zip(*took, strict=True))
    judging = median(
        seconds(lambda: derive.write_many(slabs, TODAY, "moisture")) for _ in range(ROUNDS)
    )
    twice = SlabForecast.objects.filter(moved_place__isnull=False).count()
    sys.stdout.write(
        f"\n{SLABS} slabs forecast anew and judged, database and all: {SLABS / ours:.0f} a second "
        f"({1e3 * ours / SLABS:.1f} ms each; {twice} carried through two places), "
        f"{ours / bare:.2f} times the bare arithmetic; 100,000 would take "
        f"{ours / SLABS * 1e5 / 60:.0f} minutes of one core.\n"
        f"Judged alone: {SLABS / judging:,.0f} a second; 100,000 would take "
        f"{judging / SLABS * 1e5:.0f} s.\n"
    )
    assert len(histories) == SLABS
    assert SlabForecast.objects.count() == SLABS


def test_one_slab_within_the_request_of_its_check(monkeypatch: pytest.MonkeyPatch) -> None:
    slab, person = make_stock(make_places())[1], make_person("Worker")

    def check() -> float:
        begin = process_time()
        record_check(
            slab, by=person, on=TODAY, meter=None, wood_temp_c=20.0, readings=FIVE,
            now=at(2026, 5, 20, 11),
        )  # fmt: skip
        return process_time() - begin

    check()
    with_forecast = median(check() for _ in range(9))
    alone = median(seconds(lambda: forecasting.write([slab], TODAY)) for _ in range(9))
    monkeypatch.setattr(forecasting, "write", lambda slabs, on: None)
    without = median(check() for _ in range(9))
    sys.stdout.write(
        f"\none check on the record: {1e3 * with_forecast:.0f} ms, "
        f"{1e3 * without:.0f} ms of it without the forecast, which takes {1e3 * alone:.0f} ms\n"
    )
    assert SlabForecast.objects.get(slab=slab).checks == CHECKS + 1
