"""A top laid by hand: where things lie as a page sends them, and what comes of it.

A top on one slab is moved over the slab: its place is the top's centre and turn in the slab's own
mm. In every other way of making a top the slabs are moved under it: their places are theirs in the
top's mm (layout/placed.py). Figures come from the same functions as a candidate's.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from catalogue import hand_words, laid_drawing, matching, options, top_figures
from catalogue.laid_drawing import paths, svg_matrix
from catalogue.layout import bookmatch, fastening, forms, offcuts, pairs, sides, single
from catalogue.layout.fastening import Ground, Lies, Plate
from catalogue.layout.forms import Form
from catalogue.layout.laid import FAR_MM, Layout
from catalogue.layout.offcuts import Rectangle, Round
from catalogue.layout.placed import Placed
from catalogue.layout.profiles import Place
from catalogue.match_words import Voice
from catalogue.models import Commission, HowMade
from catalogue.top_figures import TopFigures
from inventory import seen_shapes
from inventory.models import Slab, Standing
from inventory.photos.flat import Flat
from inventory.wood.shape import Shape

AIR_SHARE = 0.06
FARTHEST_MM = 20_000.0


class CannotLay(ValueError):
    """These slabs cannot be laid for this commission; the sentence says why."""


@dataclass(frozen=True)
class Hand:
    """Where one thing that is moved lies: mm, degrees counter-clockwise, perhaps other face up."""

    x_mm: float
    y_mm: float
    turn_deg: float = 0.0
    is_flipped: bool = False


@dataclass(frozen=True, eq=False)
class Bench:
    """A commission's top and the slabs it is laid on, in the order they were named."""

    commission: Commission
    slabs: tuple[Slab, ...]
    shapes: tuple[Shape, ...]

    @property
    def how(self) -> HowMade:
        return HowMade(self.commission.how_made)

    @property
    def moves_top(self) -> bool:
        return self.how == HowMade.ONE_SLAB

    def best(self) -> Layout:
        """Where the search would put them. Raises CannotLay when the wane leaves no wood."""
        try:
            return options.lay(self.commission, self.shapes)
        except ValueError as problem:
            raise CannotLay("The wane leaves no wood of a slab.") from problem

    def hands_of(self, laid: Layout) -> list[Hand]:
        """Where what is moved lies in a layout."""
        if self.moves_top:
            return [top_on(laid.placed[0])]
        return [
            Hand(one.x_mm, one.y_mm, _near(one.turn_deg), one.is_flipped) for one in laid.placed
        ]

    def laid(self, hands: Sequence[Hand]) -> Layout:
        """The layout with everything where the hands put it."""
        top, wane = options.top_of(self.commission), self.commission.wane_mm
        margin = self.commission.margin_mm
        if self.moves_top:
            (hand,) = hands
            place = Place(hand.x_mm, hand.y_mm, hand.turn_deg, 0.0)
            placed = single.placed_at(self.shapes[0], place, wane)
            return single.lay(top, placed, margin_mm=margin)
        put = [
            Placed(shape, hand.x_mm, hand.y_mm, hand.turn_deg, hand.is_flipped, wane)
            for shape, hand in zip(self.shapes, hands, strict=True)
        ]
        if self.how == HowMade.RESIN_SIDES:
            return sides.as_placed(top, put[0], margin_mm=margin)
        if self.how == HowMade.RESIN_PAIR:
            return pairs.as_placed(top, put[0], put[1], margin_mm=margin)
        return bookmatch.as_placed(top, put[0], put[1], margin_mm=margin)


def bench_of(commission: Commission, slabs: Sequence[Slab], shapes: Mapping[int, Shape]) -> Bench:
    """Raises CannotLay, in a sentence, for the wrong number of slabs or one not to be had."""
    wanted = options.slabs_of(HowMade(commission.how_made))
    if len(slabs) != wanted:
        number = "one slab" if wanted == 1 else "two slabs"
        raise CannotLay(f"This top takes {number}: name {number} to lay it on.")
    for slab in slabs:
        if slab.standing == Standing.GONE:
            raise CannotLay(f"{slab.display_code} is gone from the yard.")
        if slab.pk not in shapes:
            raise CannotLay(f"{slab.display_code} has not been measured: take its widths first.")
    return Bench(commission, tuple(slabs), tuple(shapes[slab.pk] for slab in slabs))


def codes_asked(commission: Commission, typed: Sequence[str] = ()) -> list[tuple[str, str]]:
    """The label of each code a top is laid by, and what was typed there."""
    if options.slabs_of(HowMade(commission.how_made)) == 1:
        labels = ["The slab’s code"]
    else:
        labels = ["One slab’s code", "The other’s"]
    return list(zip(labels, [*typed, *[""] * len(labels)], strict=False))


def kept_for_others(bench: Bench, own: set[int]) -> list[str]:
    """A sentence for each slab that is promised, and not to this commission."""
    return [
        f"{slab.display_code} is {slab.get_standing_display().lower()} for another piece: a layout "
        "may be drawn, and it is not free."
        for slab in bench.slabs
        if slab.standing in (Standing.HELD, Standing.ALLOTTED) and slab.pk not in own
    ]


def top_on(placed: Placed) -> Hand:
    """The top's centre and turn in the slab's own mm, on the face it was drawn from."""
    turn = np.radians(-placed.turn_deg)
    cos, sin = float(np.cos(turn)), float(np.sin(turn))
    x, y = -placed.x_mm, -placed.y_mm
    sense = -1.0 if placed.is_flipped else 1.0
    return Hand(cos * x - sin * y, sense * (sin * x + cos * y), _near(-sense * placed.turn_deg))


def _near(turn_deg: float) -> float:
    """The same turn between −180 and 180."""
    return float((turn_deg + 180.0) % 360.0 - 180.0)


# --- what the page shows --------------------------------------------------------------------


@dataclass(frozen=True)
class Piece:
    """A slab as it is drawn: its path and picture in its own frame, and the step to the drawing.

    `centre` is the middle of its wood (x, y with y down) about which it is turned, `end` where it
    is taken hold of to turn it.
    """

    code: str
    path: str
    picture: Flat | None
    matrix: str
    centre: tuple[float, float]
    end: tuple[float, float]
    words: str


@dataclass(frozen=True)
class Board:
    """The drawing: what moves is `top` or each of `pieces`."""

    view_box: str
    pieces: tuple[Piece, ...]
    top_matrix: str
    moves_top: bool


@dataclass(frozen=True)
class PlateShown:
    ground: Ground
    path: str
    words: str


@dataclass(frozen=True)
class Outcome:
    """What a layout comes to, for the page's figures and for what is kept."""

    laid: Layout
    figures: TopFigures
    verdict: str
    fits: bool
    top_path: str
    resin_path: str
    cuts_path: str
    rectangle: Rectangle | None
    round: Round | None
    left_mm3: float
    forms: tuple[Form, ...]
    plates: tuple[PlateShown, ...]
    shift: tuple[float, float] | None
    needs_shift: bool

    def record(self) -> dict[str, Any]:
        """The figures as they are kept with a saved layout: plain numbers, units in the name."""
        figures = self.figures
        return {
            "fits": self.fits,
            "margin_mm": round(self.laid.margin_mm, 2),
            "gap_mm": [round(gap, 1) for gap in self.laid.gap_mm] if self.laid.gap_mm else None,
            "wood_mm2": round(figures.wood_mm2),
            "resin_mm2": round(figures.resin_mm2),
            "resin_mm3": round(figures.resin_mm3),
            "mass_kg": None if figures.mass_kg is None else round(figures.mass_kg, 2),
            "left_mm3": round(self.left_mm3),
        }


PLATE_WORDS = {
    Lies.WOOD: "lands in solid wood",
    Lies.RESIN: "lands on resin",
    Lies.VOID: "lands on a void or crack",
    Lies.NEAR: "comes too near an edge",
    Lies.OUTSIDE: "reaches over the top's edge",
}


def outcome(bench: Bench, laid: Layout, voice: Voice) -> Outcome:
    """Everything that is said of a layout."""
    commission = bench.commission
    target = matching.target_of(commission)
    thickness = commission.finished_thickness_mm
    figures = top_figures.figures_of(
        laid, bench.slabs, thickness, (target.low_pct + target.high_pct) / 2, voice.system
    )
    plates = [Plate.from_record(record) for record in commission.plates]
    grounds = fastening.grounds(laid, plates)
    needs_shift = not all(ground.holds for ground in grounds)
    return Outcome(
        laid=laid,
        figures=figures,
        verdict=hand_words.verdict(laid, voice, asked_mm=commission.margin_mm),
        fits=laid.fits,
        top_path=paths(laid.finished),
        resin_path=paths(laid.bare) if laid.has_resin else "",
        cuts_path="".join(laid_drawing.line(cut) for cut in laid.cuts if cut.length < FAR_MM),
        rectangle=offcuts.largest_rectangle(laid.offcuts),
        round=offcuts.largest_round(laid.offcuts),
        left_mm3=sum(
            float(part.area) * slab.thickness_mm
            for part, slab in zip(laid.left, bench.slabs, strict=True)
        ),
        forms=tuple(forms.forms_for(laid, thickness)),
        plates=tuple(
            PlateShown(ground, paths(ground.plate.polygon), f"{name} {PLATE_WORDS[ground.lies]}.")
            for name, ground in zip(plate_names(plates), grounds, strict=True)
        ),
        shift=fastening.proposed_shift(laid, plates) if needs_shift else None,
        needs_shift=needs_shift,
    )


def plate_names(plates: Sequence[Plate]) -> list[str]:
    return [
        f"{'Insert' if plate.kind == 'insert' else 'Plate'} {at}"
        for at, plate in enumerate(plates, 1)
    ]


def board(bench: Bench, laid: Layout) -> Board:
    """The drawing's frame and pieces; one query for the pictures."""
    seen = seen_shapes.seen(bench.slabs)
    hand = bench.hands_of(laid)[0]
    pieces = []
    for slab, placed in zip(bench.slabs, laid.placed, strict=True):
        left, low, right, high = placed.shape.wood.bounds
        known = seen.get(slab.pk)
        pieces.append(
            Piece(
                slab.display_code,
                seen_shapes.svg(placed.shape.wood),
                known.picture if known else None,
                "" if bench.moves_top else svg_matrix(placed),
                ((left + right) / 2, -(low + high) / 2),
                (right, -(low + high) / 2),
                known.words if known else "",
            )
        )
    box_mm = _frame(bench, laid)
    return Board(
        view_box=" ".join(f"{side:.0f}" for side in box_mm),
        pieces=tuple(pieces),
        top_matrix=f"translate({hand.x_mm:.2f} {-hand.y_mm:.2f}) rotate({-hand.turn_deg:.4f})"
        if bench.moves_top
        else "",
        moves_top=bench.moves_top,
    )


def _frame(bench: Bench, laid: Layout) -> tuple[float, float, float, float]:
    """Left, top, width and height (mm, y down) that hold everything with room to move it."""
    if bench.moves_top:
        shapes = [bench.shapes[0].wood]
    else:
        shapes = [laid.finished, *(placed.slab for placed in laid.placed)]
    bounds = np.array([shape.bounds for shape in shapes])
    left, low = bounds[:, :2].min(axis=0)
    right, high = bounds[:, 2:].max(axis=0)
    air = AIR_SHARE * max(right - left, high - low)
    return (
        float(left - air),
        float(-high - air),
        float(right - left + 2 * air),
        float(high - low + 2 * air),
    )


def shifted(plates: Sequence[Mapping[str, Any]], by: tuple[float, float]) -> list[dict[str, Any]]:
    """The plates of a base moved as one."""
    moved = [Plate.from_record(record) for record in plates]
    return [
        replace(plate, x_mm=plate.x_mm + by[0], y_mm=plate.y_mm + by[1]).record() for plate in moved
    ]
