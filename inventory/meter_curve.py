"""A meter's own table drawn: what is added to each reading, a line a species. Pure geometry."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil, floor

WIDTH, HEIGHT = 400.0, 240.0
LEFT, FOOT, TOP, RIGHT = 40.0, 28.0, 12.0, 24.0
MOST_DRAWN = 6
STEPS = (0.2, 0.5, 1, 2, 5, 10, 20, 50, 100)
MOST_TICKS = 7
# Lines are told apart by their dashes and a letter at their end, not by colour.
DASHES = ("none", "7 4", "2 3", "10 3 2 3", "14 4", "4 2 1 2")
LETTER_STEP = 13.0
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
    """The drawing; at `y_nothing` nothing is added; `undrawn` are the names left out."""

    view_box: str
    lines: tuple[Line, ...]
    y_nothing: float
    x_ticks: tuple[Tick, ...]
    y_ticks: tuple[Tick, ...]
    undrawn: tuple[str, ...]
    words: str
    left: float = LEFT
    right: float = WIDTH - RIGHT
    foot: float = HEIGHT - FOOT


@dataclass(frozen=True)
class _Axis:
    """From a value to a place between two places of the drawing."""

    low: float
    high: float
    step: float
    begin: float
    end: float

    def at(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return round(self.begin + (self.end - self.begin) * share, 1)

    @property
    def values(self) -> list[float]:
        count = round((self.high - self.low) / self.step)
        return [round(self.low + n * self.step, 6) for n in range(count + 1)]


def curve(tables: Mapping[str, Points]) -> Curve | None:
    """From points (reading, moisture) by species' name ("" for any); None without a point."""
    named = [(name, sorted(points)) for name, points in tables.items() if points]
    if not named:
        return None
    readings = [reading for _, points in named for reading, _ in points]
    steps = [mc - reading for _, points in named for reading, mc in points]
    x = _axis([*readings], LEFT, WIDTH - RIGHT)
    y = _axis([0.0, *steps], HEIGHT - FOOT, TOP)
    return Curve(
        view_box=f"0 0 {WIDTH:g} {HEIGHT:g}",
        lines=tuple(_lines(named[:MOST_DRAWN], x, y)),
        y_nothing=y.at(0.0),
        x_ticks=tuple(Tick(x.at(value), f"{value:g}") for value in x.values),
        y_ticks=tuple(Tick(y.at(value), _signed(value)) for value in y.values),
        undrawn=tuple(name or "any other species" for name, _ in named[MOST_DRAWN:]),
        words=_words(named[:MOST_DRAWN]),
    )


def _axis(values: Sequence[float], begin: float, end: float) -> _Axis:
    low, high = min(values), max(values)
    step = next((s for s in STEPS if (high - low) / s <= MOST_TICKS - 2), STEPS[-1])
    first = step * floor(low / step)
    return _Axis(first, max(step * ceil(high / step), first + step), step, begin, end)


def _lines(named: Sequence[tuple[str, Points]], x: _Axis, y: _Axis) -> list[Line]:
    lines: list[Line] = []
    for at, (name, points) in enumerate(named):
        last, moisture = points[-1]
        y_end = y.at(moisture - last)
        while any(abs(y_end - other.y_end) < LETTER_STEP for other in lines):
            y_end += LETTER_STEP
        drawn = " ".join(f"{x.at(r):g},{y.at(mc - r):g}" for r, mc in points)
        lines.append(
            Line(
                letter=chr(ord("A") + at),
                name=name or "Any other species",
                points=drawn,
                dashes=DASHES[at],
                x_end=x.at(last),
                y_end=y_end,
            )
        )
    return lines


def _signed(value: float) -> str:
    return f"{value:+g}".replace("-", "−") if value else "0"


def _words(named: Sequence[tuple[str, Points]]) -> str:
    said = "; ".join(
        f"{name or 'any other species'} {_signed(round(points[0][1] - points[0][0], 1))} at "
        f"{points[0][0]:g} and {_signed(round(points[-1][1] - points[-1][0], 1))} at "
        f"{points[-1][0]:g} %"
        for name, points in named
    )
    return f"What is added to a reading: {said}."
