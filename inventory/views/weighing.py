"""Weighing a whole slab, and correcting a weighing."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from inventory import weighing
from inventory.access import fetch_slab, needs
from inventory.forms.weighing import WeighForm
from inventory.models import Slab, Weighing
from inventory.viewer import YardRequest
from inventory.views import late
from inventory.wood import measure

show_or_take = require_http_methods(["GET", "HEAD", "POST"])


@show_or_take
@needs("log_moisture")
def weigh_new(request: YardRequest, code: str) -> HttpResponse:
    return _weigh(request, fetch_slab(code), None)


@show_or_take
@needs("log_moisture")
def weigh_correct(request: YardRequest, pk: int) -> HttpResponse:
    """A whole slab's weighing put right; sample boards have their own page."""
    rows = Weighing.objects.select_related("slab", "moisture_check")
    row = get_object_or_404(rows, pk=pk, slab__isnull=False)
    now = late.as_it_stands(row)
    is_late = late.is_late(request, row, now)
    if now != row and not is_late:
        messages.warning(request, "Somebody has corrected this weighing already: this is theirs.")
        return redirect("inventory:check_page", now.moisture_check.pk)
    assert row.slab is not None
    return _weigh(request, fetch_slab(row.slab.code), now, is_late=is_late)


def _weigh(
    request: YardRequest, slab: Slab, corrects: Weighing | None, *, is_late: bool = False
) -> HttpResponse:
    data = request.POST if request.method == "POST" else None
    system = request.viewer.system
    form = WeighForm(data, slab=slab, system=system, today=timezone.localdate(), corrects=corrects)
    if is_late:
        late.said_late(form)
    elif form.is_bound and form.is_valid():
        check = form.save(request.user, timezone.now())
        if check is not None:
            done = "corrected" if corrects else "on the record"
            messages.success(request, f"The weighing of {slab} is {done}.")
            return redirect("inventory:check_page", check.pk)
    expected_kg = weighing.expected_kg(slab)
    context = {
        "form": form,
        "slab": slab,
        "corrects": corrects,
        "expected_kg": expected_kg,
        "caution": expected_kg and measure.lifting_caution(expected_kg, system),
    }
    status = 422 if form.is_bound else 200
    return render(request, "inventory/weighing/weigh.html", context, status=status)
