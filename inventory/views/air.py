"""The air of a place: entering it, putting it right, pasting a table, reading all of it."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from inventory.access import for_house, needs
from inventory.air import Pasted
from inventory.forms.air import AirForm, AirPasteForm
from inventory.models import AirRecord, Place
from inventory.viewer import YardRequest
from inventory.views import air_rows, late

RECORDS_A_PAGE = 100
LINES_SHOWN = 100

show_or_take = require_http_methods(["GET", "HEAD", "POST"])


@require_safe
@for_house
def air_list(request: YardRequest, pk: int) -> HttpResponse:
    """Every record of a place, a page at a time."""
    place = get_object_or_404(Place, pk=pk)
    page = Paginator(air_rows.all_of(place), RECORDS_A_PAGE).get_page(request.GET.get("page"))
    rows = [air_rows.row_of(record, request.viewer.system) for record in page.object_list]
    context = {"place": place, "page": page, "records": rows}
    return render(request, "inventory/air/list.html", context)


@show_or_take
@needs("log_air")
def air_add(request: YardRequest, pk: int) -> HttpResponse:
    place = get_object_or_404(Place, pk=pk)
    return _take(request, place, None)


@show_or_take
@needs("log_air")
def air_correct(request: YardRequest, pk: int) -> HttpResponse:
    """Put right a record that stands; the one before stays readable."""
    record = get_object_or_404(AirRecord.objects.select_related("place"), pk=pk)
    now = late.as_it_stands(record)
    is_late = late.is_late(request, record, now)
    if now != record and not is_late:
        messages.warning(request, "Somebody has corrected this record already.")
        return redirect("inventory:air_list", record.place.pk)
    return _take(request, record.place, now, is_late=is_late)


@show_or_take
@needs("log_air")
def air_paste(request: YardRequest, pk: int) -> HttpResponse:
    place = get_object_or_404(Place, pk=pk)
    data = request.POST if request.method == "POST" else None
    form = AirPasteForm(data, system=request.viewer.system)
    if form.is_bound and form.is_valid():
        pasted = form.taken(place, request.user, timezone.now())
        if pasted is not None and not pasted.problems:
            messages.success(request, pasted.in_words)
            return redirect("inventory:place", place.pk)
        if pasted is not None:
            return _to_mend(request, place, pasted)
    status = 422 if form.is_bound else 200
    context = {"form": form, "place": place}
    return render(request, "inventory/air/paste.html", context, status=status)


def _take(
    request: YardRequest, place: Place, corrects: AirRecord | None, *, is_late: bool = False
) -> HttpResponse:
    data = request.POST if request.method == "POST" else None
    form = AirForm(data, place=place, system=request.viewer.system, corrects=corrects)
    if is_late:
        late.said_late(form)
    elif form.is_bound and form.is_valid():
        record = form.recorded(request.user, timezone.now())
        if record is not None:
            words = f"{place}: wood in this air settles at {record.emc_pct:.1f} %."
            messages.success(request, words)
            return redirect("inventory:place", place.pk)
    context = {"form": form, "place": place, "corrects": corrects}
    status = 422 if form.is_bound else 200
    return render(request, "inventory/air/add.html", context, status=status)


def _to_mend(request: YardRequest, place: Place, pasted: Pasted) -> HttpResponse:
    """What went in, and the other lines back in the box to be put right."""
    typed = request.POST.copy()
    typed["text"] = pasted.to_mend
    again = AirPasteForm(typed, system=request.viewer.system)
    again.is_valid()
    shown = pasted.problems[:LINES_SHOWN]
    context = {
        "form": again,
        "place": place,
        "pasted": pasted,
        "shown": shown,
        "unshown": len(pasted.problems) - len(shown),
    }
    return render(request, "inventory/air/paste.html", context, status=422)
