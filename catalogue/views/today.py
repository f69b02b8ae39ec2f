"""The page a person begins the day on."""

from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from catalogue import today as what_waits
from inventory.viewer import YardRequest


@require_safe
def today(request: YardRequest) -> HttpResponse:
    if request.viewer.client_view:
        return HttpResponseRedirect(reverse("catalogue:browse"))
    page = what_waits.look(request.viewer, timezone.localdate())
    return render(request, "catalogue/today.html", {"page": page})
