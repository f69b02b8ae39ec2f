"""The slabs of a log drawn one above another in sawn order, all to one scale."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory import seen_shapes
from inventory.models import Slab
from inventory.seen_shapes import Posed

AIR_MM = 20.0


@dataclass(frozen=True)
class Drawn:
    """A slab and its outline: the path's `d` and the viewBox, in mm."""

    slab: Slab
    path: str
    view_box: str


def drawn(slabs: Sequence[Slab]) -> list[Drawn]:
    """Each slab in a box as long as the longest of them, so that sizes can be compared by eye."""
    found = {pk: seen_shapes.posed(shape) for pk, shape in seen_shapes.seen(slabs).items()}
    longest_mm = max((one.reach[2] for one in found.values()), default=0.0) + AIR_MM
    return [_drawn(slab, found.get(slab.pk), longest_mm) for slab in slabs]


def _drawn(slab: Slab, posed: Posed | None, longest_mm: float) -> Drawn:
    if posed is None:
        return Drawn(slab, "", "")
    height_mm = 2 * posed.reach[3] + AIR_MM
    box = f"{-AIR_MM / 2:.0f} {-height_mm / 2:.0f} {longest_mm:.0f} {height_mm:.0f}"
    return Drawn(slab, posed.path, box)
