"""A log's slabs in sawn order to one scale, and two neighbours opened like a book."""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from django.http import QueryDict
from shapely import Polygon, affinity

from catalogue.browsing import query
from catalogue.groups import IN_STOCK
from catalogue.layout.bookmatch import Leaf, beside
from catalogue.slab_drawing import SCALE_STEPS_MM, SCALE_WORDS, view_box_of
from inventory import seen_lines, seen_shapes
from inventory.models import Log, Slab, Standing
from inventory.photos.flat import Flat
from inventory.seen_shapes import SeenShape
from inventory.shapes import stored as stored_shapes
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
    seat = _seat(pair)
    leaves = _leaves(both, seat, sense)
    places = _between_ends(*_shared(leaves))
    edges = [seen_lines.edges_at(leaf.wood, places) for leaf in leaves]
    apart = edges[0][:, 0] + edges[1][:, 0]
    lift = -float(np.nanmin(apart)) / 2
    bounds = np.array([leaf.wood.bounds for leaf in leaves])
    start_mm, end_mm = float(bounds[:, 0].min()), float(bounds[:, 2].max())
    half_mm = float(bounds[:, 3].max()) + lift + AIR_MM
    length_mm = end_mm - start_mm
    return Opened(
        slabs=pair,
        parts=(
            _part(pair[0].code, leaves[0], sense, lift, 1.0),
            _part(pair[1].code, leaves[1], sense, lift, -1.0),
        ),
        view_box=view_box_of(start_mm - AIR_MM, -half_mm, length_mm + 2 * AIR_MM, 2 * half_mm),
        joint=f"M{start_mm:.0f} 0H{end_mm:.0f}",
        edge_words=EDGES[edge],
        other_words=EDGES[other],
        other_query=query({"open": [slab.code for slab in pair], "edge": [other]}),
        sentences=(
            *_seat_sentences(pair, seat, system),
            *_sentences(apart + 2 * lift, edges, system),
        ),
        is_approximate=any(shape.is_approximate for shape in both),
    )


@dataclass(frozen=True)
class _Lying:
    """A slab in the book: its wood with the edge that meets the joint below, from the first's end.

    `heading` is 1, or −1 where it is turned end for end; then it is moved along by `shift_mm`.
    """

    shape: SeenShape
    wood: Polygon
    heading: float
    shift_mm: float


def _seat(pair: tuple[Slab, Slab]) -> Leaf | None:
    """The second as it grew beside the first, where both outlines tell."""
    found = stored_shapes([slab.pk for slab in pair])
    first, second = (found.get(slab.pk) for slab in pair)
    return beside(first, second) if first is not None and second is not None else None


def _leaves(
    both: tuple[SeenShape, SeenShape], seat: Leaf | None, sense: float
) -> tuple[_Lying, _Lying]:
    lefts = [float(shape.wood.bounds[0]) for shape in both]
    first = _lying(both[0], 1.0, -lefts[0], sense)
    if seat is None or not (seat.is_turned or seat.slid_mm):
        return first, _lying(both[1], 1.0, -lefts[1], sense)
    heading = -1.0 if seat.is_turned else 1.0
    return first, _lying(both[1], heading, seat.slid_mm - lefts[0], sense)


def _lying(shape: SeenShape, heading: float, shift_mm: float, sense: float) -> _Lying:
    matrix = [heading, 0.0, 0.0, sense * heading, shift_mm, 0.0]
    moved = affinity.affine_transform(shape.wood, matrix)
    assert isinstance(moved, Polygon)
    return _Lying(shape, moved, heading, shift_mm)


def _shared(leaves: Sequence[_Lying]) -> tuple[float, float]:
    """From where to where both lie along the joint (mm)."""
    bounds = np.array([leaf.wood.bounds for leaf in leaves])
    return float(bounds[:, 0].max()), float(bounds[:, 2].min())


def _seat_sentences(pair: tuple[Slab, Slab], seat: Leaf | None, system: str) -> tuple[str, ...]:
    """How the second lies otherwise than it was traced, if it does."""
    if seat is None:
        return ()
    one, other = (slab.display_code for slab in pair)
    along_mm = seat.slid_mm - seat.shape.length_mm * seat.is_turned
    ways = []
    if seat.is_turned:
        ways.append("turned end for end")
    if along_mm:
        way = "further along" if along_mm > 0 else "further back"
        ways.append(f"{measure.format_length(abs(along_mm), system)} {way}")
    if not ways:
        return ()
    return (f"{other} is drawn {' and '.join(ways)}, as its edges say it grew beside {one}.",)


def _between_ends(start_mm: float, end_mm: float) -> Floats:
    length_mm = end_mm - start_mm
    count = max(2, int(length_mm / LOOK_EVERY_MM))
    return np.linspace(start_mm + END_SHARE * length_mm, end_mm - END_SHARE * length_mm, count)


def _part(key: str, leaf: _Lying, sense: float, lift: float, side: float) -> Part:
    """Drawn with y down: `side` 1 above the joint, −1 mirrored below it."""
    drawn = affinity.affine_transform(leaf.wood, [1.0, 0.0, 0.0, -side, 0.0, -side * lift])
    upright = side * sense * leaf.heading
    matrix = f"matrix({leaf.heading:.0f} 0 0 {upright:.0f} {leaf.shift_mm:.2f} {-side * lift:.2f})"
    return Part(key, seen_shapes.path_of(drawn), leaf.shape.picture, matrix)


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
