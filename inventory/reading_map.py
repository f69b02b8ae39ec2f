"""A slab with its readings where they were taken: from above, and in its thickness. Pure geometry
for SVG, and the same in words.

Shell, between and core are told apart by shape: square, diamond, disc; a ring where the depth was
not said. The near edge is drawn below, the face the readings were taken from on top.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from shapely import affinity

from inventory import reading_words, seen_lines, seen_shapes
from inventory.models import MoistureCheck, Reading, Slab, Zone
from inventory.reading_plan import CORE_SHARE, SHELL_SHARE, across_words
from inventory.seen_shapes import SeenShape
from inventory.wood import measure, outline

WIDTH = 400.0
LEAST_HEIGHT = 96.0
GREATEST_HEIGHT = 180.0
MARGIN = 8.0
# Readings at one place are drawn above each other, so many units apart.
STEP = 24.0
# A mark with its number takes so much room.
ROOM = (46.0, 14.0)
SECTION_HEIGHT = 156.0
# Shell is the outer fifth at either face, core the middle fifth.
BANDS = (("shell", 0.0, 0.2), ("core", 0.4, 0.6), ("shell", 0.8, 1.0))
_SHARE_OF = {Zone.SHELL: SHELL_SHARE, Zone.BETWEEN: 0.3, Zone.CORE: CORE_SHARE}
SHAPE_OF = {Zone.SHELL: "square", Zone.BETWEEN: "diamond", Zone.CORE: "disc", Zone.UNKNOWN: "ring"}
WORDS_OF = {
    Zone.SHELL: "shell",
    Zone.BETWEEN: "between shell and core",
    Zone.CORE: "core",
    Zone.UNKNOWN: "depth not said",
}


@dataclass(frozen=True)
class Mark:
    """One reading drawn, in drawing units; `shape` square, diamond, disc or ring."""

    x: float
    y: float
    label_x: float
    shape: str
    value: str
    points: str = ""


@dataclass(frozen=True)
class Strip:
    """The slab from above: view box and outline in drawing units, marks on it, and its words."""

    view_box: str
    path: str
    marks: tuple[Mark, ...]
    words: str
    zones: tuple[tuple[str, str], ...] = ()
    margin: float = MARGIN


@dataclass(frozen=True)
class Band:
    """Shell or core as a strip of the section, from `y` down."""

    name: str
    y: float
    height: float
    y_words: float


@dataclass(frozen=True)
class Section:
    """The slab cut along its length, its thickness drawn larger than to scale."""

    view_box: str
    x: float
    y: float
    width: float
    height: float
    bands: tuple[Band, ...]
    marks: tuple[Mark, ...]
    thickness_words: str


@dataclass(frozen=True)
class ReadingMap:
    """Both drawings of one check, its marks' meanings, and what they show in sentences."""

    plan: Strip
    section: Section | None
    sentences: tuple[str, ...]


def reading_map(
    slab: Slab, check: MoistureCheck, readings: Sequence[Reading], system: str
) -> ReadingMap | None:
    """The map of a check read with a meter; None for a weighing, which has no places."""
    if check.weighing_id is not None or not readings:
        return None
    return ReadingMap(
        plan=strip(slab, readings),
        section=section(slab, readings, system),
        sentences=reading_words.sentences(slab, check, readings),
    )


def shape_of(reading: Reading) -> str:
    """The shape that stands for its depth: square, diamond, disc or ring."""
    return SHAPE_OF[Zone(reading.zone)]


def strip(slab: Slab, readings: Sequence[Reading] = ()) -> Strip:
    """The slab's silhouette to fit the drawing, with the readings that have a place along it."""
    drawn = _silhouette(slab)
    placed = [reading for reading in readings if reading.along is not None]
    zones = dict.fromkeys(Zone(reading.zone) for reading in readings)
    return Strip(
        view_box=f"0 0 {WIDTH:g} {drawn.height:g}",
        path=drawn.path,
        marks=tuple(_marks(placed, drawn)),
        words=_words(readings),
        zones=tuple((SHAPE_OF[zone], WORDS_OF[zone]) for zone in zones),
    )


def section(slab: Slab, readings: Sequence[Reading], system: str) -> Section | None:
    """The readings whose depth is known, where they lie in the thickness; None without any."""
    placed = [r for r in readings if r.along is not None and _depth_share(slab, r) is not None]
    if not placed:
        return None
    top, deep = MARGIN, SECTION_HEIGHT - 2 * MARGIN
    bands = tuple(
        Band(name, round(top + deep * begin, 1), round(deep * (end - begin), 1),
             round(top + deep * (begin + end) / 2, 1))
        for name, begin, end in BANDS
    )  # fmt: skip
    return Section(
        view_box=f"0 0 {WIDTH:g} {SECTION_HEIGHT:g}",
        x=MARGIN,
        y=top,
        width=WIDTH - 2 * MARGIN,
        height=deep,
        bands=bands,
        marks=tuple(_section_marks(slab, placed, top, deep)),
        thickness_words=measure.format_length(slab.thickness_mm, system, kind="slab_thickness"),
    )


@dataclass(frozen=True)
class _Silhouette:
    """The outline drawn, and half its width anywhere along it, in drawing units."""

    height: float
    path: str
    shape: SeenShape | None
    scale: float
    squeeze: float

    def y(self, along: float, across: float) -> float:
        """Where a place lies in the drawing: `across` 0 at the near edge, below."""
        if self.shape is None:
            return self.height / 2 + (0.5 - across) * (self.height - 2 * MARGIN)
        _, low, _, high = self.shape.wood.bounds
        at = seen_lines.across(self.shape, along)
        off_middle = at.low + across * (at.high - at.low) - (low + high) / 2
        return self.height / 2 - off_middle * self.scale * self.squeeze


def _silhouette(slab: Slab) -> _Silhouette:
    """The slab's shape to fit the drawing; a plain strip where nothing is known of it."""
    shape = seen_shapes.seen([slab]).get(slab.pk)
    if shape is None:
        half = LEAST_HEIGHT / 2 - MARGIN
        box = [(MARGIN, MARGIN), (WIDTH - MARGIN, MARGIN)]
        corners = [*box, *((x, y + 2 * half) for x, y in reversed(box))]
        return _Silhouette(LEAST_HEIGHT, outline.svg_path(corners), None, 1.0, 1.0)
    left, low, right, high = shape.wood.bounds
    scale = (WIDTH - 2 * MARGIN) / (right - left)
    widest = (high - low) * scale
    height = round(min(max(widest + 2 * MARGIN, LEAST_HEIGHT), GREATEST_HEIGHT), 1)
    squeeze = min(1.0, (height - 2 * MARGIN) / widest)
    moved = affinity.affine_transform(
        shape.wood,
        [scale, 0.0, 0.0, scale * squeeze, MARGIN - left * scale, 0.0],
    )
    middle = (low + high) / 2 * scale * squeeze
    path = seen_shapes.svg(affinity.translate(moved, 0.0, -middle - height / 2))
    return _Silhouette(height, path, shape, scale, squeeze)


def _marks(readings: Iterable[Reading], drawn: _Silhouette) -> Iterator[Mark]:
    at_place: dict[tuple[float, float], list[Reading]] = {}
    for reading in readings:
        across = 0.5 if reading.across is None else reading.across
        at_place.setdefault((round(reading.along or 0.0, 2), round(across, 2)), []).append(reading)
    for (along, across), stack in at_place.items():
        step = min(STEP, (drawn.height - STEP) / max(1, len(stack) - 1))
        spread = step * (len(stack) - 1)
        middle = min(
            max(drawn.y(along, across), 10.0 + spread / 2), drawn.height - 10.0 - spread / 2
        )
        for row, reading in enumerate(stack):
            yield _mark(reading, _x(along), middle - spread / 2 + row * step)


def _section_marks(
    slab: Slab, readings: Iterable[Reading], top: float, deep: float
) -> Iterator[Mark]:
    """Marks that would lie on one another are drawn side by side."""
    taken: list[tuple[float, float]] = []
    for reading in readings:
        share = _depth_share(slab, reading) or 0.0
        x, y = _x(reading.along or 0.0), top + deep * share
        aside = ROOM[0] if x < WIDTH / 2 + ROOM[0] else -ROOM[0]
        while any(abs(x - tx) < ROOM[0] - 2 and abs(y - ty) < ROOM[1] for tx, ty in taken):
            x += aside
        taken.append((x, y))
        yield _mark(reading, x, y)


def _depth_share(slab: Slab, reading: Reading) -> float | None:
    """Depth from the face as a share of the thickness; by the zone where only that was said."""
    if reading.depth_mm is not None:
        return min(1.0, reading.depth_mm / slab.thickness_mm)
    return _SHARE_OF.get(Zone(reading.zone))


def _x(along: float) -> float:
    """Kept clear of the ends, where there must be room for the number."""
    return min(max(MARGIN + along * (WIDTH - 2 * MARGIN), 14.0), WIDTH - ROOM[0])


def _mark(reading: Reading, x: float, y: float) -> Mark:
    corners = ((x, y - 8), (x + 8, y), (x, y + 8), (x - 8, y))
    return Mark(
        x=round(x, 1),
        y=round(y, 1),
        label_x=round(x + 13, 1),
        shape=shape_of(reading),
        value=f"{reading.corrected_pct:.1f}",
        points=" ".join(f"{px:.1f},{py:.1f}" for px, py in corners),
    )


def _words(readings: Sequence[Reading]) -> str:
    """The drawing in a sentence, for those who hear it."""
    if not readings:
        return "The slab from above, its left end at the left."
    said = "; ".join(
        f"{reading.corrected_pct:.1f} % at {_share(reading)}, {WORDS_OF[Zone(reading.zone)]}"
        for reading in readings
    )
    return f"Readings from the left end to the right: {said}."


def _share(reading: Reading) -> str:
    if reading.along is None:
        return "a place not said"
    across = across_words(reading.across)
    return f"{reading.along:.0%} of the length" + (f", {across}" if across else "")
