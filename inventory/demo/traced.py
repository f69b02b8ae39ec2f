"""The true outline of an invented slab's face, as its photograph shows it.

From the same lines the picture is drawn with, so that an outline lies on the wood that is seen.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from inventory.demo import edge
from inventory.demo.frame import Frame, face_frame, px_per_m_for, span_of
from inventory.demo.look import SpeciesLook
from inventory.demo.shape import DemoShape, Floats
from inventory.demo.slab import ring_mm

FINE_MM = 0.8
"""No point is kept that a person would not need to draw the line this closely."""


@dataclass(frozen=True, eq=False)
class TrueFace:
    """A face in the pixels of its picture, which count from the middle of the top left one.

    `ring_px` (n, 2) and `holes_px` run along the wood; with `bark_mm` above 0 the ring runs round
    the bark, on average that thick. `picture_mm` is the picture's width and height between the
    middles of its outermost pixels.
    """

    ring_px: Floats
    holes_px: tuple[Floats, ...]
    bark_mm: float
    picture_px: tuple[int, int]
    picture_mm: tuple[float, float]


def true_face(
    shape: DemoShape,
    look: SpeciesLook,
    long_side_px: int,
    *,
    with_bark: bool = False,
    is_turned_over: bool = False,
) -> TrueFace:
    """The face on the picture whose longer side has so many pixels (see picture.draw_face).

    `is_turned_over` of the other face: the picture is flipped, far edge near.
    """
    frame = face_frame(shape, px_per_m_for(shape, long_side_px))
    ring, bark_mm = _ring(shape, look, frame, with_bark=with_bark)
    wood, holes = _without_voids(shape, ring)
    size = (frame.width_px, frame.height_px)

    def px(points_mm: Floats) -> Floats:
        found = frame.to_px(points_mm) - 0.5
        return (
            np.column_stack([found[:, 0], size[1] - 1 - found[:, 1]]) if is_turned_over else found
        )

    return TrueFace(
        ring_px=px(wood),
        holes_px=tuple(px(hole) for hole in holes),
        bark_mm=bark_mm,
        picture_px=size,
        picture_mm=((size[0] - 1) / frame.px_per_mm, (size[1] - 1) / frame.px_per_mm),
    )


def _ring(
    shape: DemoShape, look: SpeciesLook, frame: Frame, *, with_bark: bool
) -> tuple[Floats, float]:
    """The line round the wood, or round its bark and wane, and how thick those are."""
    inner = frame.cropped(*span_of(shape, frame))
    lines = {upper: edge.rough_edge_px(shape, inner, upper) for upper in (True, False)}
    if not with_bark:
        return ring_mm(shape, inner, lines[True], lines[False]), 0.0
    strips = {upper: edge.strip_width_px(shape, inner, look, upper)[0] for upper in (True, False)}
    ring = ring_mm(shape, inner, lines[True] - strips[True], lines[False] + strips[False])
    mean_px = (float(strips[True].mean()) + float(strips[False].mean())) / 2
    return ring, mean_px / inner.px_per_mm


def _without_voids(shape: DemoShape, ring: Floats) -> tuple[Floats, list[Floats]]:
    """A cleft opens the line at the end; other voids are holes in it."""
    within: BaseGeometry = Polygon(ring).buffer(0)
    voids = list(shape.voids_mm)
    if shape.fork_x_mm is not None:
        within = within.difference(Polygon(voids.pop(0)).buffer(0))
    whole = max(shapely.get_parts(within), key=lambda part: float(part.area))
    line = shapely.get_coordinates(shapely.get_exterior_ring(whole).simplify(FINE_MM))[:-1]
    wood = Polygon(line)
    return line, [void for void in voids if wood.contains(Polygon(void).buffer(1.0))]
