"""Layouts kept with a commission: saving one, and showing them again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction

from catalogue import laid_drawing, options
from catalogue.laid_drawing import Drawing, pictures_of
from catalogue.laying import Bench, Hand, Outcome
from catalogue.layout.tops import Top
from catalogue.models import Commission, HowMade, LaidTop
from inventory import shapes
from inventory.models import Person, Slab, SlabShape
from inventory.wood.shape import Shape


@transaction.atomic
def keep(
    bench: Bench,
    hands: Sequence[Hand],
    outcome: Outcome,
    *,
    note: str,
    by: Person,
    now: datetime,
) -> LaidTop:
    """Keep the layout with its commission; one of the same slabs kept before is superseded."""
    commission = Commission.objects.select_for_update(of=("self",)).get(pk=bench.commission.pk)
    outlines = _outlines_of(bench.slabs)
    kept = LaidTop.objects.create(
        commission=commission,
        supersedes=_same_slabs(commission, bench.slabs),
        how_made=commission.how_made,
        top=options.top_of(commission).record(),
        placed=[
            {
                **placed.record(),
                "code": slab.code,
                "outline": outlines.get(slab.pk),
                "shape_mm2": round(placed.shape.area_mm2),
            }
            for placed, slab in zip(outcome.laid.placed, bench.slabs, strict=True)
        ],
        plates=commission.plates,
        figures=outcome.record() | {"hands": [vars(hand) for hand in hands]},
        note=note,
        by=by,
        at=now,
    )
    kept.slabs.set(bench.slabs)
    return kept


def _same_slabs(commission: Commission, slabs: Sequence[Slab]) -> LaidTop | None:
    wanted = {slab.code for slab in slabs}
    current = LaidTop.objects.current().filter(commission=commission)
    return next((one for one in current if codes_of(one) == wanted), None)


def codes_of(kept: LaidTop) -> set[str]:
    return {record["code"] for record in kept.placed}


def hands_of(kept: LaidTop) -> list[Hand]:
    """Where the hands had put everything when it was kept."""
    return [Hand(**hand) for hand in kept.figures.get("hands", [])]


def _outlines_of(slabs: Sequence[Slab]) -> dict[int, int | None]:
    rows = SlabShape.objects.filter(slab__in=[slab.pk for slab in slabs])
    return dict(rows.values_list("slab_id", "outline_id"))


@dataclass(frozen=True)
class Shown:
    """A layout kept: its slabs in order, its drawing as it is now, and what has changed since."""

    kept: LaidTop
    slabs: tuple[Slab, ...]
    drawing: Drawing | None
    figures: dict[str, Any]
    changed: str
    query: str


def shown(commission: Commission) -> list[Shown]:
    """The current layouts of a commission, newest first. Queries do not grow with them."""
    rows = LaidTop.objects.current().filter(commission=commission).select_related("by")
    every = list(rows.order_by("-pk").prefetch_related("slabs__species"))
    slabs = {slab.code: slab for one in every for slab in one.slabs.all()}
    known = shapes.shapes_of(slabs.values())
    outlines = _outlines_of(list(slabs.values()))
    pictures = pictures_of(slabs.values()) if slabs else {}
    return [_shown(one, commission, slabs, known, outlines, pictures) for one in every]


def _shown(
    kept: LaidTop,
    commission: Commission,
    slabs: dict[str, Slab],
    known: dict[int, Shape],
    outlines: dict[int, int | None],
    pictures: dict[str, laid_drawing.Picture],
) -> Shown:
    given = tuple(slabs[record["code"]] for record in kept.placed)
    changed = _changed(kept, commission, given, outlines, known)
    drawing = None
    if not changed and all(slab.pk in known for slab in given):
        bench = Bench(commission, given, tuple(known[slab.pk] for slab in given))
        laid = bench.laid(hands_of(kept))
        width_mm = laid_drawing.widest_mm([laid])
        drawing = laid_drawing.draw(laid, [slab.display_code for slab in given], width_mm, pictures)
    query = "&".join(f"slab={slab.code}" for slab in given)
    return Shown(kept, given, drawing, kept.figures, changed, f"?{query}&kept={kept.pk}")


def _changed(
    kept: LaidTop,
    commission: Commission,
    slabs: Sequence[Slab],
    outlines: dict[int, int | None],
    known: dict[int, Shape],
) -> str:
    """What is no longer as it was when the layout was kept, in a sentence; "" for nothing."""
    if kept.how_made != commission.how_made or Top(**kept.top) != options.top_of(commission):
        return "The top has been changed since: lay it again."
    for record, slab in zip(kept.placed, slabs, strict=True):
        if record.get("outline") != outlines.get(slab.pk):
            return f"{slab.display_code} has been traced anew since: lay it again."
        now = round(known[slab.pk].area_mm2) if slab.pk in known else None
        if now != record.get("shape_mm2", now):
            return f"{slab.display_code} has been measured anew since: lay it again."
    return ""


def how_words(kept: LaidTop) -> str:
    return str(HowMade(kept.how_made).label)
