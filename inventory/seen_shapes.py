"""What a drawing needs of slabs' shapes: the wood, and whether it was traced. One query for all."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import shapely
from shapely import Polygon

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


def svg(wood: Polygon, *, standing: bool = False) -> str:
    """A shape as an SVG path: lying with y down, or standing on its first end."""
    simple = wood.simplify(DRAWN_TO_MM)
    rings = [simple.exterior, *simple.interiors] if isinstance(simple, Polygon) else []
    if standing:
        return "".join(outline.svg_path((y, -x) for x, y in ring.coords) for ring in rings)
    return "".join(outline.svg_path((x, -y) for x, y in ring.coords) for ring in rings)
