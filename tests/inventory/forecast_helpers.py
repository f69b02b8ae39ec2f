"""What tests of forecasts share: a place with a year of air, and wood drying in it."""

import math
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import numpy as np

from inventory import air_means, derive, forecasting
from inventory import checks as checks_of_record
from inventory.models import (
    AirRecord,
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
from inventory.wood import humidity
from tests.factories import at, make_place, make_slab

TODAY = date(2026, 5, 20)
YEAR_DAYS = 400
TEMP_C = 20.0


def make_air(
    emc_pct: float, *, swing_pct: float = 0.5, kind: str = PlaceKind.SHOP, **kwargs: Any
) -> Place:
    """A place with a record a day of its air for over a year, to yesterday, at 20 °C."""
    place = make_place(kind, **kwargs)
    days = [TODAY - timedelta(days=n) for n in range(YEAR_DAYS, 0, -1)]
    wanted = [emc_pct + swing_pct * math.sin(d.toordinal() / 58.0) + _weather(d) for d in days]
    rh = humidity.rh_pct_for_emc(TEMP_C, np.array(wanted))
    emc = humidity.emc_pct(TEMP_C, rh)
    AirRecord.objects.bulk_create(
        AirRecord(
            place=place, at=at(day.year, day.month, day.day, 12), temp_c=TEMP_C,
            rh_pct=rh_pct, given_value=rh_pct, emc_pct=emc_pct,
        )
        for day, rh_pct, emc_pct in zip(days, rh.tolist(), emc.tolist(), strict=True)
    )  # fmt: skip
    air_means.write_place(place.pk)
    return place


def _weather(day: date) -> float:
    """Something like weather, the same each time."""
    return 0.6 * math.sin(day.toordinal() * 0.7) + 0.4 * math.sin(day.toordinal() * 0.23)


def falling_to(
    emc_pct: float, start_pct: float = 40.0, months: float = 5.0
) -> Callable[[int], float]:
    """Moisture by days since sawing: toward the EMC, all but 1/e of the way in so many months."""
    return lambda days: emc_pct + (start_pct - emc_pct) * math.exp(-days / (30.4 * months))


def make_drying(
    place: Place,
    moisture: Callable[[int], float],
    *,
    days: int = 300,
    checks: int = 5,
    **kwargs: Any,
) -> Slab:
    """A slab that has lain there since it was sawn, checked evenly, the last time a week ago."""
    sawn_on = TODAY - timedelta(days=days)
    slab = make_slab(place=place, sawn_on=sawn_on, **kwargs)
    kind = StageKind.SHOP if place.has_shop_air else StageKind.AIR
    DryingStage.objects.create(slab=slab, kind=kind, place=place, started_on=sawn_on)
    for n in range(1, checks + 1):
        since = round((days - 7) * n / checks)
        read(slab, sawn_on + timedelta(days=since), moisture(since))
    derive.write(slab, TODAY, "moisture")
    return slab


def read(slab: Slab, on: date, mean_pct: float) -> MoistureCheck:
    """A trusted check in three places, shell and core half a percent either side of the mean."""
    zones = ((Zone.BETWEEN, 0.0), (Zone.SHELL, -0.5), (Zone.CORE, 0.5), (Zone.BETWEEN, 0.0))
    check = MoistureCheck.objects.create(slab=slab, on=on, at=at(on.year, on.month, on.day))
    Reading.objects.bulk_create(
        Reading(
            moisture_check=check, position=i, zone=zone, raw_pct=mean_pct + apart,
            corrected_pct=mean_pct + apart, is_corrected=True, along=0.2 * (i + 1),
        )
        for i, (zone, apart) in enumerate(zones)
    )  # fmt: skip
    MoistureCheck.objects.filter(pk=check.pk).rederive(**checks_of_record.figures_of(check))
    return check


def dates(row: SlabForecast) -> tuple[date, date, date]:
    """Its 10, 50 and 90 % points, all of which it must have."""
    assert row.low_on is not None
    assert row.median_on is not None
    assert row.high_on is not None
    return row.low_on, row.median_on, row.high_on


def forecast(slab: Slab) -> SlabForecast:
    """Its forecast, made as of TODAY, with the slab as it then stands."""
    forecasting.forecast_again([slab.pk], TODAY)
    related = ("slab__species", "place", "moved_place")
    return SlabForecast.objects.select_related(*related).get(slab=slab)
