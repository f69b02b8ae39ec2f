"""Every moisture check of the invented yard, stored at once.

Corrections, figures and the ledger's words are those of inventory/checks.py; only the numbers that
the meters showed are made up (readings.py), from how the slabs truly dried (drying.py).
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from catalogue.demo.clock import chance
from catalogue.demo.courses import gone_days_ago
from catalogue.demo.drying import Histories, Wet, dried, emc_share, green_pct
from catalogue.demo.readings import Box, entries, slope_along, taking
from catalogue.demo.stock import Piece, Yard
from catalogue.demo.visits import Visit, samples, visits
from catalogue.demo.weather import DailyAir
from inventory import checks, ledger
from inventory.models import LedgerEntry, MoistureCheck, Person, Reading, Slab

AT_ONCE = 500
PLAIN_GRAVITY = 0.55  # where the species table has none
MISSED_SHARE = 0.06  # slabs that lay at the bottom when the stack was last read
FAULTLESS = 1.0

Check = tuple[MoistureCheck, list[Reading]]


@dataclass(frozen=True, eq=False)
class Rounds:
    """What the people with meters walk about with."""

    yard: Yard
    air: Mapping[str, DailyAir]
    truth: Histories
    box: Box


def dry(yard: Yard, air: Mapping[str, DailyAir]) -> Histories:
    """How wet every piece of the yard truly was, in its order."""
    return dried([_wet(yard, piece) for piece in yard.pieces], air)


def _wet(yard: Yard, piece: Piece) -> Wet:
    rng = chance(yard.seed, "wood", piece.log.code, piece.number)
    species = piece.slab.species
    return Wet(
        thickness_mm=piece.slab.thickness_mm,
        specific_gravity=(species.sg_green or PLAIN_GRAVITY) * rng.normal(1, 0.05),
        green_pct=green_pct(species.common_name) * rng.normal(1, 0.06),
        emc_share=emc_share(species.common_name) * rng.normal(1, 0.02),
        sawn_days_ago=piece.log.sawn_days_ago,
        lay=tuple((stage.from_days_ago, stage.place) for stage in piece.log.stages),
    )


def load_checks(rounds: Rounds) -> None:
    """Build every check in memory, then store checks, readings and ledger entries at once."""
    plan = {log.code: visits(log, rounds.yard.seed) for log in rounds.yard.source.logs}
    gone = gone_days_ago(rounds.yard)
    found: list[Check] = []
    for index, piece in enumerate(rounds.yard.pieces):
        left = gone.get((piece.log.code, piece.number), 0)
        here = [visit for visit in plan[piece.log.code] if visit.days_ago > left]
        found += _checks(rounds, index, piece, here)
    MoistureCheck.objects.bulk_create((check for check, _ in found), batch_size=AT_ONCE)
    rows = (row for _, readings in found for row in readings)
    Reading.objects.bulk_create(rows, batch_size=AT_ONCE)
    ledger.write_many(_entries(check for check, _ in found))


def _checks(rounds: Rounds, index: int, piece: Piece, plan: Iterable[Visit]) -> Iterator[Check]:
    """Oldest first. A slab that was missed lately has only the older ones."""
    rng = chance(rounds.yard.seed, "reader", piece.log.code, piece.number)
    slope = slope_along(rng)
    is_sample = piece.number in samples(len(piece.log.thicknesses_mm))
    is_missed = not is_sample and rng.random() < MISSED_SHARE
    for visit in plan:
        if (visit.everyone or is_sample) and not (is_missed and visit.days_ago < 45):
            yield _check(rounds, index, piece, visit, slope, is_sample)


def _check(
    rounds: Rounds, index: int, piece: Piece, visit: Visit, slope: float, is_sample: bool
) -> Check:
    yard, day = rounds.yard, visit.days_ago
    rng = chance(yard.seed, "check", piece.log.code, piece.number, day)
    temp_c = float(round(rounds.air[_place_on(piece, day)].on(day)[0]))
    how = taking(
        rounds.box,
        piece.slab,
        rounds.truth.mean(index, day),
        temp_c,
        is_sample=is_sample,
        is_last=visit.is_last,
        luck=float(rng.random()),
    )
    numbers = entries(
        how, piece.slab, lambda share: rounds.truth.at(index, day, share), slope, temp_c, rng
    )
    on = yard.clock.day(day)
    check, rows = checks.build_check(piece.slab, on, how.meter, how.wood_temp_c, numbers)
    check.by, check.note = _reader(yard, piece, day), how.note
    minute = 4 * piece.number
    check.at = yard.clock.at(day, 8 + minute // 60, minute % 60)
    return check, rows


def _place_on(piece: Piece, days_ago: int) -> str:
    """The name of the place the log's slabs lay in on that day."""
    return [stage.place for stage in piece.log.stages if stage.from_days_ago >= days_ago][-1]


def _reader(yard: Yard, piece: Piece, days_ago: int) -> Person:
    workers = yard.of_role("worker")
    pick = chance(yard.seed, "who reads", piece.log.code, days_ago).integers(len(workers))
    return workers[int(pick)]


def _entries(found: Iterable[MoistureCheck]) -> Iterator[LedgerEntry]:
    """Each entry tells the check before it, as it would have been written then."""
    for check in found:
        slab: Slab = check.slab
        yield checks.entry_for(slab, check)
        slab.mc_pct, slab.checked_on = check.mean_pct, check.on
