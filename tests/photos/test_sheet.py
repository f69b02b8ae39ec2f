"""Scale sheets: what is printed is where the geometry says, to a hundredth of a millimetre."""

from __future__ import annotations

import re
import zlib
from collections.abc import Iterator
from itertools import combinations

import numpy as np
import pytest
from PIL import Image, ImageChops, ImageDraw

from inventory.photos.marks import find_marks
from inventory.photos.scale import Floats, Pixels
from inventory.photos.sheet import (
    BAR_MM,
    BLOCK_MM,
    MARK_MM,
    SHEET_COUNT,
    Paper,
    geometry,
    print_scale,
    sheet_of,
    sheet_svg,
    sheets_pdf,
)

MM_A_POINT = 25.4 / 72
PX_PER_MM = 3.0
# ISO 216:2007 (A4) and ANSI/ASME Y14.1 (Letter, 8½ × 11 in), in mm.
PAPERS = {Paper.A4: (210.0, 297.0), Paper.LETTER: (215.9, 279.4)}


def streams(pdf: bytes) -> Iterator[bytes]:
    for found in re.finditer(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.S):
        try:
            yield zlib.decompress(found[1])
        except zlib.error:
            continue


def page_paths(pdf: bytes, height_mm: float) -> list[tuple[str, list[Floats]]]:
    """Every path of the first page but its white ground: how it is painted, and its rings in mm
    from the top left."""
    page = next(text for text in streams(pdf) if b" re W n" in text).decode("latin1")
    rings: list[list[tuple[float, float]]] = []
    paths: list[tuple[str, list[Floats]]] = []
    for words in (row.split() for row in page.splitlines()):
        if len(words) == 3 and words[2] in "ml":
            x, y = (float(word) * MM_A_POINT for word in words[:2])
            if words[2] == "m":
                rings.append([])
            rings[-1].append((x, height_mm - y))
        elif words in (["f"], ["S"]) or words == ["n"]:
            paths.append((words[0], [np.array(ring) for ring in rings]))
            rings = []
    return [(paint, rings) for paint, rings in paths if not any(map(is_page, rings))]


def is_page(ring: Floats) -> bool:
    return bool(np.ptp(ring, axis=0).min() > 200)


def drawn(paths: list[list[Floats]], size_mm: tuple[float, float]) -> Pixels:
    """Filled rings, holes left open, as a grey picture."""
    size = (round(size_mm[0] * PX_PER_MM), round(size_mm[1] * PX_PER_MM))
    black = Image.new("1", size)
    for ring in (ring for rings in paths for ring in rings):
        layer = Image.new("1", size)
        ImageDraw.Draw(layer).polygon([tuple(p) for p in ring * PX_PER_MM - 0.5], fill=1)
        black = ImageChops.logical_xor(black, layer)
    return np.where(np.asarray(black), 20, 240).astype(np.uint8)


@pytest.mark.parametrize("paper", Paper)
def test_a_pdf_page_is_the_size_of_its_paper(paper: Paper) -> None:
    pages = re.findall(rb"MediaBox \[([^\]]*)\]", sheets_pdf(paper, (1, 2, 5)))
    assert len(pages) == 3
    for page in pages:
        size_mm = [float(word) * MM_A_POINT for word in page.split()]
        assert size_mm == pytest.approx([0, 0, *PAPERS[paper]], abs=1e-3)


@pytest.mark.parametrize("paper", Paper)
def test_the_bar_in_the_pdf_is_as_long_as_it_says(paper: Paper) -> None:
    pdf = sheets_pdf(paper, (2,))
    strokes = [rings for paint, rings in page_paths(pdf, PAPERS[paper][1]) if paint == "S"]
    lines = [ring for rings in strokes for ring in rings]
    bar = max(lines, key=lambda line: float(np.ptp(line[:, 1])))
    ends = sorted(float(line[0, 1]) for line in lines if float(np.ptp(line[:, 1])) < 1e-6)
    # The tape goes from outer edge to outer edge of end lines 0.4 mm thick.
    assert ends[-1] - ends[0] + 0.4 == pytest.approx(BAR_MM, abs=0.01)
    assert np.ptp(bar[:, 1]) == pytest.approx(BAR_MM - 0.4, abs=0.01)


@pytest.mark.parametrize("paper", Paper)
def test_the_detector_reads_the_pdf_where_the_geometry_says(paper: Paper) -> None:
    size = PAPERS[paper]
    fills = [rings for paint, rings in page_paths(sheets_pdf(paper, (3,)), size[1]) if paint == "f"]
    corner = (np.array(size) - BLOCK_MM) / 2
    exact = np.vstack([ring for rings in fills for ring in rings]) - corner
    marks = find_marks(drawn(fills, size))
    assert sorted(marks) == [mark.id for mark in geometry(3).marks]
    for mark in geometry(3).marks:
        for place in mark.corners_mm:
            assert np.abs(exact - place).max(axis=1).min() < 0.01
        seen = (marks[mark.id] + 0.5) / PX_PER_MM - corner
        # The exact place stands above; a third of a mm is one pixel of the drawing read here.
        assert np.abs(seen - mark.corners_mm).max() < 0.5


def test_the_page_draws_the_same_sheet() -> None:
    svg = sheet_svg(3, Paper.A4)
    assert 'width="210mm" height="297mm" viewBox="0 0 210 297"' in svg
    outline = re.search(r'fill-rule="evenodd" d="([^"]*)"', svg)
    assert outline is not None
    rings = [
        np.array([[float(w) for w in point.split()] for point in ring.strip("MZ").split("L")])
        for ring in re.findall(r"M[^Z]*Z", outline[1])
    ]
    marks = find_marks(drawn([[np.add(ring, (12.0, 21.0)) for ring in rings]], Paper.A4.size_mm))
    assert sorted(marks) == [mark.id for mark in geometry(3).marks]


def test_the_page_carries_no_inline_style() -> None:
    assert "style" not in sheet_svg(1, Paper.LETTER)


def test_no_two_sheets_share_a_mark() -> None:
    ids = [{mark.id for mark in geometry(n).marks} for n in range(1, SHEET_COUNT + 1)]
    assert all(not a & b for a, b in combinations(ids, 2))
    assert all(sheet_of(id_) == number for number, some in enumerate(ids, 1) for id_ in some)
    assert sheet_of(max(max(ids, key=max)) + 1) is None


def test_marks_keep_a_cell_of_white_between_them() -> None:
    for one, other in combinations(geometry(1).marks, 2):
        gap = np.abs(one.corners_mm.mean(axis=0) - other.corners_mm.mean(axis=0)).max() - MARK_MM
        assert gap >= MARK_MM / 7


def test_there_is_no_sheet_nought() -> None:
    with pytest.raises(ValueError, match="numbered 1 to 8"):
        geometry(0)


def test_a_bar_at_97_per_cent_gives_the_prints_scale() -> None:
    assert print_scale(0.97 * 254.0) == pytest.approx(0.97)


@pytest.mark.parametrize("bar_mm", [10.0, 25.4, 400.0, float("nan")])
def test_a_bar_no_printer_draws_is_refused(bar_mm: float) -> None:
    with pytest.raises(ValueError, match="measure it again"):
        print_scale(bar_mm)
