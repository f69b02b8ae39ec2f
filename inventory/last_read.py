"""A moisture check as its page shows it: map, corrections step by step, what was weighed that day;
and of a slab the same of its last check, with the sample boards that stand for it."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory import boards, reading_map, weighing, weighing_words
from inventory.boards import BoardCourse
from inventory.models import MoistureCheck, Reading, Slab
from inventory.reading_map import ReadingMap
from inventory.reading_plan import across_words, along_words, depth_text
from inventory.weighing import SideBySide


@dataclass(frozen=True)
class Line:
    """A reading as the table shows it, from the meter's number to the moisture content."""

    reading: Reading
    place: str
    depth: str
    temperature_step: str
    species_step: str


@dataclass(frozen=True)
class AsRead:
    """One check: `map` and `lines` when read with a meter, `weighed` when weighed."""

    check: MoistureCheck
    map: ReadingMap | None
    lines: list[Line]
    weighed: list[tuple[str, str]]
    pair: SideBySide | None


@dataclass(frozen=True)
class LastRead:
    """Of a slab: the last meter check, the last weighing's day beside it, boards in its stead."""

    metered: AsRead | None
    weighed: AsRead | None
    boards: list[BoardCourse]

    @property
    def pair(self) -> SideBySide | None:
        found = self.weighed or self.metered
        return found.pair if found else None


def as_read(slab: Slab, check: MoistureCheck, system: str) -> AsRead:
    """The parts of a check's page; three queries."""
    readings = list(check.readings.all())
    row = check.weighing
    return AsRead(
        check=check,
        map=reading_map.reading_map(slab, check, readings, system),
        lines=[] if row else lines(slab, readings, system),
        weighed=weighing_words.steps(row, system) if row else [],
        pair=weighing.side_by_side(slab, check.on),
    )


def last_read(slab: Slab, system: str) -> LastRead:
    """What a slab's page shows of its last meter check and, where newer, its last weighing."""
    current = slab.checks.current().select_related("meter", "weighing", "own_table")
    metered = current.filter(weighing=None).first()
    weighed = current.exclude(weighing=None).first()
    if weighed is not None and metered is not None and weighed.on < metered.on:
        weighed = None
    return LastRead(
        metered=as_read(slab, metered, system) if metered else None,
        weighed=as_read(slab, weighed, system) if weighed else None,
        boards=boards.standing_for(slab),
    )


def lines(slab: Slab, readings: Sequence[Reading], system: str) -> list[Line]:
    return [_line(reading, slab, system) for reading in readings]


def _line(reading: Reading, slab: Slab, system: str) -> Line:
    zone = reading.get_zone_display() if reading.zone else ""
    deep = "" if reading.depth_mm is None else depth_text(reading.depth_mm, system)
    place = "" if reading.along is None else along_words(reading.along, slab.length_mm, system)
    across = "" if reading.across is None else across_words(reading.across)
    if across == across_words(0.5):
        across = ""
    return Line(
        reading=reading,
        place=", ".join(part for part in (place, across) if part) or "Not said",
        depth=", ".join(part for part in (zone, deep) if part) or "Not said",
        temperature_step=_step(reading.temperature_step_pct),
        species_step=_step(reading.species_step_pct),
    )


def _step(step_pct: float) -> str:
    """`+0.4`, `−1.2`, or a dash for nothing."""
    return f"{step_pct:+.1f}".replace("-", "−") if abs(step_pct) >= 0.05 else "–"
