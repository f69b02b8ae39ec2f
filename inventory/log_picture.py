"""The slabs of a log drawn one above another in sawn order, all to one scale."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.models import Slab
from inventory.wood import outline

AIR_MM = 20.0


@dataclass(frozen=True)
class Drawn:
    """A slab and its outline: the path's `d` and the viewBox, in mm."""

    slab: Slab
    path: str
    view_box: str


def drawn(slabs: Sequence[Slab]) -> list[Drawn]:
    """Each slab in a box as long as the longest of them, so that sizes can be compared by eye."""
    longest_mm = max((slab.length_mm for slab in slabs), default=0.0) + AIR_MM
    return [_drawn(slab, longest_mm) for slab in slabs]


def _drawn(slab: Slab, longest_mm: float) -> Drawn:
    if not slab.widths:
        return Drawn(slab, "", "")
    path = outline.svg_path(outline.silhouette(slab.length_mm, slab.stations))
    height_mm = slab.greatest_width_mm + AIR_MM
    box = f"{-AIR_MM / 2:.0f} {-height_mm / 2:.0f} {longest_mm:.0f} {height_mm:.0f}"
    return Drawn(slab, path, box)
