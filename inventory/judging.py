"""One slab judged for every purpose it may serve: each use, and pieces the caller names.

Reads the record once, whatever the number of purposes; the rules stand in readiness.py, the
sentences in readiness_advice.py.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from inventory import air, readiness
from inventory.models import Condition, Place, PlaceKind, Slab, SlabForecast
from inventory.readiness import Facts, Target, Use, Verdict
from inventory.readiness_advice import Air, Arrival, Surroundings, advised


@dataclass(frozen=True)
class Purpose:
    """Something a slab may be for: `key` names it in the address, `words` on the page."""

    key: str
    words: str
    target: Target


@dataclass(frozen=True)
class Choice:
    """A purpose with the verdict for it."""

    purpose: Purpose
    verdict: Verdict
    is_chosen: bool

    @property
    def shape(self) -> str:
        return self.verdict.shape

    @property
    def condition_words(self) -> str:
        return str(Condition(self.verdict.condition).label)


@dataclass(frozen=True)
class Judged:
    """`uses` and `pieces` to choose from; `chosen` is one of them."""

    uses: tuple[Choice, ...]
    pieces: tuple[Choice, ...]
    chosen: Choice

    @property
    def verdict(self) -> Verdict:
        return self.chosen.verdict

    @property
    def is_for_piece(self) -> bool:
        return any(choice.is_chosen for choice in self.pieces)


USES = (
    Purpose(Use.INTERIOR.value, "Interior furniture", readiness.target_for(Use.INTERIOR)),
    Purpose(Use.RESIN.value, "Resin work", readiness.target_for(Use.RESIN)),
    Purpose(Use.OUTDOOR.value, "Outdoor use", readiness.target_for(Use.OUTDOOR)),
)


def judge_for(
    slab: Slab, on: date, system: str, asked: str = "", pieces: Sequence[Purpose] = ()
) -> Judged:
    """The verdict for every use and piece, the one asked for chosen; the first use when unknown.

    Five queries. Lengths are in `system`.
    """
    facts = readiness.facts_of([slab])[slab.pk]
    forecast = _forecast_since(slab, facts)
    around = surroundings_of(slab, on)
    purposes = [*USES, *pieces]
    key = asked if asked in {purpose.key for purpose in purposes} else USES[0].key
    choices = tuple(
        Choice(
            purpose,
            advised(
                readiness.judge(facts, purpose.target, on),
                facts,
                system,
                around,
                arrival=_arrival(forecast, purpose.target),
            ),
            purpose.key == key,
        )
        for purpose in purposes
    )
    chosen = next(choice for choice in choices if choice.is_chosen)
    return Judged(choices[: len(USES)], choices[len(USES) :], chosen)


def _forecast_since(slab: Slab, facts: Facts) -> SlabForecast | None:
    """The stored forecast, where it knows of the latest check and of where the slab lies."""
    latest = facts.latest
    known = SlabForecast.objects.filter(slab=slab, place=slab.place_id)
    return known.filter(check_id=latest.pk).first() if latest else None


def _arrival(forecast: SlabForecast | None, target: Target) -> Arrival | None:
    """When it reaches this target; what is stored is for interior dryness, and so for its like."""
    if forecast is None or forecast.target_high_pct != target.high_pct:
        return None
    return Arrival(forecast.low_on, forecast.median_on)


def surroundings_of(slab: Slab, on: date) -> Surroundings:
    """The working EMC of the slab's place and of all others on a day; two queries."""
    places = list(Place.objects.order_by("position", "name"))
    emcs = air.working_emcs([place.pk for place in places], air.end_of(on))
    here = next((_air(one, emcs) for one in places if one.pk == slab.place_id), None)
    others = tuple(_air(one, emcs) for one in places if one.pk != slab.place_id)
    return Surroundings(here, others)


def _air(place: Place, emcs: dict[int, float | None]) -> Air:
    is_kiln = place.kind == PlaceKind.KILN
    return Air(place.name, emcs[place.pk], place.has_shop_air, is_kiln)
