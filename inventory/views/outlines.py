"""A slab's outline from its photograph: choose and measure, click, correct, keep, take back."""

from dataclasses import replace
from typing import BinaryIO, cast

import numpy as np
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.files.storage import default_storage
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory import outline_pages as pages
from inventory import outlines
from inventory.access import fetch_slab, needs
from inventory.forms.outlines import BARE, BARKED, ClicksForm, LineForm, SetupForm, StartForm
from inventory.models import FaceSide, Outline, Photo, PhotoRole, Slab
from inventory.outline_drawn import places_text
from inventory.outline_setup import (
    Asked,
    Setup,
    set_up,
    set_up_again,
    straight_file,
)
from inventory.photos import store
from inventory.photos.intake import PhotoRefused, take_in
from inventory.photos.trace import Judged
from inventory.viewer import YardRequest
from inventory.views import outline_parts as parts

show_or_take = require_http_methods(["GET", "HEAD", "POST"])
KEEP_A_DAY = "private, max-age=86400"
BY_HAND = "hand"


@show_or_take
@needs("record_slab")
def outline_start(request: YardRequest, code: str) -> HttpResponse:
    """The picture, the face, what gives the size."""
    slab = fetch_slab(code)
    system = request.viewer.system
    if request.method != "POST":
        named = {name: request.GET[name] for name in SetupForm.base_fields if name in request.GET}
        return parts.start_page(request, slab, StartForm(slab=slab, system=system, initial=named))
    data, refused = request.POST.copy(), ""
    if "file" in request.FILES:
        try:
            data["photo"] = str(_take(request, slab).pk)
        except PhotoRefused as problem:
            refused = str(problem)
    form = StartForm(data, slab=slab, system=system)
    if form.is_valid() and not refused:
        asked = form.asked()
        found = asked if asked.wants_marks else set_up(asked)
        if isinstance(found, Asked | Setup):
            return redirect(parts.trace_address(slab, found.query))
        form.add_error("photo", pages.stopping_words(found, system))
    if refused:
        form.errors.pop("photo", None)
        form.add_error("file", refused)
    return parts.start_page(request, slab, form, status=422)


@show_or_take
@needs("record_slab")
def outline_trace(request: YardRequest, code: str) -> HttpResponse:
    """Corners to measure by where they are wanted; then rough clicks; then the drafted line."""
    slab = fetch_slab(code)
    found = parts.found_in(request, slab)
    if isinstance(found, Asked):
        return parts.marks_page(request, slab, found)
    if isinstance(found, HttpResponse):
        return found
    if request.method != "POST":
        return parts.clicks_page(request, slab, found, ClicksForm())
    if "at.x" in request.POST:
        clicked = {"clicks": places_text(parts.clicks_and_one_more(request, found))}
        return parts.clicks_page(request, slab, found, ClicksForm(initial=clicked))
    form = ClicksForm(request.POST)
    if not form.ask_for_enough():
        return parts.clicks_page(request, slab, found, form, status=422)
    clicks = np.array(form.cleaned_data["clicks"], dtype=np.float64)
    by_hand = request.POST.get("how") == BY_HAND
    drawn, said = pages.draft(found, clicks, by_hand=by_hand)
    line = LineForm(
        system=request.viewer.system,
        initial={"drawn": drawn.text(), "clicks": places_text(clicks)},
    )
    return parts.line_page(request, slab, found, line, drawn, said=said)


@require_POST
@needs("record_slab")
def outline_figures(request: YardRequest, code: str) -> HttpResponse:
    """What the line as it stands comes to: a part of the page, asked for while a point is moved."""
    slab = fetch_slab(code)
    found = parts.found_in(request, slab)
    if not isinstance(found, Setup):
        raise Http404("This picture has no scale yet.")
    form = LineForm(request.POST, system=request.viewer.system)
    form.is_valid()
    if "drawn" in form.errors:
        told = tuple(pages.Told(str(each), True) for each in form.errors["drawn"])
        context = {"figures": pages.Figures(told), "slab": slab}
        return render(request, "inventory/outlines/figures.html", context, status=422)
    figures = parts.figures_in(request, slab, found, form.cleaned_data["drawn"], form)
    return render(request, "inventory/outlines/figures.html", {"figures": figures, "slab": slab})


@require_POST
@needs("record_slab")
def outline_save(request: YardRequest, code: str) -> HttpResponse:
    slab = fetch_slab(code)
    found = parts.found_in(request, slab)
    if isinstance(found, Asked):
        return redirect(parts.trace_address(slab, found.query))
    if isinstance(found, HttpResponse):
        return found
    form = LineForm(request.POST, system=request.viewer.system)
    form.is_valid()
    if "drawn" in form.errors:
        clicks = ClicksForm(request.POST)
        clicks.is_valid()
        clicks.add_error(None, form.errors["drawn"][0])
        return parts.clicks_page(request, slab, found, clicks, status=422)
    drawn = form.cleaned_data["drawn"]
    if "raise" in request.POST and not form.errors.get("raised"):
        return parts.raised_page(request, slab, found, form)
    judged = pages.judged_of(slab, found, drawn)
    if form.is_valid() and not judged.is_refused and _keep(request, slab, found, form, judged):
        slab.refresh_from_db(fields=["volume_mm3"])
        messages.success(request, pages.kept_words(slab, request.viewer.system))
        return redirect(slab)
    return parts.line_page(request, slab, found, form, drawn, status=422)


@require_safe
@needs("record_slab")
def outline_correct(request: YardRequest, code: str, side: str) -> HttpResponse:
    """The outline a face has now, to be corrected without clicking again."""
    slab = fetch_slab(code)
    outline = parts.current_of(slab, side)
    setup = set_up_again(outline)
    if setup is None:
        messages.warning(request, "This outline was not traced on a picture: trace it on one.")
        return redirect("inventory:outline_start", slab.code)
    drawn = replace(pages.drawn_from(outline), corrected=outline.corrected_points)
    first = {
        "drawn": drawn.text(),
        "clicks": places_text(outline.clicks),
        "bark": BARKED if outline.is_bark_inside else BARE,
        "bark_mm": outline.bark_mm or None,
    }
    form = LineForm(system=request.viewer.system, initial=first)
    return parts.line_page(request, slab, setup, form, drawn)


@show_or_take
@needs("record_slab")
def outline_withdraw(request: YardRequest, code: str, side: str) -> HttpResponse:
    slab = fetch_slab(code)
    if request.method == "POST" and side in FaceSide.values and side not in outlines.current(slab):
        messages.warning(request, f"Somebody has taken this outline of {slab} back already.")
        return redirect(slab)
    outline = parts.current_of(slab, side)
    if request.method != "POST":
        context = {"slab": slab, "outline": outline, "scene": parts.kept_scene(outline)}
        return render(request, "inventory/outlines/take_back.html", context)
    try:
        outlines.withdraw(slab, side, request.user, timezone.now())
    except ValidationError as problem:
        messages.warning(request, " ".join(problem.messages))
    else:
        messages.success(request, f"The outline of {slab} is taken back; it stays in the ledger.")
    return redirect(slab)


@require_safe
@needs("record_slab")
def outline_straight(request: YardRequest, code: str) -> HttpResponse:
    """The straightened picture that the address's scale gives."""
    slab = fetch_slab(code)
    found = parts.found_in(request, slab)
    if not isinstance(found, Setup):
        raise Http404("This picture has no scale yet.")
    try:
        with default_storage.open(straight_file(found), "rb") as opened:
            response = HttpResponse(opened.read(), content_type="image/jpeg")
    except FileNotFoundError as missing:
        raise Http404("The picture's file is not there any more.") from missing
    response["Cache-Control"] = KEEP_A_DAY
    response["X-Content-Type-Options"] = "nosniff"
    return response


# --- what is done ------------------------------------------------------------------------


def _take(request: YardRequest, slab: Slab) -> Photo:
    """The picture that was added; the slab's own where it has that very one already."""
    file = request.FILES["file"]
    name = getattr(file, "name", "") or "a picture"
    intake = take_in(cast("BinaryIO", file), name)
    known = slab.photos.filter(sha256=intake.sha256).first()
    is_lower = request.POST.get("side") == FaceSide.LOWER
    role = PhotoRole.OTHER_FACE if is_lower else PhotoRole.FACE_DRY
    return known or store.add_photo(slab, intake, role, request.user, name)


def _keep(
    request: YardRequest, slab: Slab, setup: Setup, form: LineForm, judged: Judged
) -> Outline | None:
    said, inside = form.cleaned_data, form.inside
    try:
        return outlines.keep(
            slab,
            side=setup.side,
            photo=setup.photo,
            scale=setup.scale,
            raised_mm=setup.raised_mm,
            clicks=said["clicks"],
            traced=said["drawn"].outline_mm,
            traced_holes=said["drawn"].holes_mm,
            judged=judged,
            is_bark_inside=inside.is_inside,
            bark_mm=inside.thick_mm,
            corrected_points=said["drawn"].corrected,
            weak=said["drawn"].weak,
            by=request.user,
            now=timezone.now(),
        )
    except ValidationError as problem:
        for name, sentences in problem.message_dict.items():
            form.add_error(name if name in form.fields else None, " ".join(sentences))
    return None
