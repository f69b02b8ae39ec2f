"""What a drawing needs of slabs' shapes: the wood, and whether it was traced. One query for all."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely import Polygon, affinity

from inventory.models import ShapeBasis, Slab, SlabShape
from inventory.photos.flat import Flat, flat_at
from inventory.wood import outline
from inventory.wood.shape import face_of_widths

_DRAWN_FROM = ("slab_id", "wood", "basis", "outline_id", "outline__photo_id", "outline__ring")
DRAWN_TO_MM = 0.5
"""A traced ring is drawn with no more points than this much off asks for."""


@dataclass(frozen=True)
class SeenShape:
    """`wood` in the slab's mm: x from its first end, y up; `picture` of it where it was traced."""

    wood: Polygon
    basis: str
    picture: Flat | None = None

    @property
    def is_approximate(self) -> bool:
        return self.basis != ShapeBasis.TRACED

    @property
    def words(self) -> str:
        """What is said beside a drawing that was not traced; "" of one that was."""
        if self.basis == ShapeBasis.TRACED:
            return ""
        if self.basis == ShapeBasis.THREE:
            return "Approximate outline, from three widths"
        return "Approximate outline, from widths"

    @cached_property
    def path(self) -> str:
        """As an SVG path, y down, holes and all (fill-rule even-odd)."""
        return svg(self.wood)


def seen(slabs: Iterable[Slab]) -> dict[int, SeenShape]:
    """Each measured slab's shape by its pk; one not stored yet is drawn from its widths."""
    every = {slab.pk: slab for slab in slabs}
    rows = SlabShape.objects.filter(slab__in=list(every))
    found: dict[int, SeenShape] = {}
    for pk, kept, basis, outline_pk, photo_pk, ring in rows.values_list(*_DRAWN_FROM):
        wood = shapely.from_wkb(bytes(kept))
        picture = flat_at(outline_pk, ring) if photo_pk and ring else None
        if isinstance(wood, Polygon) and not wood.is_empty:
            found[pk] = SeenShape(wood, basis, picture)
    for pk, slab in every.items():
        if pk not in found and slab.widths:
            found[pk] = _from_widths(slab)
    return found


def _from_widths(slab: Slab) -> SeenShape:
    face = face_of_widths(slab.length_mm, slab.stations)
    basis = ShapeBasis.THREE if slab.are_widths_unplaced else ShapeBasis.WIDTHS
    return SeenShape(face.wood, str(basis))


def svg(wood: Polygon) -> str:
    """A shape in its own mm as an SVG path, y down, its holes after its edge."""
    return path_of(_simple(affinity.scale(wood, yfact=-1.0, origin=(0.0, 0.0))))


@dataclass(frozen=True)
class Posed:
    """A shape as it is drawn, y down: its path, the `matrix` that takes its flat picture there,
    and how far it reaches (left, top, right, foot).
    """

    path: str
    matrix: str
    reach: tuple[float, float, float, float]


def posed(
    shape: SeenShape,
    *,
    is_standing: bool = False,
    is_turned: bool = False,
    is_flipped: bool = False,
) -> Posed:
    """Lying with its first end left, or standing on it; across, its middle on the axis.

    Turned end for end and flipped (its other face up) about its own middle.
    """
    left, low, right, high = shape.wood.bounds
    length, middle = right - left, (low + high) / 2
    # In the drawing's own x and y down: y is minus the slab's.
    step = np.array([[1.0, 0.0, -left], [0.0, 1.0, middle], [0.0, 0.0, 1.0]])
    if is_flipped:
        step = np.diag([1.0, -1.0, 1.0]) @ step
    if is_turned:
        step = np.array([[-1.0, 0.0, length], [0.0, -1.0, 0.0], [0.0, 0.0, 1.0]]) @ step
    if is_standing:
        step = np.array([[0.0, 1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]]) @ step
    (a, c, e), (b, d, f), _ = step
    drawn = affinity.affine_transform(shape.wood, [a, -c, b, -d, e, f])
    matrix = " ".join(f"{number:.3f}".removesuffix(".000") for number in (a, b, c, d, e, f))
    return Posed(path_of(_simple(drawn)), f"matrix({matrix})", drawn.bounds)


def _simple(wood: Polygon) -> Polygon:
    simple = wood.simplify(DRAWN_TO_MM)
    return simple if isinstance(simple, Polygon) else wood


def path_of(wood: Polygon) -> str:
    """A shape as it stands as an SVG path, its holes after its edge."""
    rings = [wood.exterior, *wood.interiors]
    return "".join(outline.svg_path((x, y) for x, y in ring.coords) for ring in rings)
