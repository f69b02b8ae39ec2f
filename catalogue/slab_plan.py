"""One slab's outline drawn over its flat picture: sizes, readings where they were taken, holes and
a scale bar; everything the template needs, already reckoned, in mm with y down.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from shapely import Polygon

from catalogue.slab_drawing import (
    PLACES_ALONG,
    SCALE_STEPS_MM,
    SCALE_WORDS,
    view_box_of,
)
from inventory import outlines, reading_map, seen_lines, seen_shapes
from inventory.models import Outline, Reading, Slab
from inventory.photos.doubts import Floats, length_mm
from inventory.photos.flat import Flat
from inventory.seen_shapes import SeenShape
from inventory.wood import measure

PLACES = (0.05, 0.25, 0.5, 0.75, 0.95)
"""Where a traced slab's widths are given: near its ends, often cut oblique, and between."""


@dataclass(frozen=True)
class WidthMark:
    """A width where it was taken, as a line across; `letter` ties it to the list beneath."""

    letter: str
    x: float
    y_top: float
    y_foot: float
    y_letter: float
    along_words: str
    width_mm: float


@dataclass(frozen=True)
class ScaleBar:
    """A bar of known length: `path` in mm, its words beside its end."""

    path: str
    words: str
    x: float
    y: float


@dataclass(frozen=True)
class ReadMark:
    """A reading where it was taken; `shape` tells its depth as on the reading map."""

    x: float
    y: float
    x_words: float
    size: float
    shape: str
    value: str
    points: str


@dataclass(frozen=True)
class SlabPlan:
    """A slab lying along the page; `words` for who cannot see, `notes` for everyone.

    `picture` is put in place by `matrix` and clipped by `path` (even-odd). `doubtful` are the
    stretches of the edge that hardly showed in the picture it was traced on.
    """

    view_box: str
    path: str
    doubtful: str
    picture: Flat | None
    matrix: str
    marks: list[WidthMark]
    readings: list[ReadMark]
    bar: ScaleBar
    type_size: float
    words: str
    notes: list[str]
    is_approximate: bool


def plan(
    slab: Slab,
    system: str,
    readings: Iterable[Reading] = (),
    traced: Outline | None = None,
) -> SlabPlan | None:
    """The slab to scale; None when no width has been taken and nothing traced. One query.

    `traced` is the outline it is drawn by, where its doubts are to be shown.
    """
    shape = seen_shapes.seen([slab]).get(slab.pk)
    if shape is None:
        return None
    drawn = seen_shapes.posed(shape)
    _, top, right, foot = drawn.reach
    unit = right / 100
    doubts = outlines.doubts(traced) if traced else ()
    box = (-2 * unit, top - 6 * unit, right + 4 * unit, foot - top + 15 * unit)
    return SlabPlan(
        view_box=view_box_of(*box),
        path=drawn.path,
        doubtful=_doubtful(doubts, shape),
        picture=shape.picture,
        matrix=drawn.matrix,
        marks=_marks(slab, shape, unit, _short(top - 2 * unit)),
        readings=_read_marks(shape, readings, unit),
        bar=_scale_bar(system, foot + 6 * unit, unit),
        type_size=_short(2.6 * unit),
        words=_in_words(slab, shape, system),
        notes=[*_notes(slab, shape, system), *_doubt_notes(doubts, system)],
        is_approximate=shape.is_approximate,
    )


def _marks(slab: Slab, shape: SeenShape, unit: float, y_letter: float) -> list[WidthMark]:
    """At the stations the widths were taken at; at PLACES where the outline was traced."""
    alongs = sorted(one.along for one in slab.stations) if shape.is_approximate else PLACES
    return [_mark(shape, number, along, unit, y_letter) for number, along in enumerate(alongs)]


def _mark(shape: SeenShape, number: int, along: float, unit: float, y_letter: float) -> WidthMark:
    at = seen_lines.across(shape, along)
    left, low, right, high = shape.wood.bounds
    middle = (low + high) / 2
    return WidthMark(
        letter=chr(ord("A") + number) if number < 26 else str(number + 1),
        # A letter at either end keeps clear of the picture's edge.
        x=_short(min(max(at.x - left, unit), right - left - unit)),
        y_top=_short(middle - at.high),
        y_foot=_short(middle - at.low),
        y_letter=y_letter,
        along_words=_where(along),
        width_mm=at.width_mm,
    )


def _read_marks(shape: SeenShape, readings: Iterable[Reading], unit: float) -> list[ReadMark]:
    """Readings with a place along; several at one place are set a step apart across."""
    left, low, _, high = shape.wood.bounds
    middle = (low + high) / 2
    stacked: dict[tuple[float, float], int] = {}
    marks = []
    for reading in readings:
        if reading.along is None:
            continue
        share = 0.5 if reading.across is None else reading.across
        place = (round(reading.along, 2), round(share, 2))
        above = stacked.get(place, 0)
        stacked[place] = above + 1
        at = seen_lines.across(shape, reading.along)
        y = middle - (at.low + share * (at.high - at.low)) + 3.4 * unit * above
        marks.append(_read_mark(reading, at.x - left, y, unit))
    return marks


def _read_mark(reading: Reading, x: float, y: float, unit: float) -> ReadMark:
    size = 1.1 * unit
    corners = ((x, y - size), (x + size, y), (x, y + size), (x - size, y))
    return ReadMark(
        x=_short(x),
        y=_short(y),
        x_words=_short(x + 1.8 * unit),
        size=_short(size),
        shape=reading_map.shape_of(reading),
        value=f"{reading.corrected_pct:.1f}",
        points=" ".join(f"{px:.1f},{py:.1f}" for px, py in corners),
    )


def _scale_bar(system: str, y: float, unit: float) -> ScaleBar:
    end = _short(SCALE_STEPS_MM[system])
    top, foot, middle = _short(y - unit), _short(y + unit), _short(y)
    path = f"M0 {top}V{foot}M0 {middle}H{end}M{end} {top}V{foot}"
    return ScaleBar(path, SCALE_WORDS[system], _short(end + unit), foot)


def _notes(slab: Slab, shape: SeenShape, system: str) -> list[str]:
    """What the drawing cannot say: whether it was traced, what is open, what faults are noted."""
    said = [f"{shape.words}: trace it from a photograph for its true shape."] if shape.words else []
    holes = [float(Polygon(ring).area) for ring in shape.wood.interiors]
    if holes:
        count = "1 hole or void" if len(holes) == 1 else f"{len(holes)} holes or voids"
        said.append(f"{count} traced, {measure.format_area(sum(holes), system)} in all.")
    if slab.fault_labels:
        said.append(f"Faults noted: {', '.join(slab.fault_labels).lower()}.")
    return said


def _doubtful(doubts: Sequence[Floats], shape: SeenShape) -> str:
    """The stretches as a path, where `seen_shapes.posed` lays the wood."""
    left, low, _, high = shape.wood.bounds
    middle = (low + high) / 2
    lines = (
        "M" + "L".join(f"{x - left:.1f} {middle - y:.1f}" for x, y in stretch) for stretch in doubts
    )
    return "".join(lines)


def _doubt_notes(doubts: Sequence[Floats], system: str) -> list[str]:
    if not doubts:
        return []
    along = measure.format_length(sum(map(length_mm, doubts)), system, kind="length")
    return [f"Along {along} (dotted band) the edge hardly showed in its picture."]


def _where(along: float) -> str:
    if round(along, 2) in (PLACES[0], PLACES[-1]):
        return "near the first end" if along < 0.5 else "near the far end"
    return PLACES_ALONG.get(round(along, 2), f"{100 * along:.0f} % along")


def _in_words(slab: Slab, shape: SeenShape, system: str) -> str:
    left, _, right, _ = shape.wood.bounds
    length = measure.format_length(right - left, system, kind="length")
    least = measure.format_length(slab.least_width_mm, system)
    greatest = measure.format_length(slab.greatest_width_mm, system)
    kind = "Approximate outline" if shape.is_approximate else "Outline"
    return f"{kind} of the slab from above: {length} long, {least} to {greatest} wide."


def _short(number: float) -> float:
    return round(number, 1)
