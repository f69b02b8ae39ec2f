"""A slab drawn as a strip with its readings where they were taken. Pure geometry for SVG.

Shell, between and core are told apart by shape: square, diamond, disc.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from inventory.models import Reading, Slab, Zone
from inventory.wood import outline

WIDTH = 400.0
LEAST_HEIGHT = 96.0
GREATEST_HEIGHT = 180.0
MARGIN = 8.0
# Readings at one place are drawn above each other, so many units apart.
STEP = 24.0
SHAPE_OF = {Zone.SHELL: "square", Zone.BETWEEN: "diamond", Zone.CORE: "disc", Zone.UNKNOWN: "ring"}
WORDS_OF = {
    Zone.SHELL: "shell",
    Zone.BETWEEN: "between shell and core",
    Zone.CORE: "core",
    Zone.UNKNOWN: "depth not said",
}


@dataclass(frozen=True)
class Mark:
    """One reading on the strip, in drawing units; `shape` square, diamond, disc or ring."""

    x: float
    y: float
    label_x: float
    shape: str
    value: str
    points: str = ""


@dataclass(frozen=True)
class Strip:
    """The drawing: view box and outline in drawing units, marks on it, and its words."""

    view_box: str
    path: str
    marks: tuple[Mark, ...]
    words: str
    zones: tuple[tuple[str, str], ...] = ()
    margin: float = MARGIN


def strip(slab: Slab, readings: Sequence[Reading] = ()) -> Strip:
    """The slab's silhouette to fit the drawing, with the readings that have a place along it."""
    height, path = _silhouette(slab)
    placed = [reading for reading in readings if reading.along is not None]
    marks = tuple(_marks(placed, height))
    zones = dict.fromkeys(Zone(reading.zone) for reading in placed)
    return Strip(
        view_box=f"0 0 {WIDTH:g} {height:g}",
        path=path,
        marks=marks,
        words=_words(readings),
        zones=tuple((SHAPE_OF[zone], WORDS_OF[zone]) for zone in zones),
    )


def _silhouette(slab: Slab) -> tuple[float, str]:
    """Height of the drawing and the outline as a path."""
    scale = (WIDTH - 2 * MARGIN) / slab.length_mm
    stations = slab.stations or [outline.WidthAt(0.5, slab.length_mm / 4)]
    points = outline.silhouette(slab.length_mm, stations)
    widest = max(abs(y) for _, y in points) * 2 * scale
    height = min(max(widest + 2 * MARGIN, LEAST_HEIGHT), GREATEST_HEIGHT)
    squeeze = min(1.0, (height - 2 * MARGIN) / widest)
    drawn = [(MARGIN + x * scale, height / 2 + y * scale * squeeze) for x, y in points]
    return round(height, 1), outline.svg_path(drawn)


def _marks(readings: Iterable[Reading], height: float) -> Iterable[Mark]:
    at_place: dict[float, list[Reading]] = {}
    for reading in readings:
        at_place.setdefault(round(reading.along or 0.0, 2), []).append(reading)
    for along, stack in at_place.items():
        step = min(STEP, (height - STEP) / max(1, len(stack) - 1))
        top = height / 2 - step * (len(stack) - 1) / 2
        for row, reading in enumerate(stack):
            yield _mark(reading, along, top + row * step)


def _mark(reading: Reading, along: float, y: float) -> Mark:
    x = MARGIN + along * (WIDTH - 2 * MARGIN)
    x = min(max(x, 14.0), WIDTH - 46.0)
    corners = ((x, y - 8), (x + 8, y), (x, y + 8), (x - 8, y))
    return Mark(
        x=round(x, 1),
        y=round(y, 1),
        label_x=round(x + 13, 1),
        shape=SHAPE_OF[Zone(reading.zone)],
        value=f"{reading.corrected_pct:.1f}",
        points=" ".join(f"{px:.1f},{py:.1f}" for px, py in corners),
    )


def _words(readings: Sequence[Reading]) -> str:
    """The drawing in a sentence, for those who hear it."""
    if not readings:
        return "The slab from above, its left end at the left."
    said = "; ".join(
        f"{reading.corrected_pct:.1f} % at {_share(reading.along)}, {WORDS_OF[Zone(reading.zone)]}"
        for reading in readings
    )
    return f"Readings from the left end to the right: {said}."


def _share(along: float | None) -> str:
    return "a place not said" if along is None else f"{along:.0%} of the length"
