"""How a slab will move: to another moisture, and as a finished top through the year."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from inventory import movement
from inventory.access import fetch_slab
from inventory.forms.movement import SlabMovementForm
from inventory.models import Slab
from inventory.viewer import YardRequest


@require_safe
def slab_movement(request: YardRequest, code: str) -> HttpResponse:
    """Open to all who sign in, clients too: nothing here tells of cost or of the house."""
    slabs = Slab.objects.for_cards()
    slab = fetch_slab(code, slabs.in_stock() if request.viewer.client_view else slabs)
    form = SlabMovementForm(request.GET, slab=slab, system=request.viewer.system)
    context = {"slab": slab, "form": form}
    if not form.is_valid():
        return render(request, "inventory/movement/slab.html", context, status=422)
    context |= reckoned(slab, form, request.viewer.system)
    return render(request, "inventory/movement/slab.html", context)


def reckoned(slab: Slab, form: SlabMovementForm, system: str) -> dict[str, Any]:
    """The slab's way to the moisture asked for, and its finished top's year."""
    said = form.cleaned_data
    hollow_mm = said["hollow"] or 0.0
    moves = movement.slab_movement(
        slab, said["now"], form.to_pct, system=system, hollow_mm=hollow_mm
    )
    found: dict[str, Any] = {
        "moves": moves,
        "words": movement.slab_words(moves, system),
        "way_words": movement.way_words(slab.sawn),
        "hollow_words": movement.hollow_words(slab, hollow_mm),
    }
    if said["top_width"]:
        found |= top_of(
            movement.top_movement(
                said["top_width"],
                moves.to_pct,
                form.air("winter"),
                form.air("summer"),
                wood=movement.wood_of(slab.species),
                sawn=slab.sawn,
            ),
            system,
        )
    return found


def top_of(top: movement.TopMovement, system: str) -> dict[str, Any]:
    """A top's movement as the page's part shows it."""
    return {
        "top": top,
        "top_words": movement.top_words(top, system),
        "bars": movement.bars(top),
        "fixing_words": movement.fixing_words(top, system),
    }
