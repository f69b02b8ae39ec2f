"""Meters on record: for all of the house to read, tests for those who measure, keeping for those
who keep the yard."""

from django.contrib import messages
from django.db.models import Count, Max
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory import meter_pages, meter_tables
from inventory.access import for_house, needs
from inventory.forms.meters import MeterForm, MeterTableForm, MeterTestForm
from inventory.models import Meter
from inventory.viewer import YardRequest

show_or_take = require_http_methods(["GET", "HEAD", "POST"])


@require_safe
@for_house
def meters(request: YardRequest) -> HttpResponse:
    found = Meter.objects.annotate(
        checks=Count("moisturecheck"), last_used_on=Max("moisturecheck__on")
    )
    context = {"meters": found.order_by("is_retired", "name"), "today": timezone.localdate()}
    return render(request, "inventory/meters/list.html", context)


@require_safe
@for_house
def meter(request: YardRequest, pk: int) -> HttpResponse:
    """One meter: what it corrects, its own table drawn, its tests."""
    sheet = meter_pages.sheet_of(get_object_or_404(Meter, pk=pk), timezone.localdate())
    return render(request, "inventory/meters/page.html", {"sheet": sheet, "meter": sheet.meter})


@show_or_take
@needs("keep_yard")
def meter_new(request: YardRequest) -> HttpResponse:
    return _keep(request, Meter())


@show_or_take
@needs("keep_yard")
def meter_edit(request: YardRequest, pk: int) -> HttpResponse:
    return _keep(request, get_object_or_404(Meter, pk=pk))


@show_or_take
@needs("log_moisture")
def meter_test(request: YardRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Meter, pk=pk)
    data = request.POST if request.method == "POST" else None
    form = MeterTestForm(data, meter=found, today=timezone.localdate())
    if form.is_bound and form.is_valid() and form.save(request.user, timezone.now()):
        messages.success(request, f"The test of {found} is on the record.")
        return redirect("inventory:meter", found.pk)
    status = 422 if form.is_bound else 200
    context = {"form": form, "meter": found}
    return render(request, "inventory/meters/test.html", context, status=status)


@show_or_take
@needs("keep_yard")
def meter_table(request: YardRequest, pk: int) -> HttpResponse:
    """A new table: looked at first, kept when every row is good."""
    found = get_object_or_404(Meter, pk=pk)
    is_sent = request.method == "POST"
    form = MeterTableForm(request.POST, request.FILES, meter=found) if is_sent else None
    form = form or MeterTableForm(meter=found)
    is_good = is_sent and form.is_valid()
    if is_good and "keep" in request.POST:
        form.save(request.user, timezone.now())
        messages.success(request, f"{found} goes by this table from now on.")
        return redirect("inventory:meter", found.pk)
    context = {"form": form, "meter": found, **meter_pages.preview(form.rows), "is_good": is_good}
    status = 422 if is_sent and not is_good else 200
    return render(request, "inventory/meters/table.html", context, status=status)


@require_POST
@needs("keep_yard")
def meter_table_drop(request: YardRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Meter, pk=pk)
    if meter_tables.current_table(found) is not None:
        meter_tables.lay_aside(found, by=request.user)
        messages.success(request, f"{found} goes by the published table again.")
    return redirect("inventory:meter", found.pk)


def _keep(request: YardRequest, found: Meter) -> HttpResponse:
    called = found.name
    data = request.POST if request.method == "POST" else None
    form = MeterForm(data, instance=found, system=request.viewer.system)
    if form.is_bound and form.is_valid():
        kept = form.save()
        messages.success(request, f"{kept} is kept.")
        return redirect("inventory:meter", kept.pk)
    context = {"form": form, "called": called, "pk": found.pk}
    status = 422 if form.is_bound else 200
    return render(request, "inventory/meters/edit.html", context, status=status)
