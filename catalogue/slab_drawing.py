"""Slabs drawn to scale as SVG: everything a template needs, already reckoned.

Drawings are in millimetres of wood, so two with the same `view_box` size are to one scale.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from inventory import seen_shapes
from inventory.models import Slab
from inventory.photos.flat import Flat
from inventory.seen_shapes import Posed, SeenShape
from inventory.wood import measure, outline
from inventory.wood.lengths import MM_PER_FT

CARD_MARGIN = 0.06
SCALE_STEPS_MM = {measure.METRIC: 500.0, measure.IMPERIAL: MM_PER_FT}
SCALE_WORDS = {measure.METRIC: "500 mm", measure.IMPERIAL: "1 ft"}
PLACES_ALONG = {
    0.0: "first end",
    0.25: "a quarter along",
    0.5: "middle",
    0.75: "three quarters along",
    1.0: "far end",
}


@dataclass(frozen=True)
class Silhouette:
    """An outline alone, with a little air about it."""

    view_box: str
    path: str


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
class SlabPlan:
    """A slab lying along the page with its widths and a scale bar; `words` for who cannot see."""

    view_box: str
    path: str
    marks: list[WidthMark]
    bar: ScaleBar
    type_size: float
    words: str


@dataclass(frozen=True)
class Upright:
    """A slab standing on its first end, beside others of the same `view_box`.

    `lines` are heights of the scale's lines, drawn from `left` to `right`; `picture` is its flat
    photograph, put there by `matrix`; `words` say so where the outline was not traced.
    """

    view_box: str
    path: str
    lines: list[float]
    left: float
    right: float
    picture: Flat | None = None
    matrix: str = ""
    words: str = ""


@dataclass(frozen=True)
class Ways:
    """Which slabs are turned end for end, and which lie with their other face up; by code."""

    turned: frozenset[str] = frozenset()
    flipped: frozenset[str] = frozenset()


def silhouette(slab: Slab) -> Silhouette | None:
    """The outline from the widths; None when no width has been taken."""
    if not slab.widths:
        return None
    points = outline.silhouette(slab.length_mm, slab.stations)
    half = slab.greatest_width_mm / 2
    air = CARD_MARGIN * slab.length_mm
    box = (-air, -half - air, slab.length_mm + 2 * air, 2 * half + 2 * air)
    return Silhouette(_view_box(*box), outline.svg_path(points))


def plan(slab: Slab, system: str) -> SlabPlan | None:
    """The slab to scale, its widths marked; None when no width has been taken."""
    if not slab.widths:
        return None
    half = slab.greatest_width_mm / 2
    unit = slab.length_mm / 100
    box = (-2 * unit, -half - 6 * unit, 104 * unit, 2 * half + 15 * unit)
    return SlabPlan(
        view_box=_view_box(*box),
        path=outline.svg_path(outline.silhouette(slab.length_mm, slab.stations)),
        marks=_marks(slab, half, unit),
        bar=_scale_bar(system, half + 6 * unit, unit),
        type_size=_short(2.6 * unit),
        words=_in_words(slab, system),
    )


def upright(slabs: Iterable[Slab], system: str, ways: Ways | None = None) -> dict[int, Upright]:
    """Each measured slab by its pk, all to one scale: the longest and widest set the frame."""
    every = list(slabs)
    drawn = _standing(every, ways or Ways())
    if not drawn:
        return {}
    longest = max(-one.reach[1] for _, one in drawn.values())
    half = max(one.reach[2] for _, one in drawn.values())
    air = 0.02 * longest
    box = _view_box(-half - air, -longest - air, 2 * half + 2 * air, longest + 2 * air)
    step = SCALE_STEPS_MM[system]
    lines = [_short(-step * i) for i in range(int(longest // step) + 1)]
    right = _short(half + air)
    return {
        pk: Upright(box, one.path, lines, -right, right, shape.picture, one.matrix, shape.words)
        for pk, (shape, one) in drawn.items()
    }


def _standing(slabs: list[Slab], ways: Ways) -> dict[int, tuple[SeenShape, Posed]]:
    found = seen_shapes.seen(slabs)
    return {
        slab.pk: (
            found[slab.pk],
            seen_shapes.posed(
                found[slab.pk],
                is_standing=True,
                is_turned=slab.code in ways.turned,
                is_flipped=slab.code in ways.flipped,
            ),
        )
        for slab in slabs
        if slab.pk in found
    }


def _marks(slab: Slab, half: float, unit: float) -> list[WidthMark]:
    stations = sorted(slab.stations, key=lambda one: one.along)
    high = _short(-half - 2 * unit)
    return [_mark(slab, number, one, unit, high) for number, one in enumerate(stations)]


def _mark(
    slab: Slab, number: int, station: outline.WidthAt, unit: float, y_letter: float
) -> WidthMark:
    # A letter at either end keeps clear of the picture's edge.
    x = min(max(station.along * slab.length_mm, unit), slab.length_mm - unit)
    return WidthMark(
        letter=chr(ord("A") + number) if number < 26 else str(number + 1),
        x=_short(x),
        y_top=_short(-station.width_mm / 2),
        y_foot=_short(station.width_mm / 2),
        y_letter=y_letter,
        along_words=_where(station.along),
        width_mm=station.width_mm,
    )


def _scale_bar(system: str, y: float, unit: float) -> ScaleBar:
    end = _short(SCALE_STEPS_MM[system])
    top, foot, middle = _short(y - unit), _short(y + unit), _short(y)
    path = f"M0 {top}V{foot}M0 {middle}H{end}M{end} {top}V{foot}"
    return ScaleBar(path, SCALE_WORDS[system], _short(end + unit), foot)


def _where(along: float) -> str:
    return PLACES_ALONG.get(round(along, 2), f"{100 * along:.0f} % along")


def _in_words(slab: Slab, system: str) -> str:
    length = measure.format_length(slab.length_mm, system, kind="length")
    least = measure.format_length(slab.least_width_mm, system)
    greatest = measure.format_length(slab.greatest_width_mm, system)
    return f"Outline of the slab from above: {length} long, {least} to {greatest} wide."


def _view_box(*sides: float) -> str:
    return " ".join(f"{side:.1f}" for side in sides)


def _short(number: float) -> float:
    return round(number, 1)
