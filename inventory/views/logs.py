"""Logs of a parcel, and receiving the slabs sawn from one."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory import log_picture
from inventory.access import needs
from inventory.forms import pasted
from inventory.forms.log_receive import (
    MORE_ROWS,
    MOST_ROWS,
    LogReceiveForm,
    numbered,
    row_count,
)
from inventory.forms.parcels import LogForm
from inventory.models import Log, Parcel
from inventory.viewer import YardRequest
from inventory.views.parcels import form_page, show_or_take

MOST_SLABS = 200


@require_safe
@needs("keep_parcels")
def log(request: YardRequest, pk: int) -> HttpResponse:
    one = _fetch(pk)
    slabs = one.slabs.for_cards().order_by("number_in_log", "code")[:MOST_SLABS]
    context = {"log": one, "drawn": log_picture.drawn(list(slabs))}
    return render(request, "inventory/parcels/log.html", context)


@show_or_take
@needs("keep_parcels")
def log_new(request: YardRequest, pk: int) -> HttpResponse:
    parcel = get_object_or_404(Parcel, pk=pk)
    form = _log_form(request, Log(parcel=parcel))
    if form.is_bound and form.is_valid():
        made = form.save()
        messages.success(request, f"Log {made} is in the book: receive its slabs when they lie.")
        return redirect("inventory:log", made.pk)
    return form_page(request, form, f"A log of {parcel}", "Put it in the book", parcel=parcel)


@show_or_take
@needs("keep_parcels")
def log_edit(request: YardRequest, pk: int) -> HttpResponse:
    one = _fetch(pk)
    number = one.number
    form = _log_form(request, one)
    if form.is_bound and form.is_valid():
        form.save()
        messages.success(request, f"Log {one} is up to date.")
        return redirect("inventory:log", pk)
    return form_page(
        request, form, f"Edit log {number}", "Keep these changes", parcel=one.parcel, log=one
    )


@show_or_take
@needs("keep_parcels")
def log_receive(request: YardRequest, pk: int) -> HttpResponse:
    one = _fetch(pk)
    if request.method != "POST":
        return _receive_page(request, LogReceiveForm(one, request.viewer))
    if "paste" in request.POST:
        return _paste(request, one)
    if "more" in request.POST:
        return _receive_page(request, LogReceiveForm(one, request.viewer, _with_more(request, one)))
    form = LogReceiveForm(one, request.viewer, request.POST)
    slabs = form.received(request.user, timezone.now()) if form.is_valid() else None
    if slabs is None:
        return _receive_page(request, form, status=422)
    words = "1 slab of log" if len(slabs) == 1 else f"{len(slabs)} slabs of log"
    messages.success(request, f"{words} {one} on the record: write the codes on the wood.")
    return redirect("inventory:log", pk)


def _paste(request: YardRequest, one: Log) -> HttpResponse:
    """The pasted table in the rows, each looked at already, to be read over and received."""
    try:
        rows = pasted.rows(request.POST.get("pasted", ""))
        full = numbered(pasted.filled_in(request.POST, rows), one)
    except pasted.PasteProblem as problem:
        form = LogReceiveForm(one, request.viewer, request.POST)
        return _receive_page(request, form, status=422, paste_problem=str(problem))
    form = LogReceiveForm(one, request.viewer, full)
    return _receive_page(request, form, status=200 if form.is_valid() else 422, read=len(rows))


def _receive_page(
    request: YardRequest, form: LogReceiveForm, status: int = 200, **context: Any
) -> HttpResponse:
    full = {
        "form": form,
        "log": form.log,
        "typed_table": form.data.get("pasted", "") if form.data else "",
        "can_have_more": len(form.rows) < MOST_ROWS,
        **context,
    }
    return render(request, "inventory/parcels/receive.html", full, status=status)


def _with_more(request: YardRequest, one: Log) -> QueryDict:
    full = request.POST.copy()
    full["rows"] = str(min(row_count(full) + MORE_ROWS, MOST_ROWS))
    return numbered(full, one)


def _log_form(request: YardRequest, log: Log) -> LogForm:
    data = request.POST if request.method == "POST" else None
    return LogForm(data, instance=log, system=request.viewer.system, today=timezone.localdate())


def _fetch(pk: int) -> Log:
    return get_object_or_404(Log.objects.select_related("parcel", "species"), pk=pk)
