"""Layouts kept with a commission, as its page shows them: drawn as they lie today, every figure
kept with them, and what has changed since.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from catalogue import hand_words, laid_drawing, laid_tops, options
from catalogue.laid_drawing import Drawing, Picture, pictures_of
from catalogue.laid_tops import codes_of, outlines_of
from catalogue.laying import Bench
from catalogue.layout.laid import Layout
from catalogue.layout.tops import Top
from catalogue.match_words import Voice
from catalogue.models import Commission, HowMade, LaidTop
from inventory import codes, shapes
from inventory.models import Slab, Standing
from inventory.wood import measure
from inventory.wood.shape import Shape


@dataclass(frozen=True)
class Figure:
    """One figure as it was when the layout was kept."""

    words: str
    shown: str


@dataclass(frozen=True)
class Card:
    """A layout kept: its slabs in order; its drawing and what it comes to as things are now.

    `changed` says what is no longer as it was, `now` how the layout stands today; both may be "".
    `query` opens it where it lay, "" where it cannot be laid any more.
    """

    kept: LaidTop
    slabs: tuple[Slab, ...]
    drawing: Drawing | None
    figures: tuple[Figure, ...]
    now: str
    fits: bool
    changed: str
    promised: tuple[str, ...]
    query: str


@dataclass(frozen=True)
class Withdrawn:
    """A layout taken back, which may be put back."""

    row: LaidTop
    codes: tuple[str, ...]


def withdrawn(commission: Commission) -> list[Withdrawn]:
    """The latest first; none whose slabs have been laid again since."""
    every = list(_latest(commission).select_related("by", "supersedes"))
    laid = [codes_of(row) for row in every if not row.is_withdrawn]
    found = [row for row in every if row.is_withdrawn and row.supersedes]
    return [
        Withdrawn(row, tuple(codes.display(code) for code in sorted(codes_of(row.supersedes))))
        for row in found
        if row.supersedes and codes_of(row.supersedes) not in laid
    ]


def cards(commission: Commission, voice: Voice, own: set[int]) -> list[Card]:
    """The current layouts of a commission, newest first. Queries do not grow with them.

    `own` are the keys of slabs promised to this commission.
    """
    rows = [row for row in _latest(commission).select_related("by") if not row.is_withdrawn]
    named = {code for row in rows for code in codes_of(row)}
    slabs = {slab.code: slab for slab in Slab.objects.filter(code__in=named).for_cards()}
    view = _View(
        commission,
        voice,
        own,
        slabs,
        shapes.shapes_of(slabs.values()),
        outlines_of(list(slabs.values())),
        pictures_of(slabs.values()) if slabs else {},
    )
    return [view.card(row) for row in rows]


def _latest(commission: Commission) -> Any:
    return LaidTop.objects.unsuperseded().filter(commission=commission).order_by("-pk")


@dataclass(frozen=True)
class _View:
    """What every card of a commission is made from."""

    commission: Commission
    voice: Voice
    own: set[int]
    slabs: Mapping[str, Slab]
    shapes: Mapping[int, Shape]
    outlines: Mapping[int, int | None]
    pictures: Mapping[str, Picture]

    def card(self, kept: LaidTop) -> Card:
        slabs = tuple(self.slabs[record["code"]] for record in kept.placed)
        gone = [slab.display_code for slab in slabs if slab.standing == Standing.GONE]
        changed = (
            f"{gone[0]} is gone from the yard."
            if gone
            else _changed(kept, self.commission, slabs, self.outlines, self.shapes)
        )
        laid = None if gone else self._laid(kept, slabs)
        named = "&".join(f"slab={slab.code}" for slab in slabs)
        return Card(
            kept=kept,
            slabs=slabs,
            drawing=self._drawing(laid, slabs, f"laid-{kept.pk}"),
            figures=tuple(figures(kept, self.voice)),
            now=self._verdict(laid) if laid else "",
            fits=laid.fits if laid else False,
            changed=changed,
            promised=tuple(self._promised(slabs)),
            query=f"?{named}&kept={kept.pk}" if laid else "",
        )

    def _laid(self, kept: LaidTop, slabs: Sequence[Slab]) -> Layout | None:
        """The top as it is asked now, where it lay then; None where it takes other wood now."""
        wanted = options.slabs_of(HowMade(self.commission.how_made))
        if len(slabs) != wanted or not all(slab.pk in self.shapes for slab in slabs):
            return None
        given = tuple(self.shapes[slab.pk] for slab in slabs)
        bench = Bench(self.commission, tuple(slabs), given)
        hands = laid_tops.hands_for(kept, bench)
        return None if hands is None else bench.laid(hands)

    def _verdict(self, laid: Layout) -> str:
        return hand_words.verdict(laid, self.voice, asked_mm=self.commission.margin_mm)

    def _drawing(self, laid: Layout | None, slabs: Sequence[Slab], name: str) -> Drawing | None:
        if laid is None:
            return None
        width_mm = laid_drawing.widest_mm([laid])
        shown = [slab.display_code for slab in slabs]
        return laid_drawing.draw(laid, shown, width_mm, self.pictures, name)

    def _promised(self, slabs: Sequence[Slab]) -> list[str]:
        taken = (Standing.HELD, Standing.ALLOTTED)
        return [
            f"{slab.display_code} is {slab.get_standing_display().lower()} for another piece."
            for slab in slabs
            if slab.standing in taken and slab.pk not in self.own
        ]


def changed(kept: LaidTop, bench: Bench) -> str:
    """What is no longer as it was when the layout was kept, of the wood it is opened on."""
    shapes_now = {slab.pk: shape for slab, shape in zip(bench.slabs, bench.shapes, strict=True)}
    by_code = {slab.code: slab for slab in bench.slabs}
    slabs = [by_code[record["code"]] for record in kept.placed]
    return _changed(kept, bench.commission, slabs, outlines_of(bench.slabs), shapes_now)


def _changed(
    kept: LaidTop,
    commission: Commission,
    slabs: Sequence[Slab],
    outlines: Mapping[int, int | None],
    known: Mapping[int, Shape],
) -> str:
    """In a sentence; "" for nothing."""
    if kept.how_made != commission.how_made:
        return "The top is made another way since it was laid."
    if Top(**kept.top) != options.top_of(commission):
        return "The top has been changed since it was laid."
    asked = laid_tops.asked_of(commission)
    if any(kept.figures.get(name, now) != now for name, now in asked.items()):
        return "The thickness, spare wood or wane asked has been changed since it was laid."
    for record, slab in zip(kept.placed, slabs, strict=True):
        if record.get("outline") != outlines.get(slab.pk):
            return f"{slab.display_code} has been traced anew since it was laid."
        now_mm2 = round(known[slab.pk].area_mm2) if slab.pk in known else None
        if now_mm2 != record.get("shape_mm2", now_mm2):
            return f"{slab.display_code} has been measured anew since it was laid."
    return ""


def figures(kept: LaidTop, voice: Voice) -> list[Figure]:
    """Every figure kept with a layout, as it was then."""
    said, found = kept.figures, []
    if gap := said.get("gap_mm"):
        least, mean, most = (voice.length(width) for width in gap)
        found.append(Figure("Resin wide", f"{least} to {most}, {mean} on average"))
    else:
        found.append(Figure("To spare" if said["fits"] else "Missing", _spare(said, voice)))
    found.append(Figure("Wood used", measure.format_area(said["wood_mm2"], voice.system)))
    if said["resin_mm2"]:
        area = measure.format_area(said["resin_mm2"], voice.system)
        found.append(Figure("Resin in the top", f"{area}, {voice.resin(said['resin_mm3'])}"))
    found.append(Figure("Left over", measure.format_volume(said["left_mm3"], voice.system)))
    if said["mass_kg"] is not None:
        mass = measure.format_mass(said["mass_kg"], voice.system)
        found.append(Figure("Finished top", mass))
    if kept.plates:
        count = len(kept.plates)
        words = "plate or insert" if count == 1 else "plates and inserts"
        found.append(Figure("Its base", f"{count} {words}"))
    return found


def _spare(said: Mapping[str, Any], voice: Voice) -> str:
    return voice.length(abs(float(said["margin_mm"])))
