"""Scale sheets to print: coded square marks round a bar that a tape can check.

Every sheet carries six square marks of the open ArUco dictionary of 5 × 5 cells, and no two sheets
share a mark, so a photograph tells which sheet is which. The marks and the bar stand in the same
places on A4 and on Letter: only the paper round them differs. A print that came out at 97 % does
no harm as long as the person types what the bar really measures.

Millimetres on the sheet are counted from the top left corner of the block of marks, x to the right
and y down the page, as pixels are counted in a picture.
"""

from __future__ import annotations

import io
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from shapely import Polygon

Floats = npt.NDArray[np.float64]
Ring = tuple[tuple[float, float], ...]

MARK_MM = 70.0
CELLS = 7  # five of code, one of border on each side
BLOCK_MM = (186.0, 255.0)
BAR_MM = 254.0  # ten inches, so that either tape has a mark there
LEAST_PRINT, MOST_PRINT = 0.85, 1.15
MARKS_A_SHEET = 6
SHEET_COUNT = 8

_MM_AN_INCH = 25.4
_BAR_X_MM = BLOCK_MM[0] / 2
_BAR_TOP_MM = (BLOCK_MM[1] - BAR_MM) / 2
_TICK_MM = 7.0
_LINE_MM = 0.4
_INK = "#000000"
_drawing = threading.Lock()


class Paper(StrEnum):
    """The papers a sheet is printed on."""

    A4 = "A4"
    LETTER = "Letter"

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height, upright (ISO 216; ANSI/ASME Y14.1: 8½ × 11 in)."""
        return (210.0, 297.0) if self is Paper.A4 else (215.9, 279.4)


@dataclass(frozen=True, eq=False)
class Mark:
    """One coded square: its number in the dictionary and its corners on the sheet.

    `corners_mm` is (4, 2), clockwise as seen, from the top left of the mark as printed upright:
    the order in which the detector reports them.
    """

    id: int
    corners_mm: Floats


@dataclass(frozen=True, eq=False)
class SheetGeometry:
    """Where everything stands on one sheet as it was drawn, in mm."""

    number: int
    marks: tuple[Mark, ...]
    bar_from_mm: tuple[float, float]
    bar_to_mm: tuple[float, float]

    @property
    def bar_mm(self) -> float:
        """Nominal length of the bar."""
        return self.bar_to_mm[1] - self.bar_from_mm[1]

    @property
    def middle_mm(self) -> Floats:
        """The middle of the block of marks."""
        return np.array(BLOCK_MM) / 2


def geometry(number: int) -> SheetGeometry:
    """The sheet of that number, 1 to `SHEET_COUNT`. Raises ValueError beyond."""
    if not 1 <= number <= SHEET_COUNT:
        raise ValueError(f"Sheets are numbered 1 to {SHEET_COUNT}.")
    first = (number - 1) * MARKS_A_SHEET
    marks = tuple(Mark(first + at, _corners(at)) for at in range(MARKS_A_SHEET))
    return SheetGeometry(number, marks, (_BAR_X_MM, _BAR_TOP_MM), (_BAR_X_MM, _BAR_TOP_MM + BAR_MM))


def _corners(at: int) -> Floats:
    row, column = divmod(at, 2)
    left = column * (BLOCK_MM[0] - MARK_MM)
    top = row * (BLOCK_MM[1] - MARK_MM) / 2
    square = np.array([(0, 0), (1, 0), (1, 1), (0, 1)], dtype=np.float64)
    return np.asarray(square * MARK_MM + (left, top))


def sheet_of(mark_id: int) -> int | None:
    """Number of the sheet that carries a mark; None for a mark on none of ours."""
    number = mark_id // MARKS_A_SHEET + 1
    return number if 1 <= number <= SHEET_COUNT else None


def print_scale(bar_measures_mm: float) -> float:
    """True size over drawn size of a print whose bar measures that much.

    Raises ValueError, in words for the person, when no printer would be that far out.
    """
    share = bar_measures_mm / BAR_MM
    if not LEAST_PRINT <= share <= MOST_PRINT:
        raise ValueError(
            f"The bar is drawn {BAR_MM:g} mm (10 in) long; measure it again from end line to end "
            "line, or print the sheet anew at full size."
        )
    return share


@lru_cache(maxsize=1)
def dictionary_cells() -> tuple[npt.NDArray[np.bool_], ...]:
    """Every mark of our sheets as (7, 7) cells, True where black."""
    import cv2

    marks = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_50)
    count = SHEET_COUNT * MARKS_A_SHEET
    return tuple(np.asarray(marks.generateImageMarker(id_, CELLS)) == 0 for id_ in range(count))


def black_shapes(mark: Mark) -> tuple[tuple[Ring, ...], ...]:
    """The black of a mark on its sheet: each shape its outer ring, then the rings of its holes.

    Rings are closed, outer ones and holes run opposite ways. Cells that touch are one shape: drawn
    square by square, some printers show white seams between them.
    """
    from shapely import box, get_parts, unary_union

    step = MARK_MM / CELLS
    left, top = mark.corners_mm[0]
    black = np.argwhere(dictionary_cells()[mark.id])
    squares = [
        box(left + c * step, top + r * step, left + (c + 1) * step, top + (r + 1) * step)
        for r, c in black
    ]
    return tuple(_rings(part) for part in get_parts(unary_union(squares)))


def _rings(polygon: Polygon) -> tuple[Ring, ...]:
    from shapely.geometry.polygon import orient

    turned = orient(polygon)
    return tuple(
        tuple((float(x), float(y)) for x, y in ring.coords)
        for ring in (turned.exterior, *turned.interiors)
    )


@dataclass(frozen=True)
class _Words:
    """A line of print: its middle on the sheet, its height, and whether it runs up the page."""

    text: str
    x_mm: float
    y_mm: float
    size_mm: float
    upward: bool = False


def _words(number: int) -> tuple[_Words, ...]:
    gaps = (MARK_MM + (BLOCK_MM[1] - 3 * MARK_MM) / 4, BLOCK_MM[1] - MARK_MM - 11.25)
    names = [
        _Words(f"Scale sheet {number}", x, gaps[at], 5.0)
        for at, x in enumerate((MARK_MM / 2, BLOCK_MM[0] - MARK_MM / 2))
    ]
    middle = BLOCK_MM[1] / 2
    return (
        *names,
        _Words(
            f"Print at full size (100 %). Measure this bar from end line to end line: drawn "
            f"{BAR_MM:g} mm (10 in). Type what your tape says.",
            _BAR_X_MM - 9,
            middle,
            3.6,
            True,
        ),
        _Words(
            "Lay the sheet flat on the slab’s upper face, near its middle. Two sheets are better "
            "than one. Hold the camera square on; get the whole slab in.",
            _BAR_X_MM + 9,
            middle,
            3.4,
            True,
        ),
    )


def _bar_lines() -> tuple[tuple[float, float, float, float], ...]:
    """The bar and its end lines as x1, y1, x2, y2; the ends' outer edges are the length."""
    top, bottom = _BAR_TOP_MM + _LINE_MM / 2, _BAR_TOP_MM + BAR_MM - _LINE_MM / 2
    left, right = _BAR_X_MM - _TICK_MM, _BAR_X_MM + _TICK_MM
    return (
        (_BAR_X_MM, top, _BAR_X_MM, bottom),
        (left, top, right, top),
        (left, bottom, right, bottom),
    )


def _offset(paper: Paper) -> tuple[float, float]:
    width, height = paper.size_mm
    return (width - BLOCK_MM[0]) / 2, (height - BLOCK_MM[1]) / 2


def sheet_svg(number: int, paper: Paper) -> str:
    """One sheet as an <svg> element in true mm, for a page that is printed from the browser."""
    width, height = paper.size_mm
    left, top = _offset(paper)
    sheet = geometry(number)
    shapes = [shape for mark in sheet.marks for shape in black_shapes(mark)]
    outline = "".join(_svg_ring(ring) for shape in shapes for ring in shape)
    lines = "".join(f"M{a:g} {b:g}L{c:g} {d:g}" for a, b, c, d in _bar_lines())
    words = "".join(_svg_words(line) for line in _words(number))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="scale-sheet" width="{width:g}mm" '
        f'height="{height:g}mm" viewBox="0 0 {width:g} {height:g}" role="img" '
        f'aria-label="Scale sheet {number}">'
        f'<rect width="{width:g}" height="{height:g}" fill="#ffffff"/>'
        f'<g transform="translate({left:g} {top:g})" fill="{_INK}">'
        f'<path fill-rule="evenodd" d="{outline}"/>'
        f'<path fill="none" stroke="{_INK}" stroke-width="{_LINE_MM:g}" d="{lines}"/>'
        f'<g text-anchor="middle" font-family="sans-serif">{words}</g></g></svg>'
    )


def _svg_ring(ring: Ring) -> str:
    return f"M{'L'.join(f'{x:g} {y:g}' for x, y in ring[:-1])}Z"


def _svg_words(line: _Words) -> str:
    turn = f' transform="rotate(-90 {line.x_mm:g} {line.y_mm:g})"' if line.upward else ""
    return (
        f'<text x="{line.x_mm:g}" y="{line.y_mm:g}" dy="0.35em" font-size="{line.size_mm:g}"'
        f"{turn}>{escape(line.text)}</text>"
    )


def sheets_pdf(paper: Paper, numbers: Sequence[int] = (1, 2)) -> bytes:
    """Those sheets as a PDF of one page each: lines and areas, no pixels, in true mm."""
    from matplotlib import rc_context
    from matplotlib.backends.backend_pdf import PdfPages

    pages = io.BytesIO()
    named = {"Title": "Scale sheets", "CreationDate": None}
    # The library keeps its settings for the whole process: one drawing at a time.
    with _drawing, rc_context(), PdfPages(pages, metadata=named) as pdf:
        for number in numbers:
            pdf.savefig(_page(geometry(number), paper))
    return pages.getvalue()


def _page(sheet: SheetGeometry, paper: Paper) -> Figure:
    from matplotlib.figure import Figure

    width, height = paper.size_mm
    left, top = _offset(paper)
    figure = Figure(figsize=(width / _MM_AN_INCH, height / _MM_AN_INCH))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(-left, width - left)
    axes.set_ylim(height - top, -top)
    axes.axis("off")
    for mark in sheet.marks:
        _draw_mark(axes, mark)
    for x1, y1, x2, y2 in _bar_lines():
        axes.plot([x1, x2], [y1, y2], color=_INK, lw=_points(_LINE_MM), solid_capstyle="butt")
    for line in _words(sheet.number):
        _draw_words(axes, line)
    return figure


def _draw_mark(axes: Axes, mark: Mark) -> None:
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    for shape in black_shapes(mark):
        outline = Path.make_compound_path(*(Path(ring, closed=True) for ring in shape))
        axes.add_patch(PathPatch(outline, facecolor=_INK, linewidth=0, snap=False))


def _draw_words(axes: Axes, line: _Words) -> None:
    axes.text(
        line.x_mm,
        line.y_mm,
        line.text,
        fontsize=_points(line.size_mm),
        rotation=90 if line.upward else 0,
        ha="center",
        va="center",
        color=_INK,
    )


def _points(mm: float) -> float:
    return mm / _MM_AN_INCH * 72
