"""Slabs as silhouettes at one common scale: whatever is listed shares one frame."""

from collections.abc import Iterable
from dataclasses import dataclass

from catalogue.slab_drawing import SCALE_STEPS_MM, SCALE_WORDS
from inventory import seen_shapes
from inventory.models import Slab
from inventory.photos.flat import Flat

AIR_SHARE = 0.015
LEAST_MM = 300.0


@dataclass(frozen=True)
class Frame:
    """A box (mm) that holds the longest and the widest of what is listed, lines across it.

    `lines` are places along it, a step apart, from `top` to `foot`.
    """

    view_box: str
    lines: tuple[float, ...]
    top: float
    foot: float
    step_words: str


@dataclass(frozen=True)
class Lying:
    """One slab in the frame: its path, its flat picture (put there by `matrix`), what is said."""

    path: str
    picture: Flat | None
    matrix: str
    words: str


def frame_of(length_mm: float, width_mm: float, system: str) -> Frame:
    """One frame for every slab of a list, by its greatest sizes, whichever page is shown."""
    length, width = max(LEAST_MM, length_mm), max(LEAST_MM, width_mm)
    # A traced slab may be a little longer than its tape said.
    length *= 1.0 + AIR_SHARE
    air, half = AIR_SHARE * length, width / 2
    box = (-air, -half - air, length + 2 * air, 2 * (half + air))
    step = SCALE_STEPS_MM[system]
    lines = tuple(round(step * i, 1) for i in range(int(length // step) + 1))
    view_box = " ".join(f"{side:.1f}" for side in box)
    words = SCALE_WORDS[system]
    return Frame(view_box, lines, round(-half - air, 1), round(half + air, 1), words)


def lying(slabs: Iterable[Slab]) -> dict[int, Lying]:
    """Each measured slab by its pk, its middle on the frame's; one query for all."""
    return {pk: _lying(shape) for pk, shape in seen_shapes.seen(slabs).items()}


def _lying(shape: seen_shapes.SeenShape) -> Lying:
    drawn = seen_shapes.posed(shape)
    return Lying(drawn.path, shape.picture, drawn.matrix, shape.words)
