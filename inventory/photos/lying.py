"""Whether the scale holds where the slab is: sheets beside it, ends outside the picture."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from shapely import Point, Polygon

from inventory.photos.problems import Problem, Trouble, listed, sentence_start
from inventory.photos.scale import UNSURE_AREA_PCT, Floats, Scale

BORDER_SHARE = 0.004


def look_over(scale: Scale, outline_mm: npt.ArrayLike) -> tuple[Problem, ...]:
    """What to say once it is known where the slab lies in the picture, (n, 2) mm."""
    outline = np.asarray(outline_mm, dtype=np.float64).reshape(-1, 2)
    told = (off_slab(scale, outline), cut_off(scale, outline), unsure(scale, outline))
    return tuple(problem for problem in told if problem is not None)


def off_slab(scale: Scale, outline_mm: Floats) -> Problem | None:
    """Sheets whose middle lies outside the outline: on the floor, as a rule.

    A scale already carried up by the slab's thickness has had its correction.
    """
    if scale.raised_mm:
        return None
    shape = Polygon(outline_mm).buffer(0)
    off = [sheet.number for sheet in scale.sheets if not shape.contains(Point(sheet.middle_mm))]
    if not off:
        return None
    lies, it, is_ = ("lies", "it", "is") if len(off) == 1 else ("lie", "they", "are")
    return Problem(
        Trouble.OFF_SLAB,
        f"{sentence_start(listed(off))} {lies} beside the slab. If {it} {is_} on the floor, the "
        "slab’s face is nearer the camera and comes out too large, by about 5 % of area for 60 mm: "
        "give the slab’s thickness to have it corrected, or lay the sheet on the slab.",
        stops=True,
    )


def cut_off(scale: Scale, outline_mm: Floats) -> Problem | None:
    """An outline that runs to the picture's edge, or over it."""
    width, height = scale.picture_px
    at = scale.px(outline_mm) / (width - 1, height - 1)
    over = {
        "left": at[:, 0].min() < BORDER_SHARE,
        "right": at[:, 0].max() > 1 - BORDER_SHARE,
        "upper": at[:, 1].min() < BORDER_SHARE,
        "lower": at[:, 1].max() > 1 - BORDER_SHARE,
    }
    sides = [side for side, is_over in over.items() if is_over]
    if not sides:
        return None
    return Problem(
        Trouble.CUT_OFF,
        f"The slab runs out of the picture at its {' and '.join(sides)} edge: step back and take "
        "it again with the whole slab in.",
        stops=True,
    )


def unsure(scale: Scale, outline_mm: Floats) -> Problem | None:
    """A sheet too small in the picture, or too far from the slab, to settle its size."""
    spread = scale.area_spread_pct(scale.px(outline_mm))
    if spread is None or spread <= UNSURE_AREA_PCT:
        return None
    return Problem(
        Trouble.UNSURE,
        f"The sheet is so small in the picture, or so far from parts of the slab, that the area "
        f"may be {2 * spread:.0f} % out. Lay a second sheet towards the other end, or go nearer.",
    )
