"""People, places, meters, parcels, logs and slabs of the invented yard, put on the record."""

import random
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal

from django.contrib.auth.hashers import make_password
from django.contrib.auth.models import Group

from catalogue.demo import mark
from catalogue.demo.clock import Clock, chance
from catalogue.demo.notes import Pool, asking_price, note
from inventory import codes, derive, ledger, slab_words
from inventory.demo import yard as source
from inventory.demo.shape import DemoShape, widths_at
from inventory.models import (
    Bay,
    CostKind,
    Fault,
    Figure,
    LedgerEntry,
    LedgerKind,
    Log,
    Meter,
    Parcel,
    ParcelCost,
    Person,
    Place,
    Sawn,
    Slab,
    Species,
    SplitBasis,
)
from inventory.wood.outline import from_least_middle_greatest

UNPRICED_DAYS = 60  # nobody prices a slab that still drips
STATIONS = 9
IN_HASTE = 0.12
CENT = Decimal("0.01")

_FIGURES = {"ray fleck": Figure.FLECK, **{figure.value: figure for figure in Figure}}
_FAULTS = {
    "end cracks": Fault.CRACK,
    "sound knots": Fault.KNOT,
    "bark pocket": Fault.HOLE,
    "voids": Fault.HOLE,
    "soft patches": Fault.ROT,
    "iron stain": Fault.STAIN,
    "gum pockets": Fault.STAIN,
    "pitch pocket": Fault.STAIN,
}
_BASES = {"P-06": SplitBasis.AREA, "P-09": SplitBasis.ASKING}


@dataclass(frozen=True, eq=False)
class Piece:
    """One invented slab: its log as read, its number in it, its drawn shape, and its row."""

    log: source.Log
    number: int
    shape: DemoShape
    slab: Slab


@dataclass(eq=False)
class Yard:
    """What is being loaded, and the rows made of it so far, by the names of the source."""

    source: source.DemoSource
    notes: dict[str, Pool]
    clock: Clock
    seed: int
    people: dict[str, Person] = field(default_factory=dict)
    places: dict[str, Place] = field(default_factory=dict)
    bays: dict[str, list[Bay]] = field(default_factory=dict)
    meters: dict[str, Meter] = field(default_factory=dict)
    parcels: dict[str, Parcel] = field(default_factory=dict)
    logs: dict[str, Log] = field(default_factory=dict)
    pieces: list[Piece] = field(default_factory=list)

    def of_role(self, role: str) -> list[Person]:
        return [self.people[who.user_name] for who in self.source.people if who.role == role]

    @property
    def owner(self) -> Person:
        return self.of_role("owner")[0]

    @property
    def buyer(self) -> Person:
        return self.of_role("buyer")[0]

    def of_log(self, code: str) -> list[Piece]:
        return [piece for piece in self.pieces if piece.log.code == code]

    def slabs(self, code: str, numbers: Iterable[int]) -> list[Slab]:
        """The rows of those slabs of a log."""
        wanted = set(numbers)
        return [piece.slab for piece in self.of_log(code) if piece.number in wanted]


def load_stock(yard: Yard) -> None:
    """Everything that was bought, sawn and put on the record, with its ledger entries."""
    _people(yard)
    _places(yard)
    _meters(yard)
    _parcels(yard)
    _logs(yard)
    _slabs(yard)


# --- people and places ---------------------------------------------------------------


def _people(yard: Yard) -> None:
    secret = make_password(mark.PASSWORD)
    groups = {group.name.lower(): group for group in Group.objects.all()}
    for who in yard.source.people:
        first, _, last = who.full_name.partition(" ")
        person = Person(username=who.user_name, first_name=first, last_name=last, password=secret)
        person.is_staff = who.role == "owner"
        person.save(force_insert=True)
        person.groups.add(groups[who.role])
        yard.people[who.user_name] = person


def _places(yard: Yard) -> None:
    for position, row in enumerate(yard.source.places, 1):
        place = Place.objects.create(name=row.name, kind=row.kind, position=position)
        bays = [Bay(place=place, name=name, position=i) for i, name in enumerate(row.bays, 1)]
        yard.places[row.name] = place
        yard.bays[row.name] = Bay.objects.bulk_create(bays)


def _meters(yard: Yard) -> None:
    for row in yard.source.meters:
        yard.meters[row.name] = Meter.objects.create(
            name=row.name,
            method=row.method,
            corrects_temperature="temperature" in row.corrects,
            corrects_species="species" in row.corrects,
            note=row.note,
        )


# --- parcels and logs ----------------------------------------------------------------


def _parcels(yard: Yard) -> None:
    loaded = {log.parcel for log in yard.source.logs}
    for row in yard.source.parcels:
        if row.code not in loaded:
            continue
        parcel = Parcel.objects.create(
            name=row.code,
            supplier=row.supplier,
            bought_on=yard.clock.day(row.bought_days_ago),
            split_basis=_BASES.get(row.code, SplitBasis.VOLUME),
            note=row.note,
        )
        yard.parcels[row.code] = parcel
        ParcelCost.objects.bulk_create(_bills(yard, row, parcel))


def _bills(yard: Yard, row: source.Parcel, parcel: Parcel) -> list[ParcelCost]:
    """One bill of each kind, on the day that kind of work was done."""
    logs = [log for log in yard.source.logs if log.parcel == row.code]
    sawn = min(log.sawn_days_ago for log in logs)
    kilned = [stage.from_days_ago for log in logs for stage in log.stages if stage.kind == "kiln"]
    bills = [
        (CostKind.TIMBER, row.timber_cost, row.bought_days_ago),
        (CostKind.HAULAGE, row.haulage_cost, row.bought_days_ago - 1),
        (CostKind.SAWING, row.sawing_cost, sawn),
        (CostKind.DRYING, row.drying_cost, min(kilned, default=sawn)),
    ]
    return [
        ParcelCost(
            parcel=parcel, kind=kind, amount=amount, on=yard.clock.day(max(day, 0)), by=yard.buyer
        )
        for kind, amount, day in bills
        if amount
    ]


def _logs(yard: Yard) -> None:
    species = {row.common_name: row for row in Species.objects.filter(is_published=True)}
    rows = [
        Log(
            number=row.code,
            parcel=yard.parcels[row.parcel],
            species=species[row.species],
            length_mm=row.shape.length_mm,
            diameter_mm=round(row.shape.diameter_mm * (1 - row.shape.taper)),
            felled_on=yard.clock.day(row.felled_days_ago),
            sawn_on=yard.clock.day(row.sawn_days_ago),
        )
        for row in yard.source.logs
    ]
    yard.logs = {log.number: log for log in Log.objects.bulk_create(rows)}


# --- slabs ---------------------------------------------------------------------------


def _slabs(yard: Yard) -> None:
    bays = bay_of_each_stage(yard)
    for row in yard.source.logs:
        for number, shape in enumerate(row.slabs(), 1):
            slab = _slab(yard, row, number, shape)
            slab.bay = bays[row.code][0]
            slab.place = slab.bay.place
            yard.pieces.append(Piece(row, number, shape, slab))
    slabs = [piece.slab for piece in yard.pieces]
    taken = set(Slab.objects.values_list("code", flat=True))
    fresh = codes.fresh_codes(len(slabs), taken, random.Random(f"{yard.seed}/codes"))
    for slab, code in zip(slabs, fresh, strict=True):
        slab.code = code
    Slab.objects.bulk_create(slabs)
    _date_received(yard)
    ledger.write_many(_received(yard, piece) for piece in yard.pieces)


def bay_of_each_stage(yard: Yard) -> dict[str, list[Bay]]:
    """By log, the bay its slabs lay in during each stage: where the fewest slabs are."""
    found: dict[str, list[Bay]] = {}
    lying: Counter[int] = Counter()
    for order, row in enumerate(yard.source.logs):
        *before, last = [yard.bays[stage.place] for stage in row.stages]
        emptiest = min(last, key=lambda bay: (lying[bay.pk], bay.position))
        lying[emptiest.pk] += len(row.thicknesses_mm)
        found[row.code] = [*(bays[order % len(bays)] for bays in before), emptiest]
    return found


def _slab(yard: Yard, row: source.Log, number: int, shape: DemoShape) -> Slab:
    log = yard.logs[row.code]
    rng = chance(yard.seed, "slab", row.code, number)
    in_haste = _is_taped_in_haste(yard, row)
    slab = Slab(
        species=log.species,
        log=log,
        parcel=log.parcel,
        number_in_log=number,
        sawn=_sawn(shape),
        sawn_on=log.sawn_on,
        length_mm=row.shape.length_mm,
        thickness_mm=row.thicknesses_mm[number - 1],
        widths=_three_widths(shape) if in_haste else _widths(shape),
        are_widths_unplaced=in_haste,
        figures=[_FIGURES[name].value for name in row.figure if name in _FIGURES],
    )
    slab.faults = _faults(row, shape, slab.sawn, float(rng.random()))
    for name, value in derive.shape(slab).items():
        setattr(slab, name, value)
    if row.sawn_days_ago > UNPRICED_DAYS:
        slab.asking_price = asking_price(slab, yard.source.looks[row.species])
    slab.house_note = note(yard.notes["house"], slab, 0.30, rng)
    slab.client_note = note(yard.notes["client"], slab, 0.40, rng)
    return slab


def _is_taped_in_haste(yard: Yard, row: source.Log) -> bool:
    """Of some logs only the least, middle and greatest width were taken, not where."""
    return bool(chance(yard.seed, "taped", row.code).random() < IN_HASTE)


def _widths(shape: DemoShape) -> list[list[float]]:
    return [[i / (STATIONS - 1), width] for i, width in enumerate(widths_at(shape, STATIONS))]


def _three_widths(shape: DemoShape) -> list[list[float]]:
    taken = sorted(widths_at(shape, STATIONS))
    three = from_least_middle_greatest(taken[0], taken[STATIONS // 2], taken[-1])
    return [[at.along, at.width_mm] for at in three]


def _sawn(shape: DemoShape) -> Sawn:
    """Through and through: the slabs by the pith are quarter-sawn, the outer ones flat."""
    off_pith = abs(float(shape.depth_mm.mean())) / float(shape.radius_mm.mean())
    if off_pith < 0.17:
        return Sawn.QUARTER
    return Sawn.RIFT if off_pith < 0.45 else Sawn.FLAT


def _faults(row: source.Log, shape: DemoShape, sawn: str, luck: float) -> list[str]:
    """Those of the log, those that its picture shows, and what drying did to some."""
    found = {_FAULTS[name] for name in row.faults} - {Fault.CRACK, Fault.KNOT}
    if shape.cracks:
        found.add(Fault.CRACK)
    if shape.knots:
        found.add(Fault.KNOT)
    if shape.voids_mm:
        found.add(Fault.HOLE)
    if sawn == Sawn.FLAT and luck < 0.25:
        found.add(Fault.CUP)
    elif luck > 0.95:
        found.add(Fault.TWIST)
    return [fault.value for fault in Fault if fault in found]


def _date_received(yard: Yard) -> None:
    """A slab came on the record the day it was sawn; the row's own clock says today."""
    for piece in yard.pieces:
        piece.slab.received_at = yard.clock.at(piece.log.sawn_days_ago, 15)
    slabs = [piece.slab for piece in yard.pieces]
    Slab.objects.bulk_update(slabs, ["received_at"], batch_size=derive.AT_ONCE)


def _received(yard: Yard, piece: Piece) -> LedgerEntry:
    workers = yard.of_role("worker")
    order = yard.source.logs.index(piece.log)
    return ledger.entry(
        piece.slab,
        LedgerKind.RECEIVED,
        by=workers[order % len(workers)],
        at=piece.slab.received_at,
        after=slab_words.summary(piece.slab),
        note=mark.words() if piece is yard.pieces[0] else "",
    )
