"""The chart of when what is ready: a bar a month, its species one on the other. Pure geometry."""

from dataclasses import dataclass

from inventory.ready_when import ReadyWhen, Row
from inventory.wood.measure import MM3_PER_BOARD_FOOT, MM3_PER_M3, NBSP

WIDTH, HEIGHT = 640.0, 260.0
LEFT, RIGHT, TOP, FOOT = 48.0, 8.0, 20.0, 40.0
BAR_SHARE = 0.68
# More species than this are drawn as one, the least of them.
MOST_SPECIES = 5
STEPS = (1, 2, 5)
BOARD_FEET_A_CUBIC_METRE = MM3_PER_M3 / MM3_PER_BOARD_FOOT


@dataclass(frozen=True)
class Part:
    """One species' share of a bar; `number` tells its pattern and colour."""

    number: int
    y: float
    height: float


@dataclass(frozen=True)
class Bar:
    x: float
    width: float
    middle: float
    top: float
    month: str
    year: str
    pieces: int
    parts: tuple[Part, ...]


@dataclass(frozen=True)
class Tick:
    y: float
    words: str


@dataclass(frozen=True)
class Chart:
    """`legend` pairs each number with its species; `words` tell the chart to who cannot see it."""

    bars: tuple[Bar, ...]
    ticks: tuple[Tick, ...]
    legend: tuple[tuple[int, str], ...]
    words: str
    view_box: str = f"0 0 {WIDTH:g} {HEIGHT:g}"
    left: float = LEFT
    right: float = WIDTH - RIGHT
    foot: float = HEIGHT - FOOT


def chart_of(found: ReadyWhen, *, in_cubic_metres: bool = False) -> Chart | None:
    """Bars of board feet (or m³) by month; None when no month has any."""
    months = found.months
    tallest = max((row.total.board_feet for row in months), default=0.0)
    if tallest <= 0:
        return None
    unit = BOARD_FEET_A_CUBIC_METRE if in_cubic_metres else 1.0
    step = _step(tallest / unit)
    top = -(-(tallest / unit) // step) * step * unit
    groups = _groups(found)
    bars = tuple(_bar(row, at, len(months), top, groups) for at, row in enumerate(months))
    return Chart(
        bars=bars,
        ticks=tuple(_ticks(step, top / unit, in_cubic_metres)),
        legend=tuple((number, words) for number, (words, _) in enumerate(groups, start=1)),
        words=_words(months),
    )


def _groups(found: ReadyWhen) -> list[tuple[str, list[int]]]:
    """(name, columns) of what is drawn apart: the most wood first, the least together."""
    months = found.months
    wood = [sum(r.parts[i].volume_mm3 for r in months) for i in range(len(found.species))]
    order = sorted((i for i in range(len(wood)) if wood[i] > 0), key=lambda i: -wood[i])
    if len(order) <= MOST_SPECIES:
        return [(found.species[i], [i]) for i in order]
    first, rest = order[: MOST_SPECIES - 1], order[MOST_SPECIES - 1 :]
    return [*((found.species[i], [i]) for i in first), (f"{len(rest)} other species", rest)]


def _bar(row: Row, at: int, count: int, top: float, groups: list[tuple[str, list[int]]]) -> Bar:
    slot = (WIDTH - LEFT - RIGHT) / count
    x = LEFT + slot * (at + (1 - BAR_SHARE) / 2)
    y, parts = HEIGHT - FOOT, []
    for number, (_, columns) in enumerate(groups, start=1):
        wood = sum(row.parts[i].board_feet for i in columns)
        height = wood / top * (HEIGHT - FOOT - TOP)
        if height > 0:
            y -= height
            parts.append(Part(number, round(y, 2), round(height, 2)))
    month = row.period.month
    assert month is not None
    year = f"{month:%Y}" if at == 0 or month.month == 1 else ""
    middle = round(x + slot * BAR_SHARE / 2, 2)
    return Bar(
        round(x, 2), round(slot * BAR_SHARE, 2), middle, round(y, 2), f"{month:%b}", year,
        row.total.pieces, tuple(parts),
    )  # fmt: skip


def _step(tallest: float) -> float:
    """A round step that cuts the height in five at most."""
    size = 0.001
    while True:
        for step in STEPS:
            if tallest / (step * size) <= 5:
                return step * size
        size *= 10


def _ticks(step: float, top: float, in_cubic_metres: bool) -> list[Tick]:
    unit = "m³" if in_cubic_metres else "bf"
    count = round(top / step)
    return [
        Tick(
            round(HEIGHT - FOOT - (HEIGHT - FOOT - TOP) * n / count, 2),
            f"{n * step:,.3g}{NBSP}{unit}" if n == count else f"{n * step:,.3g}",
        )
        for n in range(count + 1)
    ]


def _words(months: tuple[Row, ...]) -> str:
    told = [
        f"{row.period.words} {row.total.pieces} piece{'' if row.total.pieces == 1 else 's'}"
        for row in months
        if row.total.pieces
    ]
    return f"Wood coming dry by month: {', '.join(told)}."
