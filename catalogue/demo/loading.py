"""Loading the whole invented yard: all of it or nothing, in one transaction."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from collections.abc import Set as AbstractSet
from contextlib import AbstractContextManager, nullcontext
from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from typing import Protocol

from django.db import transaction

from catalogue.demo import courses, kilns, mark, outlines, pictures, scale, stock, studio
from catalogue.demo.clock import Clock
from catalogue.demo.notes import load_notes
from catalogue.demo.readings import Box
from catalogue.demo.rounds import Rounds, dry, load_checks
from catalogue.demo.slips import load_slips
from catalogue.demo.stock import Yard
from catalogue.demo.studio import Drawn, Stack
from catalogue.demo.weather import DailyAir, daily_air, records
from inventory import air_means, derive, forecasting, parcels, watch
from inventory.demo.source import load_source
from inventory.demo.yard import Charge, DemoSource, Log
from inventory.demo.yard import Parcel as SourceParcel
from inventory.models import AirRecord, Photo, Slab

SEED = 20_117
STEP = 40  # what one part of the record weighs beside one picture, for the progress bar

Air = dict[str, DailyAir]
Artist = Callable[[Sequence[Stack]], AbstractContextManager[Iterator[Drawn]]]


class Progress(Protocol):
    """Somebody who watches: how much there is to do, what is being done, how much is done."""

    def begin(self, total: int) -> None: ...
    def stage(self, words: str) -> None: ...
    def forward(self, done: int = 1) -> None: ...


class Unwatched:
    """Nobody."""

    def begin(self, total: int) -> None: ...
    def stage(self, words: str) -> None: ...
    def forward(self, done: int = 1) -> None: ...


def load(
    now: datetime,
    *,
    progress: Progress | None = None,
    logs: int | None = None,
    draw: Artist | None = studio.drawing,
    seed: int = SEED,
) -> Yard:
    """Put the invented workshop on the record as of `now`: every log, or only so many of them.

    `draw` makes the pictures; None leaves the slabs without.

    Raises:
        mark.OtherSlabs: with a sentence, where the database is not empty.
    """
    watched = progress or Unwatched()
    chosen = _chosen(load_source(mark.FIXTURES), logs)
    yard = Yard(chosen, load_notes(mark.FIXTURES), Clock(now), seed)
    with transaction.atomic():
        mark.refuse_another_yard()
        watched.stage("Sawing the logs")
        stock.load_stock(yard)
        artist = draw or _no_pictures
        stacks = pictures.stacks(yard) if draw else []
        watched.begin((len(_RECORD) + 2) * STEP + pictures.count(stacks))
        with artist(stacks) as drawn:
            _load_record(yard, watched)
            _settle(yard, watched)
            _load_pictures(yard, drawn, watched)
        scale.load(yard)
        watch.look_over_yard(yard.clock.today)
    return yard


def _settle(yard: Yard, watched: Progress) -> None:
    """What follows from the record: how dry each slab is, and when it will be dry.

    None of it waits for the pictures, which other processes draw meanwhile.
    """
    watched.stage("Looking ahead")
    derive.write_many(_slabs(yard), yard.clock.today, "moisture", "standing")
    load_slips(yard)
    keys = forecasting.wanting(yard.clock.today)
    for first in range(0, len(keys), derive.AT_ONCE):
        forecasting.forecast_again(keys[first : first + derive.AT_ONCE], yard.clock.today)
    watched.forward(STEP)


def _load_pictures(yard: Yard, drawn: Iterable[Drawn], watched: Progress) -> None:
    """Photographs as they are finished, and the outlines traced on them."""
    watched.stage("Drawing the slabs")
    tracer = outlines.Tracer(yard)
    pictures.store(yard, _kept(yard, drawn, tracer, watched))
    watched.stage("Tracing the slabs")
    outlines.load(tracer)
    slabs = _slabs(yard)
    # Costs go by the stored shapes.
    derive.write_many(slabs, yard.clock.today, "shape", "cover")
    derive.write_many(slabs, yard.clock.today, "cost")
    watched.forward(STEP)


def _slabs(yard: Yard) -> list[Slab]:
    return derive.locked([piece.slab.pk for piece in yard.pieces])


def _no_pictures(stacks: Sequence[Stack]) -> AbstractContextManager[Iterator[Drawn]]:
    return nullcontext(iter(()))


def _kept(
    yard: Yard, drawn: Iterable[Drawn], tracer: outlines.Tracer, watched: Progress
) -> list[Photo]:
    photos = []
    for one in drawn:
        photo = pictures.keep(yard, one)
        tracer.look_at(yard.pieces[one.key], photo)
        photos.append(photo)
        watched.forward()
    return photos


# --- the record ------------------------------------------------------------------------


def _load_record(yard: Yard, watched: Progress) -> None:
    air = {row.name: daily_air(row, yard.clock, yard.seed) for row in yard.source.places}
    for words, step in _RECORD.items():
        watched.stage(words)
        step(yard, air)
        watched.forward(STEP)


def _load_air(yard: Yard, air: Air) -> None:
    workers = yard.of_role("worker")
    for order, row in enumerate(yard.source.places):
        by = workers[order % len(workers)]
        place = yard.places[row.name]
        found = records(place, row, air[row.name], by, yard.clock, yard.seed)
        kilns.heat(yard, place, found)
        AirRecord.objects.bulk_create(found, batch_size=derive.AT_ONCE)
        air_means.write_place(place.pk)


def _load_checks(yard: Yard, air: Air) -> None:
    box = Box.of(list(yard.meters.values()))
    load_checks(Rounds(yard, air, dry(yard, air), box))


def _load_promises(yard: Yard, air: Air) -> None:
    courses.load_gone(yard)
    courses.load_promises(yard, courses.load_commissions(yard))
    courses.load_markdowns(yard)


_RECORD: dict[str, Callable[[Yard, Air], None]] = {
    "Stacking and drying": lambda yard, air: courses.load_moves(yard),
    "Writing down the air": _load_air,
    "Going round with the meter": _load_checks,
    "Selling and promising": _load_promises,
}


# --- a smaller yard ----------------------------------------------------------------------


def _chosen(source: DemoSource, logs: int | None) -> DemoSource:
    """The source with only so many of its logs, those with promised slabs among them."""
    if logs is None or logs >= len(source.logs):
        return source
    promised = {row.log for row in source.holds if (row.until_in_days or 0) >= 0}
    some = [log for log in source.logs if log.code in promised]
    rest = [log for log in source.logs if log.code not in promised]
    few = min(len(some), logs // 2)
    codes = {log.code for log in [*_spread(some, few), *_spread(rest, logs - few)]}
    return _only(source, codes)


def _spread(logs: Sequence[Log], count: int) -> list[Log]:
    """That many, from all along the list, its last among them."""
    return [logs[(i + 1) * len(logs) // count - 1] for i in range(count)]


def _only(source: DemoSource, codes: AbstractSet[str]) -> DemoSource:
    return replace(
        source,
        logs=tuple(log for log in source.logs if log.code in codes),
        parcels=tuple(_part(parcel, source, codes) for parcel in source.parcels),
        holds=tuple(hold for hold in source.holds if hold.log in codes),
        gone=tuple(gone for gone in source.gone if gone.log in codes),
        charges=tuple(_load(charge, codes) for charge in source.charges if codes & {*charge.logs}),
    )


def _load(charge: Charge, codes: AbstractSet[str]) -> Charge:
    return replace(charge, logs=tuple(code for code in charge.logs if code in codes))


def _part(parcel: SourceParcel, source: DemoSource, codes: AbstractSet[str]) -> SourceParcel:
    """What the chosen logs of a parcel cost, by their share of its slabs."""
    slabs = {log.code: len(log.thicknesses_mm) for log in source.logs if log.parcel == parcel.code}
    chosen = sum(count for code, count in slabs.items() if code in codes)
    share = Decimal(chosen) / max(1, sum(slabs.values()))
    names = ("timber_cost", "sawing_cost", "haulage_cost", "drying_cost")
    costs = {name: (getattr(parcel, name) * share).quantize(parcels.CENT) for name in names}
    return replace(parcel, **costs)
