"""The numbers that the charts of a charge were drawn from, for tables beside them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from statistics import fmean

from django.utils import timezone

from inventory.wood import heat

AirRow = tuple[datetime, float, float, float]
"""A moment, its temperature (°C), relative humidity and EMC (%)."""


@dataclass(frozen=True)
class AirDay:
    """The means of a day's records, of the yard's own day."""

    on: date
    records: int
    temp_c: float
    rh_pct: float
    emc_pct: float


@dataclass(frozen=True)
class ProbeSeen:
    """One probe's readings; `hot_at` is the first of them at the temperature wanted, or None."""

    name: str
    readings: int
    first_at: datetime
    last_at: datetime
    coldest_c: float
    hottest_c: float
    hot_at: datetime | None


def air_days(rows: Sequence[AirRow]) -> tuple[AirDay, ...]:
    """Rows, oldest first, by days; the latest day first."""
    found = []
    for on, some in groupby(rows, key=lambda row: timezone.localtime(row[0]).date()):
        _, temps_c, rhs_pct, emcs_pct = zip(*some, strict=True)
        found.append(AirDay(on, len(temps_c), fmean(temps_c), fmean(rhs_pct), fmean(emcs_pct)))
    return tuple(reversed(found))


def probes_seen(series: Mapping[str, Sequence[tuple[datetime, float]]]) -> tuple[ProbeSeen, ...]:
    """Every probe that has readings (oldest first, °C), in the order of the log."""
    return tuple(_probe(name, readings) for name, readings in series.items() if readings)


def _probe(name: str, readings: Sequence[tuple[datetime, float]]) -> ProbeSeen:
    temps_c = [temp_c for _, temp_c in readings]
    hot_at = next((at for at, temp_c in readings if temp_c >= heat.HOLD_TEMP_C), None)
    first_at, last_at = readings[0][0], readings[-1][0]
    return ProbeSeen(name, len(readings), first_at, last_at, min(temps_c), max(temps_c), hot_at)
