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
    return Silhouette(view_box_of(*box), outline.svg_path(points))


def upright(slabs: Iterable[Slab], system: str, ways: Ways | None = None) -> dict[int, Upright]:
    """Each measured slab by its pk, all to one scale: the longest and widest set the frame."""
    every = list(slabs)
    drawn = _standing(every, ways or Ways())
    if not drawn:
        return {}
    longest = max(-one.reach[1] for _, one in drawn.values())
    half = max(one.reach[2] for _, one in drawn.values())
    air = 0.02 * longest
    box = view_box_of(-half - air, -longest - air, 2 * half + 2 * air, longest + 2 * air)
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


def view_box_of(*sides: float) -> str:
    """Left, top, width and height as SVG takes them."""
    return " ".join(f"{side:.1f}" for side in sides)


def _short(number: float) -> float:
    return round(number, 1)
