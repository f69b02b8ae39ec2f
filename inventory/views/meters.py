"""Meters on record: the list for all of the house, keeping them for those who keep the yard."""

from django.contrib import messages
from django.db.models import Count, Max
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from inventory.access import for_house, needs
from inventory.forms.places import MeterForm
from inventory.models import Meter
from inventory.viewer import YardRequest

show_or_take = require_http_methods(["GET", "HEAD", "POST"])


@require_safe
@for_house
def meters(request: YardRequest) -> HttpResponse:
    found = Meter.objects.annotate(
        checks=Count("moisturecheck"), last_used_on=Max("moisturecheck__on")
    )
    context = {"meters": found.order_by("is_retired", "name")}
    return render(request, "inventory/meters/list.html", context)


@show_or_take
@needs("keep_yard")
def meter_new(request: YardRequest) -> HttpResponse:
    return _keep(request, Meter())


@show_or_take
@needs("keep_yard")
def meter_edit(request: YardRequest, pk: int) -> HttpResponse:
    return _keep(request, get_object_or_404(Meter, pk=pk))


def _keep(request: YardRequest, meter: Meter) -> HttpResponse:
    called = meter.name
    form = MeterForm(request.POST if request.method == "POST" else None, instance=meter)
    if form.is_bound and form.is_valid():
        kept = form.save()
        messages.success(request, f"{kept} is kept.")
        return redirect("inventory:meters")
    context = {"form": form, "called": called}
    status = 422 if form.is_bound else 200
    return render(request, "inventory/meters/edit.html", context, status=status)
