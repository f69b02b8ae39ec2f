"""Places: the list with the air in each, one place's page, keeping places and their bays."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.contrib import messages
from django.core.paginator import Page, Paginator
from django.db import transaction
from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from inventory import air, alert_lists, charts, moves, place_year
from inventory.access import for_house, needs
from inventory.air import PlaceAir
from inventory.asked import whole_number
from inventory.forms.air import AirForm
from inventory.forms.places import BaysFormSet, PlaceForm
from inventory.models import AirImport, Bay, Place, SensorToken, Slab, Standing, TypicalYear
from inventory.viewer import YardRequest
from inventory.views import air_rows

SLABS_A_PAGE = 60
LATEST_RECORDS = 8

show_or_take = require_http_methods(["GET", "HEAD", "POST"])


@dataclass(frozen=True)
class PlaceRow:
    """A place of the list: its pieces in stock and its air."""

    place: Place
    pieces: int
    air: PlaceAir


@require_safe
@for_house
def places(request: YardRequest) -> HttpResponse:
    rows = place_rows(timezone.now())
    return render(request, "inventory/places/list.html", {"rows": rows})


@require_safe
@for_house
def place(request: YardRequest, pk: int) -> HttpResponse:
    """Its air now and over a year, and what lies in it, as one walks."""
    now, found = timezone.now(), get_object_or_404(Place, pk=pk)
    page = slabs_in(found, request.GET.get("bay"), request.GET.get("page"))
    context = {
        "place": found,
        "alerts": alert_lists.of_place(found),
        "air": air.airs_of([found], now)[found.pk],
        "chart": charts.air_chart(found, now, request.viewer.system),
        **_year_of(found, now, request.viewer.system),
        **_incoming(request, found),
        "form": AirForm(place=found, system=request.viewer.system),
        "records": air_rows.of(found, request.viewer.system)[:LATEST_RECORDS],
        "bays": bays_of(found),
        "bay": request.GET.get("bay", ""),
        "page": page,
        "stage": moves.usual_stage(found).label,
    }
    return render(request, "inventory/places/place.html", context)


def _year_of(place: Place, now: datetime, system: str) -> dict[str, object]:
    """Its typical year: the sentence that says what it stands on, and the chart."""
    year = TypicalYear.objects.filter(place=place).first()
    if year is None:
        return {}
    today = timezone.localtime(now).date()
    chart = charts.year_chart(place, year, today, system)
    return {"year_chart": chart, "year_sentence": place_year.sentence_of(year)}


def _incoming(request: YardRequest, place: Place) -> dict[str, object]:
    """Its sensors, and the viewer's own files of it that are not finished with."""
    return {
        "sensors": SensorToken.objects.live().filter(place=place),
        "files": AirImport.objects.open_to(request.user).filter(place=place),
    }


@show_or_take
@needs("keep_yard")
def place_new(request: YardRequest) -> HttpResponse:
    last = Place.objects.order_by("-position").values_list("position", flat=True).first()
    return _keep(request, Place(position=0 if last is None else last + 1))


@show_or_take
@needs("keep_yard")
def place_edit(request: YardRequest, pk: int) -> HttpResponse:
    return _keep(request, get_object_or_404(Place, pk=pk))


def place_rows(now: datetime) -> list[PlaceRow]:
    """Every place as one walks, in a number of queries that does not grow with them."""
    in_stock = Count("slabs", filter=~Q(slabs__standing=Standing.GONE))
    found = list(Place.objects.annotate(pieces=in_stock).order_by("position", "name"))
    airs = air.airs_of(found, now)
    return [PlaceRow(one, one.pieces, airs[one.pk]) for one in found]


def bays_of(place: Place) -> Sequence[Bay]:
    """Its bays as one walks, each with `pieces` in stock."""
    in_stock = Count("slabs", filter=~Q(slabs__standing=Standing.GONE))
    return list(place.bays.annotate(pieces=in_stock).order_by("position", "name"))


def slabs_in(place: Place, bay: str | None, number: str | None) -> Page[Slab]:
    """A page of what lies there in walking order; of one bay alone where its key is given."""
    there = Slab.objects.in_stock().for_cards().filter(place=place).in_walking_order()
    key = whole_number(bay)
    if key is not None:
        there = there.filter(bay=key)
    return Paginator(there, SLABS_A_PAGE).get_page(number)


def _keep(request: YardRequest, place: Place) -> HttpResponse:
    called = place.name
    data = request.POST if request.method == "POST" else None
    form, bays = PlaceForm(data, instance=place), BaysFormSet(data, instance=place, prefix="bays")
    if form.is_bound and form.is_valid() & bays.is_valid():
        with transaction.atomic():
            kept = form.save()
            bays.save()
        messages.success(request, f"{kept} is kept.")
        return redirect("inventory:place", kept.pk)
    context = {"form": form, "bays": bays, "called": called, "place": place}
    status = 422 if form.is_bound else 200
    return render(request, "inventory/places/edit.html", context, status=status)
