"""What the record tells of many slabs, as the drying model takes it: readings, and air lain in.

Three queries however many slabs. Only what was a fact on the day asked is read: checks and stages
dated by then, and the air of whole days before it, so that the same day asked again later gives the
same answer.
"""

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import islice
from statistics import median
from typing import Any

from inventory import air_means
from inventory.models import DryingStage, MoistureCheck, Slab, Zone
from inventory.wood.climate import PlaceClimate, joined_days, past_steps
from inventory.wood.drying import Reading, SlabHistory
from inventory.wood.drying_history import LONGEST_PAST_DAYS, step_days_for
from inventory.wood.moisture import AIM_SHARE

# Where a reading was taken when only its zone is said, as a share of the thickness.
ZONE_SHARES = {Zone.SHELL: 0.1, Zone.CORE: 0.5}
# A reading not corrected for species, or outside its meter's range, tells less than one that is.
UNCORRECTED_WEIGHT = 0.15
OUT_OF_RANGE_WEIGHT = 0.3
# Readings of one check at one depth share their meter and their day: many count as two.
MOST_WEIGHT = 2.0
# The profile is taken as even at the start when its first stage began this soon after sawing.
FRESH_DAYS = 45
SLABS_A_QUERY = 20_000


@dataclass(frozen=True)
class Stay:
    """Where a slab lay, from `since` until the day before `until`."""

    place_id: int | None
    since: date
    until: date


@dataclass(frozen=True)
class Told:
    """What is known of one slab on a day: `history` None where no forecast can be made from it.

    `marks` digests what it followed from, to tell later whether that has changed; `places` are
    those whose air it followed from. `check_id` is its latest check; `checks` counts the days it
    was checked on.
    """

    history: SlabHistory | None
    marks: str
    places: frozenset[int]
    check_id: int | None
    checks: int


@dataclass(frozen=True)
class _Read:
    """One reading as stored: its check and day, % MC, share of the thickness, and its weight.

    The share is None for a weighing, which tells the mean of the whole thickness.
    """

    check: int
    on: date
    pct: float
    share: float | None
    weight: float


_READ = (
    "readings__corrected_pct",
    "readings__depth_mm",
    "readings__zone",
    "readings__is_corrected",
    "readings__range_flag",
    "weighing_id",
)


def climates_on(place_pks: Iterable[int], on: date) -> dict[int, PlaceClimate]:
    """What was known of each place's air when a day began; places without records are absent."""
    return air_means.climates_of(place_pks, before=on)


def told_of(
    slabs: Sequence[Slab], on: date, climates: Mapping[int, PlaceClimate] | None = None
) -> tuple[dict[int, Told], dict[int, PlaceClimate]]:
    """Each slab's history by primary key, and the climates used, by place. `slabs` have species.

    Climates already at hand may be given; those missing are read.
    """
    readings, stays = _readings_of(slabs, on), _stays_of(slabs, on)
    here = {slab.place_id for slab in slabs if slab.place_id is not None}
    wanted = here | {s.place_id for some in stays.values() for s in some if s.place_id is not None}
    known = dict(climates or {})
    if missing := wanted - known.keys():
        known |= climates_on(missing, on)
    told = {
        slab.pk: _told(slab, readings.get(slab.pk, []), stays.get(slab.pk, []), known, on)
        for slab in slabs
    }
    return told, known


def air_mark(climate: PlaceClimate) -> str:
    """A short digest of a place's days: another one as soon as any of them differs."""
    return hashlib.sha256(climate.daily.tobytes() + climate.is_measured.tobytes()).hexdigest()[:16]


def _told(
    slab: Slab,
    rows: Sequence[_Read],
    stays: Sequence[Stay],
    climates: Mapping[int, PlaceClimate],
    on: date,
) -> Told:
    facts = (slab.thickness_mm, slab.species.sg_green, slab.sawn_on, slab.place_id, rows, stays)
    marks = hashlib.sha256(repr(facts).encode()).hexdigest()[:16]
    places = {stay.place_id for stay in stays} | {slab.place_id}
    return Told(
        _history(slab, [row for row in rows if row.weight > 0], stays, climates, on),
        marks,
        frozenset(place for place in places if place in climates and place is not None),
        rows[-1].check if rows else None,
        len({row.on for row in rows}),
    )


def _history(
    slab: Slab,
    rows: Sequence[_Read],
    stays: Sequence[Stay],
    climates: Mapping[int, PlaceClimate],
    on: date,
) -> SlabHistory | None:
    known = _known_stays(stays, climates)
    if not rows or not known:
        return None
    begins, is_fresh = _beginning(slab, rows, known, on)
    begins = min(begins, on - timedelta(days=1))
    readings = _joined(row for row in rows if row.on >= begins)
    if not readings:
        return None
    emc, temp = joined_days(_spans(known, climates, begins, on))
    return SlabHistory(
        thickness_mm=slab.thickness_mm,
        sg=slab.species.sg_green,
        readings=[
            Reading(float((row.on - on).days), row.pct, row.share, row.weight) for row in readings
        ],
        air=past_steps(emc, temp, step_days_for(len(emc))),
        starts_even=is_fresh,
    )


def _known_stays(stays: Sequence[Stay], climates: Mapping[int, PlaceClimate]) -> list[Stay]:
    """The last unbroken run of stays in places whose air is on record."""
    run: list[Stay] = []
    for stay in reversed(stays):
        if stay.place_id not in climates or (run and stay.until != run[0].since):
            break
        run.insert(0, stay)
    return run


def _beginning(
    slab: Slab, rows: Sequence[_Read], stays: Sequence[Stay], on: date
) -> tuple[date, bool]:
    """The day the model begins, and whether the slab was evenly wet then: fresh from the saw.

    Else at the first check made in air that is known.
    """
    earliest = on - timedelta(days=LONGEST_PAST_DAYS)
    begins = max(stays[0].since, earliest)
    sawn = slab.sawn_on
    if sawn and sawn >= earliest and abs((stays[0].since - sawn).days) <= FRESH_DAYS:
        return sawn, True
    return min((row.on for row in rows if row.on >= begins), default=on), False


def _spans(
    stays: Sequence[Stay], climates: Mapping[int, PlaceClimate], begins: date, on: date
) -> list[tuple[PlaceClimate, int, int]]:
    """(air, first day, last day) end to end from the beginning to the day before `on`."""
    last_place = stays[-1].place_id
    assert last_place is not None
    found: list[tuple[PlaceClimate, int, int]] = []
    first = begins.toordinal()
    for stay in stays:
        last = min(stay.until, on).toordinal() - 1
        if last >= first:
            found.append((climates[stay.place_id or 0], first, last))
            first = last + 1
    if first < on.toordinal():
        found.append((climates[last_place], first, on.toordinal() - 1))
    return found


def _joined(rows: Iterable[_Read]) -> list[_Read]:
    """Readings of one check at one depth as their median, so that no single one decides."""
    groups: dict[tuple[int, float | None], list[_Read]] = {}
    for row in rows:
        depth = None if row.share is None else round(row.share, 2)
        groups.setdefault((row.check, depth), []).append(row)
    return [
        _Read(
            some[0].check,
            some[0].on,
            median(row.pct for row in some),
            some[0].share,
            min(sum(row.weight for row in some), MOST_WEIGHT),
        )
        for some in groups.values()
    ]


def _readings_of(slabs: Sequence[Slab], on: date) -> dict[int, list[_Read]]:
    """Readings of the checks readiness knows, oldest first; a check without any counts nothing."""
    thickness = {slab.pk: slab.thickness_mm for slab in slabs}
    found: dict[int, list[_Read]] = {}
    for pks in _batches(list(thickness)):
        checks = MoistureCheck.objects.current().filter(slab__in=pks, on__lte=on)
        rows = checks.filter(mean_pct__isnull=False).order_by("on", "at", "pk", "readings__pk")
        named = rows.values_list("slab_id", "pk", "on", *_READ)
        for slab, check, day, *values in named.iterator(chunk_size=5000):
            found.setdefault(slab, []).append(_read(thickness[slab], check, day, *values))
    return found


def _read(
    thickness_mm: float,
    check: int,
    on: date,
    pct: float | None,
    depth_mm: float | None,
    zone: str | None,
    is_corrected: bool | None,
    range_flag: str | None,
    weighing: int | None,
) -> _Read:
    if pct is None:
        return _Read(check, on, 0.0, AIM_SHARE, 0.0)
    if weighing is not None:
        return _Read(check, on, pct, None, 1.0)
    share: float | None = ZONE_SHARES.get(Zone(zone or ""), AIM_SHARE)
    if depth_mm is not None:
        share = min(depth_mm / thickness_mm, 1.0)
    weight = 1.0 if is_corrected else UNCORRECTED_WEIGHT
    return _Read(check, on, pct, share, weight * (OUT_OF_RANGE_WEIGHT if range_flag else 1.0))


def _stays_of(slabs: Sequence[Slab], on: date) -> dict[int, list[Stay]]:
    """Oldest first; a stay still open lasts until that day."""
    found: dict[int, list[Stay]] = {}
    names = ("slab_id", "place_id", "started_on", "ended_on")
    for pks in _batches([slab.pk for slab in slabs]):
        rows = DryingStage.objects.filter(slab__in=pks, started_on__lte=on)
        for slab, place, since, until in rows.order_by("started_on", "pk").values_list(*names):
            stay = Stay(place, since, min(until or on, on))
            found.setdefault(slab, []).append(stay)
    return found


def _batches(keys: Iterable[Any]) -> Iterator[list[Any]]:
    """SQLite takes some 32,000 parameters in a statement; more slabs go in several."""
    remaining = iter(keys)
    while some := list(islice(remaining, SLABS_A_QUERY)):
        yield some
