"""The form a resin top is cast in: its size, and the resin that each shape of form takes.

A round is cast oversize and cut out afterwards, so the form's corners are filled and thrown away:
an octagon round the circle leaves less of them than a square, a ring none.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon, affinity, box

from catalogue.layout.laid import Layout

TRIM_MM = 10.0
"""Common practice: so much is cast beyond the top's edge all round, to be cut away."""
RING_POINTS = 720


@dataclass(frozen=True)
class Form:
    """A form and what it takes: areas mm², volume mm³ at the thickness it is poured to.

    `across_mm` is the width of a square or octagon across its flats, a ring's diameter, or a box's
    width, `along_mm` its length.
    """

    kind: str
    along_mm: float
    across_mm: float
    area_mm2: float
    wood_mm2: float
    resin_mm2: float
    resin_mm3: float


def forms_for(laid: Layout, thickness_mm: float, trim_mm: float = TRIM_MM) -> list[Form]:
    """Every form the top could be cast in, the least resin last; none where nothing is cast.

    The slabs reach into the form as far as their wood does, within what each keeps after it is
    ripped.
    """
    if not laid.has_resin:
        return []
    top = laid.top
    along, across = top.length_mm + 2 * trim_mm, top.width_mm + 2 * trim_mm
    shapes = {"box": box(-along / 2, -across / 2, along / 2, across / 2)}
    if top.shape == "round":
        shapes = {"square": shapes["box"], "octagon": octagon(across), "ring": ring(across)}
    elif top.shape == "oval":
        shapes["ring"] = affinity.scale(ring(across), along / across, 1.0, origin=(0, 0))
    found = [_form(kind, shape, laid, thickness_mm) for kind, shape in shapes.items()]
    return sorted(found, key=lambda form: -form.resin_mm2)


def octagon(across_mm: float) -> Polygon:
    """A regular octagon by its width across the flats; two of its sides lie along x."""
    half = across_mm / 2
    reach = half / float(np.cos(np.pi / 8))
    turn = np.pi / 8 + np.arange(8) * np.pi / 4
    return Polygon(reach * np.column_stack([np.cos(turn), np.sin(turn)]))


def ring(diameter_mm: float) -> Polygon:
    turn = np.linspace(0.0, 2 * np.pi, RING_POINTS, endpoint=False)
    return Polygon(diameter_mm / 2 * np.column_stack([np.cos(turn), np.sin(turn)]))


def _form(kind: str, shape: Polygon, laid: Layout, thickness_mm: float) -> Form:
    pieces = []
    for at, placed in enumerate(laid.placed):
        wood = placed.polygon.intersection(shape)
        keep = laid.keeps[at] if at < len(laid.keeps) else None
        pieces.append(wood if keep is None else wood.intersection(keep))
    area = float(shape.area)
    wood_mm2 = float(shapely.union_all(pieces).area)
    resin = area - wood_mm2
    left, low, right, high = shape.bounds
    return Form(kind, right - left, high - low, area, wood_mm2, resin, resin * thickness_mm)
