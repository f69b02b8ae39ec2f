"""Moving one slab, or a stack that comes to a place."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from inventory import moves
from inventory.access import fetch_slab, needs
from inventory.forms.moves import MoveForm, MoveHereForm
from inventory.models import Place
from inventory.viewer import YardRequest

show_or_take = require_http_methods(["GET", "HEAD", "POST"])


@show_or_take
@needs("move_slab")
def slab_move(request: YardRequest, code: str) -> HttpResponse:
    """Place, bay, how it is dried there, and the day; for a thumb in a glove."""
    slab, now = fetch_slab(code), timezone.now()
    form = MoveForm(_typed(request), slab=slab, today=timezone.localdate())
    if form.is_bound and form.is_valid() and form.moved(slab, request.user, now):
        lies = moves.where_words(slab.place, slab.bay)
        messages.success(request, f"{slab} lies in {lies} now.")
        return redirect(slab)
    context = {
        "form": form,
        "slab": slab,
        "lies": moves.where_words(slab.place, slab.bay),
        "stage": slab.stages.filter(ended_on__isnull=True).first(),
        "caution": moves.lifting_caution(slab, request.viewer.system),
    }
    status = 422 if form.is_bound else 200
    return render(request, "inventory/moves/move.html", context, status=status)


@show_or_take
@needs("move_slab")
def place_move_here(request: YardRequest, pk: int) -> HttpResponse:
    place = get_object_or_404(Place, pk=pk)
    form = MoveHereForm(_typed(request), place=place, today=timezone.localdate())
    if form.is_bound and form.is_valid():
        moved = form.moved(request.user, timezone.now())
        if moved is not None:
            messages.success(request, _moved_words(len(moved), place))
            return redirect("inventory:place", place.pk)
    context = {"form": form, "place": place, "stage": moves.usual_stage(place).label}
    status = 422 if form.is_bound else 200
    return render(request, "inventory/moves/move_here.html", context, status=status)


def _typed(request: YardRequest) -> Any:
    return request.POST if request.method == "POST" else None


def _moved_words(count: int, place: Place) -> str:
    if count == 0:
        return f"They all lay in {place} already."
    return f"1 slab moved to {place}." if count == 1 else f"{count} slabs moved to {place}."
