"""The true shape of every slab: from its current outlines, else from its widths; kept as SlabShape.

`derive` calls `derived_many` and `write` as its part "shape": nothing else writes the rows. What
reads shapes calls `shapes_of`, which makes up for a row not written yet.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import shapely

from inventory.models import FaceSide, Outline, ShapeBasis, Slab, SlabShape
from inventory.models.outline import packed, unpacked
from inventory.wood.outline import plan_area_mm2
from inventory.wood.shape import Shape, face_of_widths, shape_of

ROW: Final = "shape_row"
"""The name under which `derived_many` gives the row beside the slab's own figures."""
AT_ONCE = 500
_NUMBERS = (
    "length_mm",
    "area_mm2",
    "wood_mm2",
    "lower_area_mm2",
    "lower_wood_mm2",
    "mean_width_mm",
    "least_width_mm",
    "greatest_width_mm",
    "circle_x_mm",
    "circle_y_mm",
    "circle_mm",
)
_PLAIN = ("outline_id", "lower_outline_id", "basis", "doubles_back")
_SAME_SHARE, _SAME_MM = 1e-9, 1e-6

Sides = dict[str, Outline]


@dataclass(frozen=True, eq=False)
class Row:
    """What is stored of a slab's shape, and what its facts imply; None where there is nothing."""

    stored: SlabShape | None
    implied: SlabShape | None

    @property
    def differing(self) -> list[str]:
        """The columns that do not say what the facts say; all of them are named by "shape" where
        a whole row is missing, or should not be there."""
        if self.stored is None or self.implied is None:
            return [] if self.stored is self.implied else ["shape"]
        return list(_differing(self.stored, self.implied))


def shapes_of(slabs: Iterable[Slab]) -> dict[int, Shape]:
    """Each slab's shape by its pk, in one query; a slab that was never measured has none.

    A slab whose row is not written yet (a database just migrated) has its shape worked out from
    the facts, which costs one query more for all of them together.
    """
    every = {slab.pk: slab for slab in slabs}
    found = {pk: row.shape for pk, row in _rows(every).items()}
    lacking = [slab for pk, slab in every.items() if pk not in found]
    for pk, sides in _sides(lacking).items() if lacking else ():
        shape = _drawn(every[pk], sides)[0]
        if shape is not None:
            found[pk] = shape
    return {pk: found[pk] for pk in every if pk in found}


def stored(keys: Iterable[int]) -> dict[int, Shape]:
    """The shapes stored for slabs by their keys, in one query; those never measured have none."""
    return {pk: row.shape for pk, row in _rows(keys).items()}


def derived_many(slabs: Sequence[Slab]) -> dict[int, dict[str, Any]]:
    """The slabs' own figures that follow from their shapes, and under ROW what is to be stored."""
    stored, sides = _rows(slab.pk for slab in slabs), _sides(slabs)
    return {slab.pk: _derived(slab, sides[slab.pk], stored.get(slab.pk)) for slab in slabs}


def from_widths(slab: Slab) -> dict[str, Any]:
    """What the widths alone say of a slab without an outline, before it is on the record.

    All but its largest circle, which asks for the whole geometry and comes with its row.
    """
    if not slab.widths:
        return _figures(slab, None, ShapeBasis.NONE, None)
    area_mm2 = plan_area_mm2(slab.length_mm, slab.stations)
    widths_mm = [station.width_mm for station in slab.stations]
    return {
        "mean_width_mm": area_mm2 / slab.length_mm,
        "least_width_mm": min(widths_mm),
        "greatest_width_mm": max(widths_mm),
        "area_mm2": area_mm2,
        "wood_mm2": area_mm2,
        "volume_mm3": area_mm2 * slab.thickness_mm,
        "shape_basis": _basis_of_widths(slab).value,
    }


def write(rows: Iterable[Row]) -> None:
    """Store what is implied, in as many statements as there are batches."""
    every = list(rows)
    implied = [row.implied for row in every if row.implied is not None]
    SlabShape.objects.bulk_create(
        implied,
        batch_size=AT_ONCE,
        update_conflicts=True,
        unique_fields=["slab"],
        update_fields=[f.name for f in SlabShape._meta.concrete_fields if not f.primary_key],
    )
    gone = [row.stored.pk for row in every if row.stored is not None and row.implied is None]
    if gone:
        SlabShape.objects.filter(pk__in=gone).delete()


# --- what the facts imply ----------------------------------------------------------------


def _rows(keys: Iterable[int]) -> dict[int, SlabShape]:
    return {row.pk: row for row in SlabShape.objects.filter(slab__in=list(keys))}


def _sides(slabs: Iterable[Slab]) -> dict[int, Sides]:
    """The traced faces of each slab, by side; withdrawn ones are not among them."""
    found: dict[int, Sides] = {slab.pk: {} for slab in slabs}
    rows = Outline.objects.current().filter(slab__in=list(found))
    for outline in rows.only("slab_id", "side", "ring", "holes", "bark_mm"):
        if not outline.is_withdrawn:
            found[outline.slab_id][outline.side] = outline
    return found


def _drawn(slab: Slab, sides: Sides) -> tuple[Shape | None, ShapeBasis]:
    """The shape: of the upper face where it was traced, else of the lower as its picture shows it,
    else of the widths.
    """
    traced = sides.get(FaceSide.UPPER) or sides.get(FaceSide.LOWER)
    if traced is not None:
        return shape_of(traced.face), ShapeBasis.TRACED
    if not slab.widths:
        return None, ShapeBasis.NONE
    face = face_of_widths(slab.length_mm, slab.stations)
    widths_mm = [station.width_mm for station in slab.stations]
    shape = shape_of(face, is_approximate=True)
    # Measured, not read off the drawing: least and greatest are among the widths themselves.
    measured = replace(shape, least_width_mm=min(widths_mm), greatest_width_mm=max(widths_mm))
    return measured, _basis_of_widths(slab)


def _basis_of_widths(slab: Slab) -> ShapeBasis:
    return ShapeBasis.THREE if slab.are_widths_unplaced else ShapeBasis.WIDTHS


def _derived(slab: Slab, sides: Sides, stored: SlabShape | None) -> dict[str, Any]:
    shape, basis = _drawn(slab, sides)
    implied = None if shape is None else _row(slab, shape, basis, sides)
    mean = None if implied is None else _mean_wood_mm2(implied)
    return {**_figures(slab, shape, basis, mean), ROW: Row(stored, implied)}


def _figures(
    slab: Slab, shape: Shape | None, basis: ShapeBasis, mean_wood_mm2: float | None
) -> dict[str, Any]:
    """The slab's own columns. Volume is of the mean of both faces where both were traced, as the
    trade does; every other figure is of the shape that is drawn.
    """
    wood_mm2 = 0.0 if shape is None else shape.wood_mm2
    volume_mm2 = wood_mm2 if mean_wood_mm2 is None else mean_wood_mm2
    return {
        "mean_width_mm": 0.0 if shape is None else shape.mean_width_mm,
        "least_width_mm": 0.0 if shape is None else shape.least_width_mm,
        "greatest_width_mm": 0.0 if shape is None else shape.greatest_width_mm,
        "area_mm2": 0.0 if shape is None else shape.area_mm2,
        "wood_mm2": wood_mm2,
        "volume_mm3": volume_mm2 * slab.thickness_mm,
        "circle_mm": 0.0 if shape is None else shape.circle[2],
        "shape_basis": basis.value,
    }


def _mean_wood_mm2(row: SlabShape) -> float:
    if row.lower_wood_mm2 is None or row.outline_id is None:
        return row.wood_mm2
    return (row.wood_mm2 + row.lower_wood_mm2) / 2.0


def _row(slab: Slab, shape: Shape, basis: ShapeBasis, sides: Sides) -> SlabShape:
    upper, lower = sides.get(FaceSide.UPPER), sides.get(FaceSide.LOWER)
    x_mm, y_mm, across_mm = shape.circle
    face = lower.face if lower is not None else None
    return SlabShape(
        slab=slab,
        outline_id=None if upper is None else upper.pk,
        lower_outline_id=None if lower is None else lower.pk,
        basis=basis.value,
        wood=shapely.to_wkb(shape.wood),
        length_mm=shape.length_mm,
        area_mm2=shape.area_mm2,
        wood_mm2=shape.wood_mm2,
        lower_area_mm2=None if face is None else float(face.outer.area),
        lower_wood_mm2=None if face is None else float(face.wood.area),
        mean_width_mm=shape.mean_width_mm,
        least_width_mm=shape.least_width_mm,
        greatest_width_mm=shape.greatest_width_mm,
        circle_x_mm=x_mm,
        circle_y_mm=y_mm,
        circle_mm=across_mm,
        doubles_back=bool(shape.doubles_back),
        **{name: packed(getattr(shape, name)) for name in SlabShape.array_columns},
    )


# --- comparing ---------------------------------------------------------------------------


def _differing(stored: SlabShape, implied: SlabShape) -> Iterator[str]:
    for name in _PLAIN:
        if getattr(stored, name) != getattr(implied, name):
            yield name
    for name in _NUMBERS:
        if not _same_number(getattr(stored, name), getattr(implied, name)):
            yield name
    for name in SlabShape.array_columns:
        if not _same_bytes(getattr(stored, name), getattr(implied, name)):
            yield name
    if not _same_wood(bytes(stored.wood), bytes(implied.wood)):
        yield "wood"


def _same_number(stored: float | None, implied: float | None) -> bool:
    if stored is None or implied is None:
        return stored is implied
    return abs(stored - implied) <= max(_SAME_MM, _SAME_SHARE * abs(implied))


def _same_bytes(stored: bytes, implied: bytes) -> bool:
    """Arrays may differ in their last digits from one machine to the next."""
    if bytes(stored) == bytes(implied):
        return True
    if len(stored) != len(implied):
        return False
    return bool(
        np.allclose(unpacked(bytes(stored)), unpacked(bytes(implied)), _SAME_SHARE, _SAME_MM)
    )


def _same_wood(stored: bytes, implied: bytes) -> bool:
    if stored == implied:
        return True
    try:
        was, now = shapely.from_wkb(stored), shapely.from_wkb(implied)
    except shapely.errors.GEOSException:
        return False
    return bool(shapely.equals_exact(was, now, _SAME_MM))
