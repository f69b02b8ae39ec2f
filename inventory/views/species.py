"""Species: published ones to read, the shop's own to keep."""

from django.contrib import messages
from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from inventory.access import for_house, is_fragment, needs
from inventory.asked import words_asked
from inventory.forms.species import SpeciesForm
from inventory.models import Species, Standing
from inventory.models.species import SpeciesQuerySet
from inventory.viewer import YardRequest

show_or_take = require_http_methods(["GET", "HEAD", "POST"])


@require_safe
@for_house
def species(request: YardRequest) -> HttpResponse:
    """All species, or those that fit what is typed; our own first."""
    typed = words_asked(request.GET.get("q"))
    context = {"species": found(typed), "typed": typed}
    part = "rows.html" if is_fragment(request) else "list.html"
    return render(request, f"inventory/species/{part}", context)


@show_or_take
@needs("keep_yard")
def species_new(request: YardRequest) -> HttpResponse:
    return _keep(request, Species())


@show_or_take
@needs("keep_yard")
def species_edit(request: YardRequest, pk: int) -> HttpResponse:
    """A published species stays as published: only the shop's own are found here."""
    return _keep(request, get_object_or_404(Species, pk=pk, is_published=False))


def found(typed: str) -> SpeciesQuerySet:
    """Species whose names hold every word typed, with `pieces` in stock; our own first."""
    fitting = Species.objects.by_name()
    for word in typed.split():
        named = Q(common_name__icontains=word) | Q(botanical_name__icontains=word)
        fitting = fitting.filter(named | Q(other_names__icontains=word))
    in_stock = Count("slabs", filter=~Q(slabs__standing=Standing.GONE))
    return fitting.annotate(pieces=in_stock).order_by("is_published", *fitting.query.order_by)


def _keep(request: YardRequest, species: Species) -> HttpResponse:
    called = species.common_name
    form = SpeciesForm(request.POST if request.method == "POST" else None, instance=species)
    if form.is_bound and form.is_valid():
        kept = form.save()
        messages.success(request, f"{kept} is kept among your own species.")
        return redirect("inventory:species")
    context = {"form": form, "called": called}
    status = 422 if form.is_bound else 200
    return render(request, "inventory/species/edit.html", context, status=status)
