"""Proving, and mending, that every stored result still follows from the facts.

Stored results are compared in batches: memory is bounded and the queries grow with the batches.
Order matters when mending: air, its days and years, then checks, then the shapes of slabs, then
what follows from them.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, TypeVar

import numpy as np
from django.db import models, transaction

from inventory import air_means, checks, derive, forecasting, meter_tests, shapes
from inventory.models import (
    AirDayMean,
    AirRecord,
    Meter,
    MoistureCheck,
    Place,
    Slab,
    SlabForecast,
    SlabShape,
    TypicalYear,
)
from inventory.wood import humidity

M = TypeVar("M", bound=models.Model)
AFTER_SHAPE = tuple(part for part in derive.PARTS if part != "shape")


@dataclass(frozen=True)
class Drift:
    """One stored result that does not follow from the facts."""

    what: str
    field: str
    stored: Any
    implied: Any

    def __str__(self) -> str:
        return f"{self.what}: {self.field} is {self.stored!r}, the facts say {self.implied!r}"


@dataclass(frozen=True)
class Pass:
    """One look through all rows of a kind; `look` yields the drifts of a batch of keys."""

    words: str
    rows: Callable[[], int]
    batches: Callable[[], Iterator[Sequence[int]]]
    look: Callable[[Sequence[int], date, bool], list[Drift]]


def passes(mend: bool, with_forecasts: bool = False) -> list[Pass]:
    """What is looked through, in order; forecasts only when asked, since each is made again."""
    slab_passes = [("shape",), AFTER_SHAPE] if mend else [tuple(derive.PARTS)]
    return [
        _pass("air records", AirRecord.objects.all(), _air),
        _pass("places' air", Place.objects.all(), _place_airs),
        _pass("meters", Meter.objects.all(), _meters),
        _pass("moisture checks", MoistureCheck.objects.all(), _checks),
        *([_pass("forecasts", SlabForecast.objects.all(), _forecasts)] if with_forecasts else []),
        *(_pass("slabs", Slab.objects.all(), _slab_look(parts)) for parts in slab_passes),
    ]


def _pass(
    words: str,
    rows: "models.QuerySet[M]",
    look: Callable[[Sequence[int], date, bool], list[Drift]],
) -> Pass:
    return Pass(words, rows.count, lambda: _batches(rows), look)


def _batches(rows: "models.QuerySet[M]") -> Iterator[list[int]]:
    """Primary keys of all rows, a batch at a time, each batch its own short query."""
    last = 0
    while keys := list(
        rows.filter(pk__gt=last).order_by("pk").values_list("pk", flat=True)[: derive.AT_ONCE]
    ):
        yield keys
        last = keys[-1]


def _slab_look(parts: Iterable[str]) -> Callable[[Sequence[int], date, bool], list[Drift]]:
    def look(keys: Sequence[int], on: date, mend: bool) -> list[Drift]:
        with transaction.atomic():
            slabs = derive.locked(keys) if mend else list(Slab.objects.filter(pk__in=keys))
            changed = derive.differences_many(slabs, on, parts)
            drifts = [
                drift
                for slab in slabs
                for name, implied in changed.get(slab.pk, {}).items()
                for drift in _slab_drifts(slab, name, implied)
            ]
            if mend:
                derive.store(slabs, changed)
        return drifts

    return look


def _slab_drifts(slab: Slab, name: str, implied: Any) -> list[Drift]:
    if not isinstance(implied, shapes.Row):
        return [Drift(slab.display_code, name, getattr(slab, name), implied)]
    what = f"{slab.display_code}, its shape"
    return [
        Drift(what, column, _shape_value(implied.stored, column), _shape_value(now, column))
        for now in [implied.implied]
        for column in implied.differing
    ]


def _shape_value(row: SlabShape | None, column: str) -> Any:
    """A number as it is; an array or a polygon by its length, since it would fill a screen."""
    if row is None or column == "shape":
        return None if row is None else str(row.get_basis_display())
    value = getattr(row, column)
    return f"{len(bytes(value))} bytes" if isinstance(value, bytes | memoryview) else value


def _checks(keys: Sequence[int], on: date, mend: bool) -> list[Drift]:
    """A check's figures against its readings as corrected when they were entered."""
    rows = MoistureCheck.objects.filter(pk__in=keys).select_related("slab")
    drifts = []
    for check in rows.prefetch_related("readings").order_by("pk"):
        figures = checks.figures_of(check)
        changed = {n: v for n, v in figures.items() if not derive.same(getattr(check, n), v)}
        what = f"{check.slab.display_code}, check of {check.on}"
        drifts += [Drift(what, name, getattr(check, name), v) for name, v in changed.items()]
        if mend and changed:
            MoistureCheck.objects.filter(pk=check.pk).rederive(**changed)
    return drifts


def _forecasts(keys: Sequence[int], on: date, mend: bool) -> list[Drift]:
    """Each forecast made again as of its own day; what differs is made anew as of today."""
    rows = SlabForecast.objects.filter(pk__in=keys, slab__in=Slab.objects.in_stock())
    stored = list(rows.select_related("slab__species").order_by("pk"))
    changed = forecasting.differences(stored)
    drifts = [
        Drift(f"{row.slab}, forecast of {row.made_on}", name, _brief(getattr(row, name)), _brief(v))
        for row in stored
        for name, v in changed.get(row.slab_id, {}).items()
    ]
    if mend and changed:
        forecasting.forecast_again(sorted(changed), on)
    return drifts


def _brief(value: Any) -> Any:
    """A curve is told by its first points: whole it would fill the screen."""
    return f"{value[:2]} … of {len(value)}" if isinstance(value, list) else value


def _meters(keys: Sequence[int], on: date, mend: bool) -> list[Drift]:
    """Last and next test of each meter against its tests."""
    drifts = []
    for meter in Meter.objects.filter(pk__in=keys).order_by("pk"):
        implied = meter_tests.stored(meter)
        changed = {name: v for name, v in implied.items() if getattr(meter, name) != v}
        drifts += [Drift(f"{meter}", name, getattr(meter, name), v) for name, v in changed.items()]
        if mend:
            meter_tests.write(meter)
    return drifts


def _air(keys: Sequence[int], on: date, mend: bool) -> list[Drift]:
    """The EMC of each record against its temperature and humidity."""
    records = list(AirRecord.objects.filter(pk__in=keys).select_related("place").order_by("pk"))
    temps_c = np.array([record.temp_c for record in records])
    rhs_pct = np.array([record.rh_pct for record in records])
    drifts = []
    for record, emc in zip(records, humidity.emc_pct(temps_c, rhs_pct), strict=True):
        if derive.same(record.emc_pct, float(emc)):
            continue
        what = f"{record.place}, air of {record.at:%Y-%m-%d %H:%M}"
        drifts.append(Drift(what, "emc_pct", record.emc_pct, float(emc)))
        if mend:
            AirRecord.objects.filter(pk=record.pk).rederive(emc_pct=float(emc))
    return drifts


def _place_airs(keys: Sequence[int], on: date, mend: bool) -> list[Drift]:
    """The means of each place's days against its records, its typical year against its days."""
    drifts = []
    for place in Place.objects.filter(pk__in=keys).order_by("pk"):
        found = [*_days_drifted(place), *_year_drifted(place)]
        if mend and found:
            air_means.write_place(place.pk)
        drifts += found
    return drifts


def _days_drifted(place: Place) -> list[Drift]:
    stored = {day.on: day for day in AirDayMean.objects.filter(place=place)}
    implied = {day.on: day for day in air_means.derived_days(place.pk)}
    return [
        Drift(f"{place}, air of {on}", name, was, now)
        for on in sorted(stored.keys() | implied.keys())
        for name in air_means.FIGURES
        if not derive.same(
            was := getattr(stored.get(on), name, None), now := getattr(implied.get(on), name, None)
        )
    ]


def _year_drifted(place: Place) -> list[Drift]:
    row = TypicalYear.objects.filter(place=place).first()
    stored = row.figures() if row else {}
    implied = air_means.derived_year(place.pk) or {}
    return [
        Drift(f"{place}, typical year", name, stored.get(name), implied.get(name))
        for name in sorted(stored.keys() | implied.keys())
        if not _same_figures(stored.get(name), implied.get(name))
    ]


def _same_figures(stored: Any, implied: Any) -> bool:
    """As derive.same, for the coefficients too; a fit may differ in its last digits."""
    if isinstance(stored, list) and isinstance(implied, list):
        return np.shape(stored) == np.shape(implied) and np.allclose(stored, implied, 0, 1e-7)
    if isinstance(stored, float) and isinstance(implied, float):
        return abs(stored - implied) < 1e-7
    return derive.same(stored, implied)
