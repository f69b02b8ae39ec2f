"""What the tracing pages show: the line over its picture, its figures, what there is to say of it.

Figures come from the same judge and the same geometry that keep the outline; the page only draws.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from inventory import outlines
from inventory.models import Outline, Slab
from inventory.outline_drawn import Drawn, Floats, Ring, drawn_of
from inventory.outline_setup import Setup, pixels_of, straight_of
from inventory.photos.doubts import length_mm
from inventory.photos.lying import look_over
from inventory.photos.problems import Problem, Trouble, stopping
from inventory.photos.scale import Scale
from inventory.photos.segment import draft_outline
from inventory.photos.trace import Judged, TypedSizes, judge
from inventory.wood import measure
from inventory.wood.outline import svg_path
from inventory.wood.shape import Face

LEAST_CLICKS = 4
WANTED_CLICKS = "10 to 16"
AIR_SHARE = 0.06
FACES_SHARE = 0.03
"""How far two lengths by pictures may differ besides: what a scale is sure to."""
FALLBACK_PX = 900
_MM = re.compile(r"(?<![\d.,])(\d+(?:\.\d+)?) mm\b(?! \()")


@dataclass(frozen=True)
class Bark:
    """Where the line runs: inside the bark, or round it with so much bark within."""

    is_inside: bool = False
    thick_mm: float = 0.0


@dataclass(frozen=True)
class Told:
    """A problem in the viewer's units; one that stops keeps the outline from being kept."""

    sentence: str
    stops: bool


@dataclass(frozen=True)
class Figures:
    """What a line comes to. `wood_mm2` is without bark and holes; `volume_mm3` of the mean of both
    faces where the other one was traced (`is_mean`); None where the line cannot be measured."""

    told: tuple[Told, ...]
    length_mm: float | None = None
    greatest_width_mm: float | None = None
    wood_mm2: float | None = None
    volume_mm3: float | None = None
    is_mean: bool = False
    is_off_slab: bool = False

    @property
    def is_refused(self) -> bool:
        return any(each.stops for each in self.told)


@dataclass(frozen=True)
class Scene:
    """A drawing board: the picture's place on it and the part to begin with; x, y, width, height
    each, in mm (or the photograph's px) with y down."""

    picture: tuple[float, float, float, float]
    begin: tuple[float, float, float, float]
    path: str = ""
    weak_path: str = ""

    @property
    def view_box(self) -> str:
        return " ".join(f"{value:.2f}" for value in self.begin)

    @property
    def fallback_height_px(self) -> int:
        """How high the picture stands when it is `FALLBACK_PX` wide."""
        return round(FALLBACK_PX * self.picture[3] / self.picture[2])

    @property
    def picture_box(self) -> str:
        return " ".join(f"{value:.2f}" for value in self.picture)


def in_units(sentence: str, system: str) -> str:
    """A sentence with its millimetres as the viewer counts: `2410 mm` → `7 ft 10⅞ in`."""
    if system == measure.METRIC:
        return sentence
    return _MM.sub(lambda found: measure.format_length(float(found[1]), system), sentence)


def told(problems: Iterable[Problem], system: str) -> tuple[Told, ...]:
    """Each problem once, those that stop first."""
    once = dict.fromkeys((problem.sentence, problem.stops) for problem in problems)
    said = [Told(in_units(sentence, system), stops) for sentence, stops in once]
    return tuple(sorted(said, key=lambda each: not each.stops))


def typed_sizes(slab: Slab, taped_mm: float | None) -> TypedSizes:
    """Sizes by tape; the narrowest and widest only where widths were taken along the slab."""
    widths = [station.width_mm for station in slab.stations] if slab.widths else []
    return TypedSizes(
        taped_mm or slab.length_mm, min(widths, default=None), max(widths, default=None)
    )


def judged_of(slab: Slab, setup: Setup, drawn: Drawn) -> Judged:
    """The line as the slab's outline, with everything there is to say of it and its picture."""
    judged = judge(drawn.outline_mm, drawn.holes_mm, typed_sizes(slab, setup.taped_mm))
    problems = (*judged.problems, *setup.problems)
    if not judged.is_refused:
        problems += look_over(setup.scale, drawn.outline_mm)
        problems += _against_other_face(slab, setup.side, judged.length_mm)
    return replace(judged, problems=problems)


def _against_other_face(slab: Slab, side: str, length_mm: float) -> tuple[Problem, ...]:
    """Both faces are as long but for ends cut oblique: by a thickness at either end at 45°."""
    other = _other_side(slab, side)
    if other is None:
        return ()
    other_mm = float(np.ptp([x for x, _ in other.ring]))
    most_mm = 2 * slab.thickness_mm + FACES_SHARE * max(length_mm, other_mm)
    if abs(length_mm - other_mm) <= most_mm:
        return ()
    sentence = (
        f"This face comes out {length_mm:.0f} mm long and the other one {other_mm:.0f} mm: see "
        "that both pictures are of this slab, and what each was measured by."
    )
    return (Problem(Trouble.FACES, sentence),)


def figures_of(slab: Slab, judged: Judged, side: str, bark: Bark, system: str) -> Figures:
    """The figures that the slab would have with this line."""
    said = told(judged.problems, system)
    is_off = any(problem.trouble is Trouble.OFF_SLAB for problem in judged.problems)
    if not len(judged.outline_mm):
        return Figures(said)
    thick_mm = bark.thick_mm if bark.is_inside else 0.0
    wood_mm2 = float(Face(judged.outline_mm, judged.holes_mm, thick_mm).wood.area)
    other = _other_side(slab, side)
    mean_mm2 = wood_mm2 if other is None else (wood_mm2 + other.face.wood.area) / 2
    return Figures(
        said,
        judged.length_mm,
        judged.greatest_width_mm,
        wood_mm2,
        mean_mm2 * slab.thickness_mm,
        other is not None,
        is_off,
    )


def _other_side(slab: Slab, side: str) -> Outline | None:
    found = [each for name, each in outlines.current(slab).items() if name != side]
    return found[0] if found else None


def draft(setup: Setup, clicks_mm: Floats, *, by_hand: bool) -> tuple[Drawn, tuple[Told, ...]]:
    """The line that clicks suggest, or the clicks joined up; and what to say of it (in mm)."""
    if by_hand:
        return drawn_of(clicks_mm), ()
    drafted = draft_outline(pixels_of(setup.photo), setup.scale, clicks_mm)
    said = told(drafted.problems, measure.METRIC)
    return drawn_of(drafted.outline_mm, (), drafted.weak_mm), said


def carried(drawn: Drawn, before: Scale, after: Scale) -> Drawn:
    """The line on the same places of the photograph, in the mm of another scale of it."""

    def places(old: Sequence[tuple[float, ...]]) -> list[tuple[float, float]]:
        moved = after.mm(before.px([each[:2] for each in old])) if old else ()
        return [(float(x), float(y)) for x, y in moved]

    def ring(old: Ring) -> Ring:
        return tuple((x, y, each[2]) for (x, y), each in zip(places(old), old, strict=True))

    return replace(
        drawn,
        outline=ring(drawn.outline),
        holes=tuple(ring(hole) for hole in drawn.holes),
        weak=tuple(places(drawn.weak)),
    )


def drawn_from(outline: Outline) -> Drawn:
    """A kept outline as it was left, to be corrected."""
    return drawn_of(outline.traced, outline.traced_holes, outline.doubtful)


def sayings(outline: Outline, system: str) -> list[str]:
    """What was said of an outline when it was kept, and how much of its edge hardly showed."""
    said = [in_units(sentence, system) for sentence in outline.cautions]
    doubted_mm = sum(map(length_mm, outlines.doubts(outline)))
    if doubted_mm:
        along = measure.format_length(doubted_mm, system, kind="length")
        said.append(f"Along {along} the edge hardly showed in its picture.")
    return said


def stopping_words(problems: Iterable[Problem], system: str) -> str:
    return " ".join(in_units(str(problem), system) for problem in stopping(tuple(problems)))


# --- drawing boards ----------------------------------------------------------------------


def photo_scene(width_px: int, height_px: int) -> Scene:
    """The photograph as taken, in its own pixels: there the corners of a rectangle are clicked."""
    whole = (0.0, 0.0, float(width_px), float(height_px))
    return Scene(whole, whole)


def straight_scene(setup: Setup, drawn: Drawn | None = None) -> Scene:
    """The straightened picture in mm; it begins at the line, where there is one."""
    window = straight_of(setup.scale).window
    picture = (window.left_mm, window.top_mm, window.width_mm, window.height_mm)
    if drawn is None or len(drawn.outline) < 2:
        return Scene(picture, picture)
    rings = [drawn.outline_mm, *drawn.holes_mm]
    path = "".join(svg_path([*ring, ring[0]]) for ring in rings if len(ring))
    dots = "".join(f"M{x:.1f} {y:.1f}h0" for x, y in drawn.weak)
    return Scene(picture, _round(drawn.outline_mm), path, dots)


def kept_scene(
    ring: Sequence[Sequence[float]], holes: Sequence[Sequence[Sequence[float]]]
) -> Scene:
    """A kept outline as a small drawing, y down; there is no picture under it."""
    rings = [np.array(each, dtype=np.float64) * (1, -1) for each in (ring, *holes)]
    path = "".join(svg_path([*each, each[0]]) for each in rings)
    box = _round(rings[0])
    return Scene(box, box, path)


def _round(ring: Floats) -> tuple[float, float, float, float]:
    low, high = ring.min(axis=0), ring.max(axis=0)
    air = AIR_SHARE * float((high - low).max()) + 1.0
    wide, high_mm = high - low + 2 * air
    return float(low[0] - air), float(low[1] - air), float(wide), float(high_mm)


def kept_words(slab: Slab, system: str) -> str:
    return f"The outline of {slab} is kept: {measure.format_volume(slab.volume_mm3, system)} by it."
