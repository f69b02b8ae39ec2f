"""When a slab will be dry, here or elsewhere; when what is ready; making old forecasts anew."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from inventory import forecasting, ready_chart, ready_when, what_if
from inventory.access import fetch_slab, for_house, is_fragment, needs
from inventory.forms.forecast import ReadyWhenForm, WhenForm
from inventory.models import Slab
from inventory.viewer import YardRequest
from inventory.wood import measure

# Slabs forecast anew in one request: about a second's work.
A_PRESS = 100


@require_safe
@for_house
def slab_when(request: YardRequest, code: str) -> HttpResponse:
    """One slab in every place, for the target and the day asked about."""
    today = timezone.localdate()
    slab = fetch_slab(code, Slab.objects.for_cards())
    form = WhenForm(request.GET, system=request.viewer.system, today=today)
    context = {"slab": slab, "form": form}
    if not form.is_valid():
        return render(request, "inventory/forecast/slab.html", context, status=422)
    found = what_if.what_if(slab, today, form.target, form.cleaned_data["by"])
    return render(request, "inventory/forecast/slab.html", {**context, "found": found})


@require_safe
@for_house
def ready_when_page(request: YardRequest) -> HttpResponse:
    """Pieces and wood by month and species."""
    today, system = timezone.localdate(), request.viewer.system
    form = ReadyWhenForm(request.GET, system=system)
    found = ready_when.ready_when(form.asked, today)
    chart = ready_chart.chart_of(found, in_cubic_metres=system == measure.METRIC)
    period = request.GET.get("month", "")
    context = {
        "form": form,
        "found": found,
        "chart": chart,
        "listed": ready_when.listed(found, period, today),
    }
    return render(request, "inventory/forecast/ready_when.html", context)


@require_POST
@needs("log_moisture")
def reforecast(request: YardRequest) -> HttpResponse:
    """Make a hundred old or missing forecasts anew; htmx asks again until none are left."""
    today = timezone.localdate()
    keys = forecasting.wanting(today)
    done = forecasting.forecast_again(keys[:A_PRESS], today)
    left = len(keys) - done
    if is_fragment(request):
        return render(request, "inventory/forecast/old.html", {"old": left, "goes_on": left > 0})
    messages.success(request, _done_words(done, left))
    return redirect("inventory:ready_when")


def _done_words(done: int, left: int) -> str:
    made = f"{done} forecast{'' if done == 1 else 's'} made anew"
    return f"{made}; {left:,} to go." if left else f"{made}."
