"""A logger's file: choosing it, looking at how it is read, reading it in, what became of it.

A file is its uploader's own: to everybody else it is not there.
"""

import csv

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory import air_imports
from inventory.access import is_fragment, needs
from inventory.air_imports import Preview
from inventory.forms.air_imports import AirFileForm, LayoutForm
from inventory.forms.temperature import degrees_sign
from inventory.models import AirImport, ImportState, Place
from inventory.viewer import YardRequest

BAD_SHOWN = 100

show_or_take = require_http_methods(["GET", "HEAD", "POST"])


@show_or_take
@needs("log_air")
def air_file(request: YardRequest, pk: int) -> HttpResponse:
    """Choose a file; the next page shows how it is read."""
    place = get_object_or_404(Place, pk=pk)
    form = AirFileForm(request.POST or None, request.FILES or None, label_suffix="")
    if request.method == "POST" and not form.is_bound:
        form = AirFileForm({}, label_suffix="")
    if form.is_valid():
        fahrenheit = degrees_sign(request.viewer.system) == "°F"
        kept = form.kept(place, request.user, timezone.now(), fahrenheit=fahrenheit)
        if kept is not None:
            return redirect("inventory:air_import", kept.pk)
    context = {"place": place, "form": form}
    status = 422 if form.is_bound else 200
    return render(request, "inventory/air/file.html", context, status=status)


@show_or_take
@needs("log_air")
def air_import(request: YardRequest, pk: int) -> HttpResponse:
    """The file as it stands: how it is read, how far it is, or what became of it.

    POST keeps how its columns are to be read and shows it again.
    """
    kept = _own(request, pk)
    if kept.state == ImportState.SHOWN:
        if request.method == "POST":
            return _read_as(request, kept)
        preview = air_imports.preview(kept)
        return _show(request, kept, preview, LayoutForm(kept=kept, preview=preview), 200)
    if is_fragment(request) and kept.state != ImportState.RUNNING:
        return HttpResponse(headers={"HX-Refresh": "true"})
    context = _context(kept)
    if is_fragment(request):
        return render(request, "inventory/air/import_progress.html", context)
    return render(request, "inventory/air/import.html", context)


@require_POST
@needs("log_air")
def air_import_start(request: YardRequest, pk: int) -> HttpResponse:
    """Read the file in as shown, or take it up again where it stopped."""
    kept = _own(request, pk)
    if kept.state == ImportState.SHOWN:
        preview = air_imports.preview(kept)
        form = LayoutForm(request.POST, kept=kept, preview=preview)
        if not form.is_valid():
            return _show(request, kept, preview, form, 422)
        layout = air_imports.read_as(kept, form.cleaned_data["layout"])
        if layout.lacks or layout.day_order is None:
            preview = air_imports.preview(kept)
            return _show(request, kept, preview, LayoutForm(kept=kept, preview=preview), 422)
    if not air_imports.start(kept, timezone.now()):
        messages.warning(request, "This file is being read in already.")
    return redirect("inventory:air_import", kept.pk)


@require_POST
@needs("log_air")
def air_import_drop(request: YardRequest, pk: int) -> HttpResponse:
    kept = _own(request, pk)
    try:
        air_imports.drop(kept)
    except ValidationError as problem:
        messages.warning(request, " ".join(problem.messages))
        return redirect("inventory:air_import", kept.pk)
    messages.success(request, f"{kept} is forgotten.")
    return redirect("inventory:place", kept.place_id)


@require_safe
@needs("log_air")
def air_import_bad(request: YardRequest, pk: int) -> HttpResponse:
    """The lines that could not be taken, as a table to open and mend."""
    kept = _own(request, pk)
    name = f"lines-not-taken-{kept.pk}.csv"
    answer = HttpResponse(
        "\ufeff",
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
    rows = csv.writer(answer)
    rows.writerow(["Line", "Why not", "As written"])
    rows.writerows([line, reason, _harmless(text)] for line, text, reason in kept.bad)
    return answer


def _own(request: YardRequest, pk: int) -> AirImport:
    mine = AirImport.objects.filter(by=request.user).exclude(state=ImportState.DROPPED)
    kept = get_object_or_404(mine.select_related("place"), pk=pk)
    if air_imports.has_lost_its_file(kept):
        raise Http404("The file is no longer here. Choose it again on the page of its place.")
    return kept


def _harmless(text: str) -> str:
    """A spreadsheet takes a cell that begins so for a formula."""
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t")) else text


def _read_as(request: YardRequest, kept: AirImport) -> HttpResponse:
    preview = air_imports.preview(kept)
    form = LayoutForm(request.POST, kept=kept, preview=preview)
    if not form.is_valid():
        return _show(request, kept, preview, form, 422)
    air_imports.read_as(kept, form.cleaned_data["layout"])
    return redirect("inventory:air_import", kept.pk)


def _show(
    request: YardRequest, kept: AirImport, preview: Preview, form: LayoutForm, status: int
) -> HttpResponse:
    context = {"kept": kept, "place": kept.place, "preview": preview, "form": form}
    return render(request, "inventory/air/preview.html", context, status=status)


def _context(kept: AirImport) -> dict[str, object]:
    return {
        "kept": kept,
        "place": kept.place,
        "progress": air_imports.progress_words(kept),
        "added": f"{kept.added:,}",
        "known": f"{kept.known:,}",
        "differing": f"{kept.differing:,}",
        "bad": f"{kept.bad_total:,}",
        "is_cut_short": air_imports.is_cut_short(kept, timezone.now()),
        "shown": kept.bad[:BAD_SHOWN],
        "listed": len(kept.bad),
        "unshown": max(len(kept.bad) - BAD_SHOWN, 0),
    }
