"""What the bench scale found, and how far the meters are to be trusted, in the invented yard.

Three slabs weighed on the day of their last check, a sample board that stands for a log on its way
down, tests against a block, and the shop's own table of one meter; all by the record's operations.
"""

from collections import defaultdict
from datetime import date
from statistics import fmean

from catalogue.demo.clock import chance
from catalogue.demo.stock import Piece, Yard
from inventory import boards, meter_tables, meter_tests, weighing
from inventory.meter_tables import TableRow
from inventory.models import (
    Basis,
    Condition,
    MoistureCheck,
    Person,
    SampleBoard,
    Slab,
    Species,
    Standing,
)
from inventory.weighing import WeighingEntry
from inventory.wood import shrinkage

WEIGHED = 3
HEAVIEST_KG = 60.0
A_MONTH = 30
BOARD_DRY_KG = 2.85
SECTION_DRY_KG = (0.086, 0.091)


def load(yard: Yard) -> None:
    _weigh_slabs(yard)
    _follow_a_board(yard)
    _test_meters(yard)
    _take_tables(yard)


# --- whole slabs -----------------------------------------------------------------------------


def _weigh_slabs(yard: Yard) -> None:
    """The lightest that were checked twice in shop air, beside their last check with the meter."""
    able = [(mass, piece, pair) for piece in yard.pieces if (pair := _last_two(piece.slab))
            for mass in [_mass_kg(piece.slab, pair[1].mean_pct)] if mass]  # fmt: skip
    for mass_kg, piece, (last, before) in sorted(able, key=lambda one: one[0])[:WEIGHED]:
        _weigh(yard, piece, mass_kg, last, before)


def _last_two(slab: Slab) -> tuple[MoistureCheck, MoistureCheck] | None:
    """Its last check and the one before, where both can be relied on and it still lies here."""
    slab.refresh_from_db(fields=["standing", "condition"])
    if slab.standing == Standing.GONE or slab.condition not in (Condition.READY, Condition.RESTING):
        return None
    found = list(slab.checks.current().filter(is_trusted=True, weighing=None)[:2])
    return (found[0], found[1]) if len(found) == 2 else None


def _mass_kg(slab: Slab, mc_pct: float | None) -> float | None:
    gravity = slab.species.sg_green
    if gravity is None or mc_pct is None or not slab.volume_mm3:
        return None
    mass_kg = shrinkage.mass_kg(slab.volume_mm3, gravity, mc_pct)
    return round(mass_kg, 1) if mass_kg <= HEAVIEST_KG else None


def _weigh(
    yard: Yard, piece: Piece, earlier_kg: float, last: MoistureCheck, before: MoistureCheck
) -> None:
    """Its mass at the check before is known; a scale finds a little else than a meter."""
    rng = chance(yard.seed, "scale", piece.log.code, piece.number)
    earlier_pct = round(before.mean_pct or 0.0, 1)
    now_pct = (last.mean_pct or 0.0) + float(rng.normal(0.0, 0.25))
    mass_kg = round(earlier_kg * (100.0 + now_pct) / (100.0 + earlier_pct), 2)
    assert last.by is not None
    weighing.record_weighing(
        piece.slab,
        WeighingEntry(mass_kg, Basis.EARLIER, earlier_kg=earlier_kg, earlier_mc_pct=earlier_pct),
        by=last.by,
        on=last.on,
        now=yard.clock.at((yard.clock.today - last.on).days, 16),
    )


# --- a sample board --------------------------------------------------------------------------


def _follow_a_board(yard: Yard) -> None:
    """Cut when its log was first checked, weighed at the rounds after, once a month at most."""
    code = _log_on_its_way(yard)
    if code is None:
        return
    course = _course(yard, code)
    first, *rest = sorted(course)
    by = yard.of_role("worker")[0]
    board = SampleBoard.objects.create(
        name=f"Board of {code}", log=yard.logs[code], note="Cut beside the middle slab."
    )
    _cut(yard, board, first, course[first], by)
    last = first
    for on in rest:
        if (on - last).days >= A_MONTH:
            mass_kg = round(BOARD_DRY_KG * (1.0 + course[on] / 100.0), 3)
            now = yard.clock.at((yard.clock.today - on).days, 16)
            boards.weigh_board(board, by=by, on=on, mass_kg=mass_kg, now=now)
            last = on


def _cut(yard: Yard, board: SampleBoard, on: date, mc_pct: float, by: Person) -> None:
    """The sections' oven-dry masses come two days later, in a row that supersedes."""
    wet = [round(dry * (1.0 + mc_pct / 100.0), 4) for dry in SECTION_DRY_KG]
    mass_kg = round(BOARD_DRY_KG * (1.0 + mc_pct / 100.0), 3)
    days_ago = (yard.clock.today - on).days
    cut = boards.record_sections(
        board,
        by=by,
        on=on,
        board_mass_kg=mass_kg,
        sections=[(one, None) for one in wet],
        now=yard.clock.at(days_ago, 15),
    )
    boards.record_sections(
        board,
        by=by,
        on=on,
        board_mass_kg=mass_kg,
        sections=list(zip(wet, SECTION_DRY_KG, strict=True)),
        now=yard.clock.at(max(days_ago - 2, 0), 9),
        supersedes=cut,
    )


def _log_on_its_way(yard: Yard) -> str | None:
    """The log longest in the air that is there still and has been checked over some months."""
    drying = [log for log in yard.source.logs if log.stages[-1].kind == "air"]
    for log in sorted(drying, key=lambda log: -log.sawn_days_ago):
        days = sorted(_course(yard, log.code))
        if len(days) >= 2 and (days[-1] - days[0]).days >= A_MONTH:
            return log.code
    return None


def _course(yard: Yard, code: str) -> dict[date, float]:
    """Mean of the log's checks by day, % MC."""
    slabs = [piece.slab.pk for piece in yard.of_log(code)]
    found: defaultdict[date, list[float]] = defaultdict(list)
    rows = MoistureCheck.objects.current().filter(slab__in=slabs, mean_pct__isnull=False)
    for on, mean_pct in rows.values_list("on", "mean_pct"):
        found[on].append(float(mean_pct or 0.0))
    return {on: fmean(means) for on, means in found.items()}


# --- meters ----------------------------------------------------------------------------------


def _test_meters(yard: Yard) -> None:
    by = yard.of_role("worker")[0]
    for row in sorted(yard.source.block_tests, key=lambda row: -row.days_ago):
        meter_tests.record_test(
            yard.meters[row.meter],
            by=by,
            on=yard.clock.day(row.days_ago),
            block_pct=row.block_pct,
            read_pct=row.read_pct,
            next_due_on=yard.clock.day(-row.due_in_days),
            now=yard.clock.at(row.days_ago, 8),
        )


def _take_tables(yard: Yard) -> None:
    """Typed in this morning: no check before was corrected by it."""
    rows: defaultdict[str, list[TableRow]] = defaultdict(list)
    species = dict(Species.objects.filter(is_published=True).values_list("common_name", "pk"))
    for table in yard.source.own_tables:
        rows[table.meter] += [
            TableRow(species[table.species], reading, corrected)
            for reading, corrected in zip(table.readings_pct, table.corrected_pct, strict=True)
        ]
    for meter, some in rows.items():
        meter_tables.take_table(
            yard.meters[meter],
            some,
            by=yard.owner,
            note="From our own oven tests of offcuts.",
            now=yard.clock.at(0, 8),
        )
