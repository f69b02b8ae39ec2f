"""Two slips of the pen, put right the same morning: both checks stay on the record."""

from collections.abc import Sequence
from dataclasses import replace

from catalogue.demo.courses import gone_days_ago
from catalogue.demo.stock import Piece, Yard
from inventory import checks
from inventory.checks import ReadingEntry
from inventory.models import MoistureCheck

SLIPS = 2
WRONG = "A decimal point too few."


def load_slips(yard: Yard) -> None:
    """On a later day than its last check, a slab is read again, wrongly, and then rightly."""
    gone = gone_days_ago(yard)
    here = [piece for piece in yard.pieces if (piece.log.code, piece.number) not in gone]
    able = [(piece, last) for piece in here if (last := _last_check(yard, piece))]
    step = max(1, len(able) // SLIPS)
    for piece, last in able[step // 2 :: step][:SLIPS]:
        _slip(yard, piece, last)


def _last_check(yard: Yard, piece: Piece) -> MoistureCheck | None:
    """The slab's latest, when it was dry, taken by pins, and some days ago."""
    last = piece.slab.checks.current().select_related("meter", "by").first()
    if last is None or last.on > yard.clock.day(4) or last.core_pct is None:
        return None
    return last if last.mean_pct is not None and last.mean_pct < 9.9 else None


def _slip(yard: Yard, piece: Piece, last: MoistureCheck) -> None:
    days_ago = (yard.clock.today - last.on).days - 2
    right = _again(last)
    wrong = [*right[:-1], replace(right[-1], raw_pct=round(right[-1].raw_pct * 10))]
    mistaken = _record(yard, piece, last, days_ago, wrong, None)
    _record(yard, piece, last, days_ago, right, mistaken)


def _again(last: MoistureCheck) -> list[ReadingEntry]:
    rows = last.readings.order_by("position")
    return [
        ReadingEntry(round(row.raw_pct + 0.1, 1), row.along, row.across, row.depth_mm, row.zone)
        for row in rows
    ]


def _record(
    yard: Yard,
    piece: Piece,
    last: MoistureCheck,
    days_ago: int,
    readings: Sequence[ReadingEntry],
    supersedes: MoistureCheck | None,
) -> MoistureCheck:
    assert last.by is not None
    return checks.record_check(
        piece.slab,
        by=last.by,
        on=yard.clock.day(days_ago),
        meter=last.meter,
        wood_temp_c=last.wood_temp_c,
        readings=readings,
        note=WRONG if supersedes else "",
        now=yard.clock.at(days_ago, 10, 40 if supersedes else 5),
        supersedes=supersedes,
    )
