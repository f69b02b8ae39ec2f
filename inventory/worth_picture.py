"""Stock by species and age as bars: where each piece of a bar begins and how wide it is."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.worth import AGES, AgeBar

BAR_WIDTH = 1000.0


@dataclass(frozen=True)
class Segment:
    """One age of one species, in thousandths of the longest bar."""

    age: int
    x: float
    width: float


@dataclass(frozen=True)
class AgeCell:
    volume_mm3: float
    pieces: int


@dataclass(frozen=True)
class AgeRow:
    label: str
    segments: tuple[Segment, ...]
    cells: tuple[AgeCell, ...]
    total: AgeCell


def rows(bars: Sequence[AgeBar]) -> list[AgeRow]:
    """A row for each species, all bars to one scale."""
    longest_mm3 = max((bar.total_mm3 for bar in bars), default=0.0)
    return [_row(bar, longest_mm3) for bar in bars]


def _row(bar: AgeBar, longest_mm3: float) -> AgeRow:
    scale = BAR_WIDTH / longest_mm3 if longest_mm3 else 0.0
    segments, x = [], 0.0
    for age, volume_mm3 in enumerate(bar.volumes_mm3):
        segments.append(Segment(age, round(x, 1), round(volume_mm3 * scale, 1)))
        x += volume_mm3 * scale
    cells = [AgeCell(*pair) for pair in zip(bar.volumes_mm3, bar.pieces, strict=True)]
    return AgeRow(bar.label, tuple(segments), tuple(cells), AgeCell(bar.total_mm3, sum(bar.pieces)))


def headings() -> list[tuple[int, str]]:
    return list(enumerate(AGES))
