"""A log's slabs in sawn order, and two neighbours opened like a book."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from catalogue import boule as boules
from inventory.models import Log
from inventory.viewer import YardRequest


@require_safe
def boule(request: YardRequest, pk: int) -> HttpResponse:
    log = get_object_or_404(Log.objects.select_related("species"), pk=pk)
    looked = boules.look(log, request.GET, request.viewer)
    return render(request, "catalogue/boule/page.html", {"boule": looked, "log": log})
