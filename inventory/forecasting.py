"""When slabs will be dry: the one place that derives the stored forecasts and writes them.

`forecasts_for` derives, for many slabs at once; `store_forecasts` writes. `write` does both, in
the transaction of a check, a move or a change of stage; `manage.py reforecast` does it in bulk. A
forecast starts from its own day and the facts of that day, so it can be made again exactly
(`manage.py rederive --forecasts`). What is asked for other targets, places or pieces is computed
when asked and not stored.
"""

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from math import ceil
from typing import Any

import numpy as np
import numpy.typing as npt
from django.db import transaction

from inventory import derive
from inventory.models import ForecastState, Place, PlaceKind, Slab, SlabForecast, Standing
from inventory.models.place import SHOP_AIR
from inventory.readiness import INTERIOR, Target
from inventory.slab_histories import Told, air_mark, climates_on, told_of
from inventory.wood.climate import FutureAir, PlaceClimate, future_air
from inventory.wood.drying import Forecast, fit_parts
from inventory.wood.drying_fit import Fitted
from inventory.wood.forecast import carry

SAMPLES = 64
HORIZON_DAYS = 1461
STEP_DAYS = 7
YEAR_DAYS = 365
# Within one request; more slabs moved at once get theirs from the page or the command.
MOST_IN_A_REQUEST = 40
AT_ONCE = 256
# A room dries wood to the target when its air wants it this much drier.
DRY_ROOM_MARGIN_PCT = 0.5
CURVE_POINTS = 40
CURVE_PAST_DAYS = 56
ARRIVAL_SHARES = np.arange(0.05, 0.951, 0.05)


@dataclass
class Airs:
    """The air to come in each place from a day on, read and drawn when first asked for."""

    on: date
    climates: dict[int, PlaceClimate] = field(default_factory=dict)
    _drawn: dict[int, FutureAir] = field(default_factory=dict)

    def know(self, place_pks: Iterable[int]) -> None:
        """Read the climates of these places that are not at hand; one query at most."""
        if missing := set(place_pks) - self.climates.keys():
            self.climates |= climates_on(missing, self.on)

    def of(self, place_pk: int) -> FutureAir:
        """The same samples for the same records and day, whoever asks. KeyError when not known.

        No place has numbers of its own to draw by: rooms are compared by their air, not by chance.
        """
        if place_pk not in self._drawn:
            self._drawn[place_pk] = future_air(
                self.climates[place_pk],
                last_known_day=self.on.toordinal() - 1,
                samples=SAMPLES,
                horizon_days=HORIZON_DAYS,
                step_days=STEP_DAYS,
            )
        return self._drawn[place_pk]

    def yearly_emc_pct(self, place_pk: int) -> float:
        """Mean EMC of the place's typical year."""
        days = self.on.toordinal() + np.arange(YEAR_DAYS)
        return float(self.climates[place_pk].typical(days)[0].mean())


@dataclass(frozen=True)
class Fits:
    """What is known of slabs on a day, ready to be carried through any place's air.

    `parts` pairs slabs with their fits; slabs without enough to go by are in none.
    """

    told: dict[int, Told]
    airs: Airs
    parts: Iterator[tuple[list[Slab], Fitted]]


def fits_of(slabs: Sequence[Slab], on: date) -> Fits:
    """Read and fit: some four queries however many slabs. They come with their species."""
    told, climates = told_of(slabs, on)
    return Fits(told, Airs(on, climates), _parts(slabs, told))


def _parts(slabs: Sequence[Slab], told: dict[int, Told]) -> Iterator[tuple[list[Slab], Fitted]]:
    usable = [(slab, h) for slab in slabs if (h := told[slab.pk].history) is not None]
    for places, fitted in fit_parts([history for _, history in usable], SAMPLES):
        yield [usable[place][0] for place in places], fitted


def carried_through(
    fitted: Fitted, places: Sequence[int | None], airs: Airs, target_pct: float
) -> list[Forecast | None]:
    """Each slab of a fit in its place's air; None where that is not known."""
    found: list[Forecast | None] = [None] * len(places)
    for place in {pk for pk in places if pk in airs.climates}:
        assert place is not None
        here = np.flatnonzero([pk == place for pk in places])
        for at, forecast in zip(
            here, _carry(fitted, here, airs.of(place), target_pct), strict=True
        ):
            found[int(at)] = forecast
    return found


def _carry(
    fitted: Fitted, some: npt.NDArray[np.intp], air: FutureAir, target_pct: float
) -> list[Forecast]:
    return carry(fitted.take(some), air, target_pct)


def answers_for(slabs: Sequence[Slab], on: date, target: Target) -> dict[int, Forecast]:
    """For a target of one's own, where each slab lies; those nothing can be said of are absent."""
    fits = fits_of(slabs, on)
    found: dict[int, Forecast] = {}
    for some, fitted in fits.parts:
        places = [slab.place_id for slab in some]
        answers = carried_through(fitted, places, fits.airs, target.high_pct)
        found |= {s.pk: a for s, a in zip(some, answers, strict=True) if a is not None}
    return found


# --- deriving what is stored -------------------------------------------------------------------


def forecasts_for(slabs: Sequence[Slab], on: date) -> list[SlabForecast]:
    """The stored forecast of each slab as of that day, unsaved, in their order."""
    fits = fits_of(slabs, on)
    found: dict[int, SlabForecast] = {}
    for some, fitted in fits.parts:
        rows = _rows(some, fitted, fits)
        _say_where_instead(rows, fitted, fits.airs)
        found |= {row.slab_id: row for row in rows}
    rows = [found.get(slab.pk) or _unknown(slab, fits) for slab in slabs]
    for row in rows:
        row.air_marks = _air_marks(row, fits)
    return rows


def _rows(slabs: Sequence[Slab], fitted: Fitted, fits: Fits) -> list[SlabForecast]:
    places = [slab.place_id for slab in slabs]
    answers = carried_through(fitted, places, fits.airs, INTERIOR.high_pct)
    return [
        _unknown(slab, fits) if answer is None else _row(slab, answer, fits)
        for slab, answer in zip(slabs, answers, strict=True)
    ]


def _row(slab: Slab, answer: Forecast, fits: Fits) -> SlabForecast:
    on = fits.airs.on
    row = _bare(slab, fits)
    row.state = state_of(answer)
    row.now_pct = round(answer.now_pct, 2)
    row.low_on, row.median_on, row.high_on = dates_of(answer, on)
    if answer.emc_in_the_way_pct is not None:
        row.emc_in_the_way_pct = round(answer.emc_in_the_way_pct, 2)
    row.arrival_days = arrival_days(answer)
    row.curve = curve_of(answer)
    return row


def _unknown(slab: Slab, fits: Fits) -> SlabForecast:
    """A row that says why there is no answer."""
    row = _bare(slab, fits)
    if slab.place_id is None:
        row.state = ForecastState.NO_PLACE
    elif slab.place_id not in fits.airs.climates:
        row.state = ForecastState.NO_AIR
    else:
        row.state = ForecastState.NO_CHECKS
    return row


def _bare(slab: Slab, fits: Fits) -> SlabForecast:
    on, told = fits.airs.on, fits.told[slab.pk]
    return SlabForecast(
        slab=slab,
        target_low_pct=INTERIOR.low_pct,
        target_high_pct=INTERIOR.high_pct,
        made_on=on,
        horizon_on=on + timedelta(days=HORIZON_DAYS),
        place_id=slab.place_id,
        check_id=told.check_id,
        checks=told.checks,
        marks=told.marks,
    )


def state_of(answer: Forecast) -> ForecastState:
    if answer.is_there:
        return ForecastState.DRY_NOW
    if answer.is_never:
        return ForecastState.NEVER
    return ForecastState.BEYOND if answer.median_day is None else ForecastState.WILL_ARRIVE


def dates_of(answer: Forecast, on: date) -> tuple[date | None, date | None, date | None]:
    """The 10, 50 and 90 % points as days, counted from the day the forecast begins."""
    low, median, high = (
        None if day is None else on + timedelta(days=ceil(day))
        for day in (answer.low_day, answer.median_day, answer.high_day)
    )
    return low, median, high


def arrival_days(answer: Forecast) -> list[int | None]:
    """Days by which it is there with probability 5, 10 … 95 %; None beyond the horizon."""
    known = np.isfinite(answer.arrivals)
    middle = (np.cumsum(answer.shares) - answer.shares / 2.0)[known]
    if len(middle) == 0:
        return [None] * len(ARRIVAL_SHARES)
    days = np.interp(ARRIVAL_SHARES, middle, answer.arrivals[known])
    reached = float(answer.shares[known].sum())
    return [
        ceil(day) if share <= reached else None
        for day, share in zip(days, ARRIVAL_SHARES, strict=True)
    ]


def curve_of(answer: Forecast) -> list[list[float]]:
    """[days, low, middle, high] of the mean, to a little beyond the arrival; 40 points at most."""
    end = answer.high_day or answer.median_day
    until = YEAR_DAYS if end is None or answer.is_never else end + CURVE_PAST_DAYS
    count = int((answer.curve_days <= max(until, 4.0 * CURVE_PAST_DAYS)).sum())
    chosen = np.unique(np.linspace(0, count - 1, min(count, CURVE_POINTS)).round().astype(int))
    columns = (answer.curve_low_pct, answer.curve_pct, answer.curve_high_pct)
    return [
        [round(float(answer.curve_days[i])), *(round(float(c[i]), 1) for c in columns)]
        for i in chosen
    ]


def _say_where_instead(rows: Sequence[SlabForecast], fitted: Fitted, airs: Airs) -> None:
    """For those that will not get there: when they would, moved today to a room indoors."""
    stopped = (ForecastState.NEVER, ForecastState.BEYOND)
    here = np.array([i for i, row in enumerate(rows) if row.state in stopped], dtype=np.intp)
    place = _room_to_dry_in(airs) if len(here) else None
    if place is None:
        return
    for at, answer in zip(
        here, _carry(fitted, here, airs.of(place), INTERIOR.high_pct), strict=True
    ):
        row = rows[int(at)]
        row.moved_place_id = place
        row.moved_low_on, row.moved_median_on, row.moved_high_on = dates_of(answer, airs.on)


def _room_to_dry_in(airs: Airs) -> int | None:
    """The first kind of room indoors that has one dry enough through the year; there, the driest.

    Where none is dry enough, the driest of all.
    """
    indoors = Place.objects.filter(kind__in=SHOP_AIR).order_by("position", "pk")
    kinds = dict(indoors.values_list("pk", "kind"))
    airs.know(kinds)
    emcs = {pk: airs.yearly_emc_pct(pk) for pk in kinds if pk in airs.climates}
    dry = [pk for pk, emc in emcs.items() if emc < INTERIOR.high_pct - DRY_ROOM_MARGIN_PCT]
    preferred = min((SHOP_AIR.index(PlaceKind(kinds[pk])) for pk in dry), default=None)
    among = [pk for pk in dry if SHOP_AIR.index(PlaceKind(kinds[pk])) == preferred] or list(emcs)
    return min(among, key=emcs.__getitem__, default=None)


def _air_marks(row: SlabForecast, fits: Fits) -> str:
    places = set(fits.told[row.slab_id].places)
    if row.moved_place_id is not None:
        places.add(row.moved_place_id)
    marks = [air_mark(fits.airs.climates[pk]) for pk in sorted(places)]
    return hashlib.sha256("".join(marks).encode()).hexdigest()[:16] if marks else ""


# --- writing ---------------------------------------------------------------------------------


def store_forecasts(rows: Sequence[SlabForecast]) -> None:
    """The only writer of the table: each row takes the place of the slab's last."""
    SlabForecast.objects.bulk_create(
        rows,
        batch_size=AT_ONCE,
        update_conflicts=True,
        unique_fields=["slab"],
        update_fields=[_FIELDS.get(name, name) for name in SlabForecast.figures],
    )


_FIELDS = {"place_id": "place", "moved_place_id": "moved_place"}


def write(slabs: Sequence[Slab], on: date) -> None:
    """Forecast anew in the transaction of a fact that changed, before derive writes what is due.

    Of more slabs than a request has time for the old answers go, and the new are made later.
    """
    here = [slab for slab in slabs if slab.standing != Standing.GONE]
    if len(here) > MOST_IN_A_REQUEST:
        SlabForecast.objects.filter(slab__in=[slab.pk for slab in here]).delete()
    elif here:
        store_forecasts(forecasts_for(here, on))


def forecast_again(keys: Sequence[int], on: date) -> int:
    """Forecast these slabs anew, and when each is next due a check; returns how many."""
    with transaction.atomic():
        slabs = derive.locked(keys)
        store_forecasts(forecasts_for(slabs, on))
        derive.write_many(slabs, on, "moisture")
    return len(slabs)


def wanting(on: date) -> list[int]:
    """Keys of the slabs in stock whose forecast is missing or stale, those without one first."""
    stock = Slab.objects.in_stock()
    without = list(stock.filter(forecast__isnull=True).order_by("pk").values_list("pk", flat=True))
    stale = SlabForecast.objects.stale(on=on).filter(slab__in=stock.values("pk"))
    return without + list(stale.order_by("made_on", "slab").values_list("slab_id", flat=True))


def fresh(slab: Slab, on: date) -> SlabForecast | None:
    """The slab's stored forecast, made anew when it no longer tells; None for one that is gone."""
    if slab.standing == Standing.GONE:
        return None
    row = SlabForecast.objects.select_related("place", "moved_place").filter(slab=slab).first()
    if row is None or not row.is_of(slab.latest_check_id, slab.place_id, on):
        forecast_again([slab.pk], on)
        row = SlabForecast.objects.select_related("place", "moved_place").get(slab=slab)
    return row


# --- proving ---------------------------------------------------------------------------------


def differences(stored: Sequence[SlabForecast]) -> dict[int, dict[str, Any]]:
    """What each row should say, made again as of its own day, where that differs, by slab.

    Air that came on record later makes a forecast stale, not wrong: such a row is left alone
    unless its own facts differ too. Sums of a batch may differ in their last digits: a day, or a
    tenth of a percent, is no difference.
    """
    found: dict[int, dict[str, Any]] = {}
    for day in sorted({row.made_on for row in stored}):
        rows = [row for row in stored if row.made_on == day]
        for was, now in zip(rows, forecasts_for([row.slab for row in rows], day), strict=True):
            if was.marks == now.marks and was.air_marks != now.air_marks:
                continue
            implied, values = now.values(), was.values()
            off = {n: v for n, v in implied.items() if not _same_figure(n, values[n], v)}
            if off:
                found[was.slab_id] = off
    return found


_EXACT = {"place_id", "check_id", "checks", "moved_place_id", "made_on", "horizon_on"}


def _same_figure(name: str, stored: Any, implied: Any) -> bool:
    return bool(stored == implied) if name in _EXACT else _alike(stored, implied)


def _alike(stored: Any, implied: Any) -> bool:
    if isinstance(stored, list) and isinstance(implied, list):
        pairs = zip(stored, implied, strict=False)
        return len(stored) == len(implied) and all(_alike(one, other) for one, other in pairs)
    if isinstance(stored, date) and isinstance(implied, date):
        return abs((stored - implied).days) <= 1
    if isinstance(stored, int | float) and isinstance(implied, int | float):
        return abs(stored - implied) <= (1 if isinstance(stored, int) else 0.101)
    return bool(stored == implied)
