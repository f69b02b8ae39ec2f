"""Charges: the list, one with its air and cores, opening, adding, ending, taking in a core log."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from inventory import charge_page, charges, core_logs
from inventory.access import for_house, needs
from inventory.asked import whole_number
from inventory.charges import Ended
from inventory.core_logs import CoreTaken
from inventory.forms.charges import (
    AddToChargeForm,
    CoreLogForm,
    EndChargeForm,
    OpenChargeForm,
    SetAsideForm,
)
from inventory.models import Charge, CoreLog, Place
from inventory.readiness import RULES
from inventory.viewer import YardRequest
from inventory.words import day_words

CHARGES_A_PAGE = 50
LINES_SHOWN = 100

show_or_take = require_http_methods(["GET", "HEAD", "POST"])


@require_safe
@for_house
def charge_list(request: YardRequest) -> HttpResponse:
    """Every charge, or those of one place (`?place=3`)."""
    asked = whole_number(request.GET.get("place"))
    place = Place.objects.filter(pk=asked).first() if asked is not None else None
    found = charges.all_charges(place)
    page = Paginator(found, CHARGES_A_PAGE).get_page(request.GET.get("page"))
    today = timezone.localdate()
    rows = [(charge, charge_page.when_words(charge, today)) for charge in page.object_list]
    context = {"rows": rows, "page": page, "place": place}
    return render(request, "inventory/charges/list.html", context)


@require_safe
@for_house
def charge(request: YardRequest, pk: int) -> HttpResponse:
    return _page(request, _fetch(pk))


@show_or_take
@needs("move_slab")
def charge_new(request: YardRequest) -> HttpResponse:
    """Pick slabs where they lie, and say which kiln and from when."""
    form = OpenChargeForm(
        _typed(request),
        system=request.viewer.system,
        today=timezone.localdate(),
        look_in=request.GET.get("look_in", ""),
        initial={"where": request.GET.get("where", "")},
    )
    if form.is_bound and form.is_valid():
        opened = form.opened(request.user, timezone.now())
        if opened is not None:
            messages.success(request, f"“{opened}” has begun with {_slabs(opened.stays.count())}.")
            return redirect(opened)
    context = {"form": form, "title": "A new charge", "submit": "Begin the charge"}
    return render(request, "inventory/charges/pick.html", context, status=_status(form))


@show_or_take
@needs("move_slab")
def charge_add(request: YardRequest, pk: int) -> HttpResponse:
    found = _fetch(pk)
    form = AddToChargeForm(
        _typed(request),
        charge=found,
        system=request.viewer.system,
        today=timezone.localdate(),
        look_in=request.GET.get("look_in", ""),
    )
    if form.is_bound and form.is_valid():
        added = form.added(request.user, timezone.now())
        if added is not None:
            messages.success(request, f"{_slabs(added)} went into “{found}”.")
            return redirect(found)
    title = f"More slabs into {found}"
    context = {"form": form, "charge": found, "title": title, "submit": "Put them in"}
    return render(request, "inventory/charges/pick.html", context, status=_status(form))


@show_or_take
@needs("move_slab")
def charge_end(request: YardRequest, pk: int) -> HttpResponse:
    found = _fetch(pk)
    form = EndChargeForm(_typed(request), charge=found, today=timezone.localdate())
    if form.is_bound and form.is_valid():
        ended = form.ended(request.user, timezone.now())
        if ended is not None:
            messages.success(request, _ended_words(ended))
            return redirect(found)
    inside = found.stays.filter(left_on__isnull=True).count()
    context = {"form": form, "charge": found, "inside": inside, "rest_days": RULES.rest_days}
    return render(request, "inventory/charges/end.html", context, status=_status(form))


@show_or_take
@needs("log_air")
def core_paste(request: YardRequest, pk: int) -> HttpResponse:
    found = _fetch(pk)
    form = CoreLogForm(_typed(request), request.FILES or None, system=request.viewer.system)
    if form.is_bound and form.is_valid():
        taken = form.taken_by(found, request.user, timezone.now())
        if taken is not None and not taken.problems:
            messages.success(request, taken.in_words)
            return redirect(found)
        if taken is not None:
            return _to_mend(request, found, taken)
    context = {"form": form, "charge": found}
    return render(request, "inventory/charges/core.html", context, status=_status(form))


@require_http_methods(["POST"])
@needs("log_air")
def core_set_aside(request: YardRequest, pk: int) -> HttpResponse:
    """A wrong log counts no longer; it stays readable, with the reason."""
    log = get_object_or_404(CoreLog.objects.select_related("charge__place"), pk=pk)
    form = SetAsideForm(request.POST)
    if form.is_valid():
        try:
            now = timezone.now()
            core_logs.set_aside(log, why=form.cleaned_data["why"], by=request.user, now=now)
        except ValidationError as problem:
            messages.warning(request, " ".join(problem.messages))
        else:
            messages.success(request, "The log is set aside: it no longer counts.")
        return redirect(log.charge)
    return _page(request, log.charge, wrong_log=log.pk, aside=form)


def _page(request: YardRequest, found: Charge, **wrong: Any) -> HttpResponse:
    page = charge_page.look(found, timezone.now(), request.viewer.system)
    context = {
        "charge": found,
        "page": page,
        "not_a_certificate": core_logs.NOT_A_CERTIFICATE,
        **wrong,
    }
    status = 422 if wrong else 200
    return render(request, "inventory/charges/charge.html", context, status=status)


def _to_mend(request: YardRequest, found: Charge, taken: CoreTaken) -> HttpResponse:
    """What went in, and the other lines back in the box to be put right."""
    typed = request.POST.copy()
    typed["text"] = taken.to_mend
    again = CoreLogForm(typed, system=request.viewer.system)
    again.is_valid()
    shown = taken.problems[:LINES_SHOWN]
    context = {
        "form": again,
        "charge": found,
        "taken": taken,
        "shown": shown,
        "unshown": len(taken.problems) - len(shown),
    }
    return render(request, "inventory/charges/core.html", context, status=422)


def _fetch(pk: int) -> Charge:
    return get_object_or_404(Charge.objects.select_related("place"), pk=pk)


def _typed(request: YardRequest) -> Any:
    return request.POST if request.method == "POST" else None


def _status(form: Any) -> int:
    return 422 if form.is_bound else 200


def _slabs(count: int) -> str:
    return "1 slab" if count == 1 else f"{count} slabs"


def _ended_words(ended: Ended) -> str:
    said = [f"“{ended.charge}” has ended."]
    if ended.moved:
        said.append(f"{_slabs(ended.moved)} moved.")
    if ended.rest_until is not None:
        today = timezone.localdate()
        if ended.rest_until > today:
            said.append(f"They rest in shop air until {day_words(ended.rest_until, today)}.")
        else:
            said.append("They have had their rest in shop air.")
    return " ".join(said)
