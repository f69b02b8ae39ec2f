"""What if it moved: when a slab would be dry in every place the shop has, for any target.

One fit of its readings, carried through each place's air; nothing is stored.
"""

from dataclasses import dataclass
from datetime import date

from inventory import forecasting
from inventory.forecast_words import (
    WET_CAUTION,
    WET_PCT,
    Answer,
    chance_words,
    moved_words,
    stored_answer,
)
from inventory.models import ForecastState, Place, PlaceKind, Slab, SlabForecast
from inventory.readiness import Target
from inventory.wood.drying import Forecast
from inventory.wood.forecast import carry

# A yearly mean this far above the target's top is sure to wet dry wood again; nearer, it may not.
WETS_BEYOND_PCT = 1.0


@dataclass(frozen=True)
class When:
    """What a slab's own page says: the stored answer, and where it would get there instead."""

    row: SlabForecast
    answer: Answer
    moved: str


@dataclass(frozen=True)
class InPlace:
    """The answer for one place. `p` is the chance of being dry enough by the day asked about."""

    place: Place
    is_here: bool
    answer: Answer
    p: float | None
    air_words: str
    settles_pct: float | None = None

    @property
    def wets_it(self) -> bool:
        """Dry enough now, but this air would bring it above the target again."""
        above = self.settles_pct is not None and (
            self.settles_pct > self.answer.target.high_pct + WETS_BEYOND_PCT
        )
        return above and self.answer.state == ForecastState.DRY_NOW

    @property
    def chance(self) -> str:
        """Said only where it means something: not of wood that would be wetted again."""
        return "" if self.p is None or self.wets_it else chance_words(self.p)


@dataclass(frozen=True)
class WhatIf:
    """Every place, where it lies first, then the soonest; `why_not` where nothing can be said."""

    target: Target
    by: date | None
    places: tuple[InPlace, ...]
    caution: str
    why_not: str = ""

    @property
    def here(self) -> InPlace | None:
        return next((one for one in self.places if one.is_here), None)

    @property
    def best(self) -> InPlace | None:
        """The soonest elsewhere, when it is sooner than where it lies."""
        found = next((one for one in self.places if not one.is_here and _day(one)), None)
        here = _day(self.here) if self.here else None
        if found is None or _is_dry(self.here):
            return None
        soonest = _day(found)
        assert soonest is not None
        return found if here is None or soonest < here else None


def when_of(slab: Slab, on: date) -> When | None:
    """None for a slab that is gone."""
    row = forecasting.fresh(slab, on)
    if row is None:
        return None
    return When(row, stored_answer(row, on), moved_words(row, on))


def what_if(slab: Slab, on: date, target: Target, by: date | None = None) -> WhatIf:
    """The same question asked of every place; some seven queries. `slab` has its species."""
    places = list(Place.objects.order_by("position", "name"))
    fits = forecasting.fits_of([slab], on)
    fits.airs.know([place.pk for place in places])
    part = next(fits.parts, None)
    if part is None:
        return WhatIf(target, by, (), "", _why_not(slab, target, on))
    _, fitted = part
    checks = fits.told[slab.pk].checks
    found = []
    for place in places:
        known = place.pk in fits.airs.climates
        forecast = carry(fitted, fits.airs.of(place.pk), target.high_pct)[0] if known else None
        found.append(_in_place(slab, place, forecast, target, by, fits.airs, checks))
    now_pct = next((one.answer.now_pct for one in found if one.answer.now_pct is not None), None)
    caution = WET_CAUTION if now_pct is not None and now_pct > WET_PCT else ""
    return WhatIf(target, by, tuple(sorted(found, key=_order)), caution)


def _in_place(
    slab: Slab,
    place: Place,
    forecast: Forecast | None,
    target: Target,
    by: date | None,
    airs: forecasting.Airs,
    checks: int,
) -> InPlace:
    is_here = place.pk == slab.place_id
    if forecast is None:
        unknown = Answer(ForecastState.NO_AIR, target, place.name, airs.on)
        return InPlace(place, is_here, unknown, None, "Its air is not on record.")
    p = None if by is None else forecast.p_by(float((by - airs.on).days))
    answer = answer_of(forecast, target, place.name, airs.on, checks)
    settles_pct = airs.yearly_emc_pct(place.pk)
    return InPlace(place, is_here, answer, p, _air_words(place, airs), settles_pct)


def answer_of(forecast: Forecast, target: Target, place: str, on: date, checks: int = 0) -> Answer:
    """A forecast just made, to be put into words."""
    low_on, median_on, high_on = forecasting.dates_of(forecast, on)
    return Answer(
        state=forecasting.state_of(forecast),
        target=target,
        place=place,
        on=on,
        now_pct=forecast.now_pct,
        low_on=low_on,
        median_on=median_on,
        high_on=high_on,
        emc_pct=forecast.emc_in_the_way_pct,
        checks=checks,
    )


def _air_words(place: Place, airs: forecasting.Airs) -> str:
    climate = airs.climates[place.pk]
    emc = f"{airs.yearly_emc_pct(place.pk):.1f}\N{NO-BREAK SPACE}%"
    kind = "typical year" if climate.has_curve else "flat mean, little on record"
    kiln = "; as the kiln has been run so far" if place.kind == PlaceKind.KILN else ""
    return f"EMC about {emc} ({kind}{kiln})"


def _why_not(slab: Slab, target: Target, on: date) -> str:
    state = ForecastState.NO_PLACE if slab.place_id is None else ForecastState.NO_CHECKS
    return Answer(state, target, "", on).sentence


def _order(one: InPlace) -> tuple[bool, bool, date]:
    """Where it lies first, then the soonest, then as a worker walks (the sort is stable)."""
    day = _day(one)
    return not one.is_here, day is None, day or date.max


def _day(one: InPlace) -> date | None:
    return one.answer.median_on


def _is_dry(one: InPlace | None) -> bool:
    return one is not None and one.answer.state == ForecastState.DRY_NOW
