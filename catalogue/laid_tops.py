"""Layouts kept with a commission: keeping one, taking it back, and where its hands had put things.

Rows are history (LaidTop): laying the same wood again supersedes, taking back is a row of its own.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from catalogue import laying, options
from catalogue.laying import Bench, Hand, Outcome
from catalogue.layout import single
from catalogue.layout.placed import Placed
from catalogue.layout.profiles import Place
from catalogue.models import Commission, HowMade, LaidTop
from inventory.models import Person, Slab, SlabShape

PAIRS = (HowMade.BOOKMATCHED, HowMade.RESIN_PAIR)


class LaidProblem(ValueError):
    """A layout cannot be taken back, or put back; the sentence says why."""


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
    commission = _locked(bench.commission)
    outlines = outlines_of(bench.slabs)
    kept = LaidTop.objects.create(
        commission=commission,
        supersedes=_same_slabs(commission, {slab.code for slab in bench.slabs}),
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
        figures=outcome.record() | asked_of(commission) | {"hands": [vars(one) for one in hands]},
        note=note,
        by=by,
        at=now,
    )
    kept.slabs.set(bench.slabs)
    return kept


@transaction.atomic
def take_back(kept: LaidTop, *, by: Person, now: datetime) -> LaidTop:
    """The layout is no longer the commission's; it stays on the record and may be put back.

    Raises:
        LaidProblem: it was laid again, or taken back, before.
    """
    _locked(kept.commission)
    if not LaidTop.objects.current().filter(pk=kept.pk).exists():
        raise LaidProblem("That layout was laid again or taken back before.")
    return LaidTop.objects.create(
        commission=kept.commission,
        supersedes=kept,
        how_made=kept.how_made,
        top=kept.top,
        by=by,
        at=now,
    )


@transaction.atomic
def put_back(withdrawn: LaidTop, *, by: Person, now: datetime) -> LaidTop:
    """What was taken back, as it was kept.

    Raises:
        LaidProblem: it was put back before, or its slabs have been laid again since.
    """
    commission = _locked(withdrawn.commission)
    before = withdrawn.supersedes
    latest = LaidTop.objects.unsuperseded().filter(pk=withdrawn.pk).exists()
    if not withdrawn.is_withdrawn or before is None or not latest:
        raise LaidProblem("That layout is not taken back.")
    if _same_slabs(commission, codes_of(before)):
        raise LaidProblem("Its wood has been laid again since: take that layout back first.")
    again = LaidTop.objects.create(
        commission=commission,
        supersedes=withdrawn,
        how_made=before.how_made,
        top=before.top,
        placed=before.placed,
        plates=before.plates,
        figures=before.figures,
        note=before.note,
        by=by,
        at=now,
    )
    again.slabs.set(before.slabs.all())
    return again


def _locked(commission: Commission) -> Commission:
    """Queue behind anybody keeping a layout of the same piece."""
    return Commission.objects.select_for_update(of=("self",)).get(pk=commission.pk)


def _same_slabs(commission: Commission, wanted: set[str]) -> LaidTop | None:
    current = LaidTop.objects.current().filter(commission=commission)
    return next((one for one in current if codes_of(one) == wanted), None)


def codes_of(kept: LaidTop) -> set[str]:
    return {record["code"] for record in kept.placed}


def outlines_of(slabs: Sequence[Slab]) -> dict[int, int | None]:
    rows = SlabShape.objects.filter(slab__in=[slab.pk for slab in slabs])
    return dict(rows.values_list("slab_id", "outline_id"))


def asked_of(commission: Commission) -> dict[str, float]:
    """What was asked of the top beside its shape, as it is kept with a layout."""
    return {
        "asked_margin_mm": commission.margin_mm,
        "asked_wane_mm": commission.wane_mm,
        "asked_thickness_mm": commission.finished_thickness_mm,
    }


def mark_of(bench: Bench) -> str:
    """Another mark as soon as the top, what is asked of it, or a slab's shape is another.

    A page sends back the mark it was shown with: what is kept is what was looked at.
    """
    key = options.key_of(bench.commission, bench.shapes)
    return _digest(repr((key, asked_of(bench.commission))))


def plates_mark(commission: Commission) -> str:
    return _digest(json.dumps(commission.plates, sort_keys=True))


def _digest(said: str) -> str:
    return hashlib.blake2b(said.encode(), digest_size=8).hexdigest()


def hands_for(kept: LaidTop, bench: Bench) -> list[Hand] | None:
    """Where everything lay when it was kept, for the top as it is made now.

    A top on one slab and one with resin beside it are laid by different hands (laying.py): the
    place is the same. None where another number of slabs is wanted now.
    """
    hands = [Hand(**hand) for hand in kept.figures.get("hands", [])]
    codes = [record["code"] for record in kept.placed]
    if len(hands) != len(bench.slabs) or set(codes) != {slab.code for slab in bench.slabs}:
        return None
    in_order = [hands[codes.index(slab.code)] for slab in bench.slabs]
    then, now = HowMade(kept.how_made), bench.how
    if then == now or (then in PAIRS and now in PAIRS):
        return in_order
    (hand,) = in_order
    if now == HowMade.ONE_SLAB:
        placed = Placed(bench.shapes[0], hand.x_mm, hand.y_mm, hand.turn_deg, hand.is_flipped)
        return [laying.top_on(placed)]
    put = single.placed_at(bench.shapes[0], Place(hand.x_mm, hand.y_mm, hand.turn_deg, 0.0))
    return [Hand(put.x_mm, put.y_mm, put.turn_deg)]
