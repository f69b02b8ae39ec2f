"""A log's slabs in sawn order to one scale, and two neighbours opened like a book."""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from django.http import QueryDict
from shapely import Polygon, affinity

from catalogue.browsing import query
from catalogue.groups import IN_STOCK
from catalogue.slab_drawing import SCALE_STEPS_MM, SCALE_WORDS, view_box_of
from inventory import seen_lines, seen_shapes
from inventory.models import Log, Slab, Standing
from inventory.photos.flat import Flat
from inventory.seen_shapes import SeenShape
from inventory.viewer import Viewer
from inventory.wood import measure
from inventory.wood.shape import Floats

MOST_SLABS = 120
AIR_MM = 20.0
LOOK_EVERY_MM = 10.0
END_SHARE = 0.03
"""Ends are often cut oblique: what meets along the joint is judged between them."""
EDGES = {"near": "near edges", "far": "far edges"}


@dataclass(frozen=True)
class Part:
    """A slab in a drawing: its path, its flat picture and the matrix that puts it there."""

    key: str
    path: str
    picture: Flat | None
    matrix: str


@dataclass(frozen=True)
class Row:
    """One slab of the boule; `open_query` opens it with the next one, "" where it has none."""

    slab: Slab
    part: Part | None
    view_box: str
    words: str
    open_query: str
    is_open: bool
    is_gone: bool


@dataclass(frozen=True)
class Opened:
    """Two neighbours opened about their edges. `sentences` say how the edges meet."""

    slabs: tuple[Slab, Slab]
    parts: tuple[Part, Part]
    view_box: str
    joint: str
    edge_words: str
    other_words: str
    other_query: str
    sentences: tuple[str, ...]
    is_approximate: bool


@dataclass(frozen=True)
class Boule:
    log: Log
    rows: list[Row]
    lines: tuple[float, ...]
    step_words: str
    opened: Opened | None


def look(log: Log, data: QueryDict, viewer: Viewer) -> Boule:
    """The page; `open=` two codes, `edge=` which edges meet. A client sees none that is gone."""
    of_log = Slab.objects.for_cards().filter(log=log).order_by("number_in_log", "code")
    if viewer.client_view:
        of_log = of_log.filter(standing__in=IN_STOCK)
    slabs = list(of_log[:MOST_SLABS])
    shapes = seen_shapes.seen(slabs)
    asked = data.getlist("open")
    longest = max((_length(shape) for shape in shapes.values()), default=0.0)
    step = SCALE_STEPS_MM[viewer.system]
    return Boule(
        log=log,
        rows=_rows(slabs, shapes, longest, asked),
        lines=tuple(round(step * i, 1) for i in range(int(longest // step) + 1)),
        step_words=SCALE_WORDS[viewer.system],
        opened=_opened(slabs, shapes, asked, data.get("edge", ""), viewer.system),
    )


def _length(shape: SeenShape) -> float:
    left, _, right, _ = shape.wood.bounds
    return float(right - left)


def _rows(
    slabs: Sequence[Slab], shapes: Mapping[int, SeenShape], longest: float, asked: list[str]
) -> list[Row]:
    following = [*slabs[1:], None]
    return [
        _row(slab, after, shapes, longest, asked)
        for slab, after in zip(slabs, following, strict=True)
    ]


def _row(
    slab: Slab,
    after: Slab | None,
    shapes: Mapping[int, SeenShape],
    longest: float,
    asked: list[str],
) -> Row:
    pair = [slab.code, after.code] if after and _may_open(slab, after, shapes) else []
    shape = shapes.get(slab.pk)
    part, box = None, ""
    if shape is not None:
        drawn = seen_shapes.posed(shape)
        half = drawn.reach[3] + AIR_MM
        part = Part(slab.code, drawn.path, shape.picture, drawn.matrix)
        box = view_box_of(-AIR_MM, -half, longest + 2 * AIR_MM, 2 * half)
    return Row(
        slab=slab,
        part=part,
        view_box=box,
        words=shape.words if shape else "Widths not taken yet",
        open_query=query({"open": pair}) if pair else "",
        is_open=bool(pair) and pair == asked,
        is_gone=slab.standing == Standing.GONE,
    )


def _may_open(one: Slab, after: Slab, shapes: Mapping[int, SeenShape]) -> bool:
    """Next to each other in the log, both measured and both still here."""
    if Standing.GONE in (one.standing, after.standing):
        return False
    if one.number_in_log is None or after.number_in_log is None:
        return False
    beside = after.number_in_log - one.number_in_log == 1
    return beside and one.pk in shapes and after.pk in shapes


def _opened(
    slabs: Sequence[Slab],
    shapes: Mapping[int, SeenShape],
    asked: list[str],
    edge: str,
    system: str,
) -> Opened | None:
    pairs = itertools.pairwise(slabs)
    found = next((pair for pair in pairs if [one.code for one in pair] == asked), None)
    if found is None or not _may_open(*found, shapes):
        return None
    edge = edge if edge in EDGES else "near"
    other = "far" if edge == "near" else "near"
    return _open(found, (shapes[found[0].pk], shapes[found[1].pk]), edge, other, system)


def _open(
    pair: tuple[Slab, Slab], both: tuple[SeenShape, SeenShape], edge: str, other: str, system: str
) -> Opened:
    """The first above the joint, the second mirrored below it, where their edges first touch."""
    sense = 1.0 if edge == "near" else -1.0
    leaves = [_leaf(shape, sense) for shape in both]
    places = _between_ends(min(float(leaf.bounds[2]) for leaf in leaves))
    edges = [seen_lines.edges_at(leaf, places) for leaf in leaves]
    apart = edges[0][:, 0] + edges[1][:, 0]
    lift = -float(np.nanmin(apart)) / 2
    half = max(float(leaf.bounds[3]) for leaf in leaves) + lift + AIR_MM
    length = max(float(leaf.bounds[2]) for leaf in leaves)
    return Opened(
        slabs=pair,
        parts=(
            _part(pair[0].code, both[0], leaves[0], sense, lift, 1.0),
            _part(pair[1].code, both[1], leaves[1], sense, lift, -1.0),
        ),
        view_box=view_box_of(-AIR_MM, -half, length + 2 * AIR_MM, 2 * half),
        joint=f"M0 0H{length:.0f}",
        edge_words=EDGES[edge],
        other_words=EDGES[other],
        other_query=query({"open": [slab.code for slab in pair], "edge": [other]}),
        sentences=_sentences(apart + 2 * lift, edges, system),
        is_approximate=any(shape.is_approximate for shape in both),
    )


def _leaf(shape: SeenShape, sense: float) -> Polygon:
    """The wood from x = 0, the edge that meets the joint below."""
    left = shape.wood.bounds[0]
    moved = affinity.affine_transform(shape.wood, [1.0, 0.0, 0.0, sense, -left, 0.0])
    assert isinstance(moved, Polygon)
    return moved


def _between_ends(length_mm: float) -> Floats:
    count = max(2, int(length_mm / LOOK_EVERY_MM))
    return np.linspace(END_SHARE * length_mm, (1 - END_SHARE) * length_mm, count)


def _part(
    key: str, shape: SeenShape, leaf: Polygon, sense: float, lift: float, side: float
) -> Part:
    """Drawn with y down: `side` 1 above the joint, −1 mirrored below it."""
    drawn = affinity.affine_transform(leaf, [1.0, 0.0, 0.0, -side, 0.0, -side * lift])
    left = shape.wood.bounds[0]
    matrix = f"matrix(1 0 0 {side * sense:.0f} {-left:.2f} {-side * lift:.2f})"
    return Part(key, seen_shapes.path_of(drawn), shape.picture, matrix)


def _sentences(gap_mm: Floats, edges: Sequence[Floats], system: str) -> tuple[str, ...]:
    """How the live edges meet, and how wide the pair would be glued along a straight joint."""

    def said(mm: float) -> str:
        return measure.format_length(mm, system)

    mean, most = float(np.nanmean(gap_mm)), float(np.nanmax(gap_mm))
    live = (
        f"Live edges together, they touch at one place; the gap is {said(mean)} on average "
        f"and {said(most)} at its widest."
    )
    # A straight joint parallel to the slabs' length takes each edge back to its deepest place.
    across = [edge[:, 1] - np.nanmax(edge[:, 0]) for edge in edges]
    width = np.clip(across[0], 0.0, None) + np.clip(across[1], 0.0, None)
    least, greatest = said(float(np.nanmin(width))), said(float(np.nanmax(width)))
    wide = least if least == greatest else f"{least} to {greatest}"
    return live, f"Jointed straight and glued, the pair would be {wide} wide."
