"""A meter's own table drawn: moisture content over reading, a line a species. Pure geometry."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil

WIDTH, HEIGHT = 400.0, 260.0
LEFT, FOOT, TOP, RIGHT = 36.0, 28.0, 10.0, 12.0
MOST_DRAWN = 6
STEPS = (1, 2, 5, 10, 20, 50, 100)
# Lines are told apart by their dashes and a letter at their end, not by colour.
DASHES = ("", "7 4", "2 3", "10 3 2 3", "14 4", "4 2 1 2")
Points = Sequence[tuple[float, float]]


@dataclass(frozen=True)
class Line:
    letter: str
    name: str
    points: str
    dashes: str
    x_end: float
    y_end: float


@dataclass(frozen=True)
class Tick:
    at: float
    words: str


@dataclass(frozen=True)
class Curve:
    """The drawing; `straight` is where nothing is corrected, `undrawn` the names left out."""

    view_box: str
    lines: tuple[Line, ...]
    straight: str
    x_ticks: tuple[Tick, ...]
    y_ticks: tuple[Tick, ...]
    undrawn: tuple[str, ...]
    words: str
    left: float = LEFT
    right: float = WIDTH - RIGHT
    foot: float = HEIGHT - FOOT
    top: float = TOP


def curve(tables: Mapping[str, Points]) -> Curve | None:
    """The points of each species by its name ("" for any); None without a point."""
    drawn = {name: points for name, points in tables.items() if points}
    if not drawn:
        return None
    values = [value for points in drawn.values() for pair in points for value in pair]
    step = next((s for s in STEPS if (max(values) - min(values)) / s <= 7), STEPS[-1])
    low = step * int(min(values) // step)
    high = max(step * ceil(max(values) / step), low + step)
    named = list(drawn.items())
    return Curve(
        view_box=f"0 0 {WIDTH:g} {HEIGHT:g}",
        lines=tuple(
            _line(at, name, points, low, high)
            for at, (name, points) in enumerate(named[:MOST_DRAWN])
        ),
        straight=_points([(low, low), (high, high)], low, high),
        x_ticks=tuple(Tick(_x(v, low, high), str(v)) for v in range(low, high + 1, step)),
        y_ticks=tuple(Tick(_y(v, low, high), str(v)) for v in range(low, high + 1, step)),
        undrawn=tuple(name for name, _ in named[MOST_DRAWN:]),
        words=_words(named),
    )


def _line(at: int, name: str, points: Points, low: float, high: float) -> Line:
    x, y = max(points)
    return Line(
        letter=chr(ord("A") + at),
        name=name or "Any other species",
        points=_points(sorted(points), low, high),
        dashes=DASHES[at],
        x_end=_x(x, low, high),
        y_end=_y(y, low, high),
    )


def _points(points: Points, low: float, high: float) -> str:
    return " ".join(f"{_x(x, low, high):g},{_y(y, low, high):g}" for x, y in points)


def _x(value: float, low: float, high: float) -> float:
    return round(LEFT + (WIDTH - LEFT - RIGHT) * (value - low) / (high - low), 1)


def _y(value: float, low: float, high: float) -> float:
    return round(HEIGHT - FOOT - (HEIGHT - FOOT - TOP) * (value - low) / (high - low), 1)


def _words(named: Sequence[tuple[str, Points]]) -> str:
    said = "; ".join(
        f"{name or 'any other species'} from {min(points)[0]:g} read as {min(points)[1]:g} "
        f"to {max(points)[0]:g} read as {max(points)[1]:g} %"
        for name, points in named[:MOST_DRAWN]
    )
    return f"Moisture content over reading: {said}."
