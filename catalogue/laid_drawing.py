"""A layout as an SVG: slabs as wood, resin between, the top's edge over both, to one scale."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from catalogue.layout.laid import FAR_MM, Layout
from catalogue.layout.placed import Placed
from inventory import seen_shapes
from inventory.models import Slab
from inventory.photos.flat import Flat
from inventory.wood.outline import svg_path

MARGIN_MM = 40.0
Picture = Flat | None


@dataclass(frozen=True)
class DrawnSlab:
    """A slab where it lies. `picture` is its flat photograph with the `matrix` that puts it there,
    to be clipped by `path` (even-odd: holes stay open).
    """

    code: str
    path: str
    picture: Picture
    matrix: str


@dataclass(frozen=True)
class Drawing:
    """Paths in mm, the top's centre at the origin; `view_box` as SVG takes it; `key` names it on
    a page of several.
    """

    view_box: str
    slabs: tuple[DrawnSlab, ...]
    top: str
    resin: str
    cuts: str
    words: str
    key: str


def paths(shape: BaseGeometry) -> str:
    """Every ring of a shape as one SVG path; y up on the bench is y down on the screen."""
    parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
    rings = [ring for part in parts for ring in (part.exterior, *part.interiors)]
    return "".join(svg_path([(x, -y) for x, y in ring.coords]) for ring in rings)


def widest_mm(layouts: Iterable[Layout]) -> float:
    """The width that holds any of the layouts: drawn so wide, all are to one scale."""
    return max((_bounds(laid)[2] - _bounds(laid)[0] for laid in layouts), default=0.0)


def _bounds(laid: Layout) -> tuple[float, float, float, float]:
    """What holds the top and its slabs, with a little air; y up."""
    shapes = [laid.finished, *(placed.slab for placed in laid.placed)]
    left, low, right, high = shapely.total_bounds(shapes)
    return (
        float(left) - MARGIN_MM,
        float(low) - MARGIN_MM,
        float(right) + MARGIN_MM,
        float(high) + MARGIN_MM,
    )


def draw(
    laid: Layout,
    codes: Sequence[str],
    width_mm: float,
    pictures: Mapping[str, Picture] | None = None,
    name: str = "lay",
) -> Drawing:
    """The layout drawn so wide, itself in the middle: the same width for all that are compared.

    `name` tells it from another drawing of the same slabs on the page.
    """
    left, low, right, high = _bounds(laid)
    begins = (left + right - width_mm) / 2
    box = f"{begins:.0f} {-high:.0f} {width_mm:.0f} {high - low:.0f}"
    shown = pictures or {}
    pairs = zip(codes, laid.placed, strict=True)
    return Drawing(
        view_box=box,
        slabs=tuple(
            DrawnSlab(code, paths(placed.slab), shown.get(code), svg_matrix(placed))
            for code, placed in pairs
        ),
        top=paths(laid.finished),
        resin=paths(laid.bare) if laid.has_resin else "",
        cuts="".join(line(cut) for cut in laid.cuts if cut.length < FAR_MM),
        words=_words(laid, codes),
        key="-".join([name, *codes]),
    )


def pictures_of(slabs: Iterable[Slab]) -> dict[str, Picture]:
    """The flat photographs of the traced among them, by the code as it is written; one query."""
    every = list(slabs)
    found = seen_shapes.seen(every)
    return {slab.display_code: found[slab.pk].picture for slab in every if slab.pk in found}


def svg_matrix(placed: Placed) -> str:
    """The matrix that takes a drawing in the slab's x and minus y to the top's."""
    a, b, d, e, x, y = placed.matrix
    return f"matrix({a:.6f} {-d:.6f} {-b:.6f} {e:.6f} {x:.2f} {-y:.2f})"


def line(cut: shapely.LineString) -> str:
    """A cut as an open SVG path, y down."""
    corners = [f"{x:.1f} {-y:.1f}" for x, y in cut.coords]
    return f"M{'L'.join(corners)}"


def _words(laid: Layout, codes: Sequence[str]) -> str:
    tags = " and ".join(codes)
    ways = {
        "resin_pair": ", live edges inward, with resin between",
        "resin_sides": ", with resin along it",
        "bookmatched": ", opened as a book and glued along the middle",
    }
    return f"The top laid on {tags}{ways.get(laid.how, '')}."
