"""A layout as an SVG: slabs as wood, resin between, the top's edge over both, to one scale."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from shapely.geometry.base import BaseGeometry

from catalogue.layout import Layout
from inventory.wood.outline import svg_path

MARGIN_MM = 40.0


@dataclass(frozen=True)
class Drawing:
    """Paths in mm, the top's centre at the origin; `view_box` as SVG takes it."""

    view_box: str
    slabs: tuple[str, ...]
    top: str
    resin: str
    joint: str
    words: str


def paths(shape: BaseGeometry) -> str:
    """Every outer ring of a shape as one SVG path; y up on the bench is y down on the screen."""
    parts = getattr(shape, "geoms", [shape])
    rings = [part.exterior.coords for part in parts if part.geom_type == "Polygon"]
    return "".join(svg_path([(x, -y) for x, y in ring]) for ring in rings)


def extent_mm(layouts: Iterable[Layout]) -> tuple[float, float]:
    """Half the width and half the height that hold every layout about its top's centre."""
    half_x, half_y = 0.0, 0.0
    for laid in layouts:
        for polygon in (laid.top.polygon, *(placed.polygon for placed in laid.placed)):
            left, bottom, right, upper = polygon.bounds
            half_x = max(half_x, -left, right)
            half_y = max(half_y, -bottom, upper)
    return half_x + MARGIN_MM, half_y + MARGIN_MM


def draw(laid: Layout, codes: Sequence[str], half_width_mm: float) -> Drawing:
    """The layout drawn `half_width_mm` to each side: the same for all that are compared."""
    _, half_y = extent_mm([laid])
    box = f"{-half_width_mm:.0f} {-half_y:.0f} {2 * half_width_mm:.0f} {2 * half_y:.0f}"
    half = laid.top.length_mm / 2
    wood = laid.top.polygon.difference(laid.placed[0].polygon)
    for placed in laid.placed[1:]:
        wood = wood.difference(placed.polygon)
    return Drawing(
        view_box=box,
        slabs=tuple(paths(placed.polygon) for placed in laid.placed),
        top=paths(laid.top.polygon),
        resin=paths(wood) if laid.joint == "resin" else "",
        joint=f"M{-half:.0f} 0L{half:.0f} 0" if laid.joint == "glued" else "",
        words=_words(laid, codes),
    )


def _words(laid: Layout, codes: Sequence[str]) -> str:
    tags = " and ".join(codes)
    if laid.joint == "resin":
        return f"The top laid on {tags}, live edges inward, with resin between."
    if laid.joint == "glued":
        return f"The top laid on {tags}, opened as a book and glued along the middle."
    return f"The top laid on {tags}."
