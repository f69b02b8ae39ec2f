"""A slab's outline from its photograph: choose and measure, click, correct, keep, take back."""

from dataclasses import replace
from typing import Any, BinaryIO, cast
from urllib.parse import urlencode

import numpy as np
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.files.storage import default_storage
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory import outline_pages as pages
from inventory import outlines
from inventory.access import fetch_slab, needs
from inventory.forms.outlines import BARE, BARKED, ClicksForm, LineForm, SetupForm, StartForm
from inventory.models import FaceSide, Outline, Photo, PhotoRole, Slab
from inventory.outline_drawn import Drawn, places_text
from inventory.outline_setup import (
    MARKS_OF,
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
        return _start_page(request, slab, StartForm(slab=slab, system=system, initial=named))
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
            return redirect(_trace(slab, found.query))
        form.add_error("photo", pages.stopping_words(found, system))
    if refused:
        form.errors.pop("photo", None)
        form.add_error("file", refused)
    return _start_page(request, slab, form, status=422)


@show_or_take
@needs("record_slab")
def outline_trace(request: YardRequest, code: str) -> HttpResponse:
    """Corners to measure by where they are wanted; then rough clicks; then the drafted line."""
    slab = fetch_slab(code)
    found = _found(request, slab)
    if isinstance(found, Asked):
        return _marks_page(request, slab, found)
    if isinstance(found, HttpResponse):
        return found
    if request.method != "POST":
        return _clicks_page(request, slab, found, ClicksForm())
    if "at.x" in request.POST:
        clicked = {"clicks": places_text(_clicks_and_one_more(request, found))}
        return _clicks_page(request, slab, found, ClicksForm(initial=clicked))
    form = ClicksForm(request.POST)
    if not form.ask_for_enough():
        return _clicks_page(request, slab, found, form, status=422)
    clicks = np.array(form.cleaned_data["clicks"], dtype=np.float64)
    by_hand = request.POST.get("how") == BY_HAND
    drawn, said = pages.draft(found, clicks, by_hand=by_hand)
    line = LineForm(
        system=request.viewer.system,
        initial={"drawn": drawn.text(), "clicks": places_text(clicks)},
    )
    return _line_page(request, slab, found, line, drawn, said=said)


@require_POST
@needs("record_slab")
def outline_figures(request: YardRequest, code: str) -> HttpResponse:
    """What the line as it stands comes to: a part of the page, asked for while a point is moved."""
    slab = fetch_slab(code)
    found = _found(request, slab)
    if not isinstance(found, Setup):
        raise Http404("This picture has no scale yet.")
    form = LineForm(request.POST, system=request.viewer.system)
    form.is_valid()
    if "drawn" in form.errors:
        told = tuple(pages.Told(str(each), True) for each in form.errors["drawn"])
        context = {"figures": pages.Figures(told), "slab": slab}
        return render(request, "inventory/outlines/figures.html", context, status=422)
    figures = _figures(request, slab, found, form.cleaned_data["drawn"], form)
    return render(request, "inventory/outlines/figures.html", {"figures": figures, "slab": slab})


@require_POST
@needs("record_slab")
def outline_save(request: YardRequest, code: str) -> HttpResponse:
    slab = fetch_slab(code)
    found = _found(request, slab)
    if not isinstance(found, Setup):
        return found if isinstance(found, HttpResponse) else redirect(_trace(slab, found.query))
    form = LineForm(request.POST, system=request.viewer.system)
    form.is_valid()
    if "drawn" in form.errors:
        clicks = ClicksForm(request.POST)
        clicks.is_valid()
        clicks.add_error(None, form.errors["drawn"][0])
        return _clicks_page(request, slab, found, clicks, status=422)
    drawn = form.cleaned_data["drawn"]
    if "raise" in request.POST and not form.errors.get("raised"):
        return _raised_page(request, slab, found, form)
    judged = pages.judged_of(slab, found, drawn)
    if form.is_valid() and not judged.is_refused and _keep(request, slab, found, form, judged):
        slab.refresh_from_db(fields=["volume_mm3"])
        messages.success(request, pages.kept_words(slab, request.viewer.system))
        return redirect(slab)
    return _line_page(request, slab, found, form, drawn, status=422)


@require_safe
@needs("record_slab")
def outline_correct(request: YardRequest, code: str, side: str) -> HttpResponse:
    """The outline a face has now, to be corrected without clicking again."""
    slab = fetch_slab(code)
    outline = _current(slab, side)
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
    return _line_page(request, slab, setup, form, drawn)


@show_or_take
@needs("record_slab")
def outline_withdraw(request: YardRequest, code: str, side: str) -> HttpResponse:
    slab = fetch_slab(code)
    outline = _current(slab, side)
    if request.method != "POST":
        context = {"slab": slab, "outline": outline, "scene": _kept_scene(outline)}
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
    found = _found(request, slab)
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


# --- what the address says ---------------------------------------------------------------


def _found(request: YardRequest, slab: Slab) -> Setup | Asked | HttpResponse:
    """The picture with its scale; or what still has to be clicked for it; or the way back."""
    if "from" in request.GET:
        return _outline_named(request, slab)
    form = SetupForm(request.GET, slab=slab, system=request.viewer.system)
    if not form.is_valid():
        return _back_to_start(request, slab, request.GET.dict())
    asked = form.asked()
    if asked.wants_marks and "at.x" in request.GET:
        asked = replace(asked, marks=(*asked.marks, _clicked_at(request.GET, asked.photo)))
        return redirect(_trace(slab, asked.query))
    if asked.wants_marks:
        return asked
    try:
        found = set_up(asked)
    except FileNotFoundError:
        messages.warning(request, "The picture's file is not there any more: add it again.")
        return redirect("inventory:outline_start", slab.code)
    if isinstance(found, Setup):
        return found
    messages.warning(request, pages.stopping_words(found, request.viewer.system))
    if MARKS_OF[asked.way]:
        return redirect(_trace(slab, replace(asked, marks=()).query))
    return _back_to_start(request, slab, asked.fields)


def _outline_named(request: YardRequest, slab: Slab) -> Setup | HttpResponse:
    named = request.GET["from"]
    outline = get_object_or_404(
        Outline.objects.select_related("photo"), slab=slab, pk=named if named.isdecimal() else 0
    )
    return set_up_again(outline) or redirect("inventory:outline_start", slab.code)


def _back_to_start(request: YardRequest, slab: Slab, said: dict[str, str]) -> HttpResponse:
    fields = {name: value for name, value in said.items() if name in SetupForm.base_fields}
    query = f"?{urlencode(fields)}" if fields else ""
    return redirect(reverse("inventory:outline_start", args=[slab.code]) + query)


def _trace(slab: Slab, query: str) -> str:
    return f"{reverse('inventory:outline_trace', args=[slab.code])}?{query}"


def _current(slab: Slab, side: str) -> Outline:
    found = outlines.current(slab).get(side)
    if found is None:
        raise Http404("This face has no outline.")
    return found


# --- clicks without JavaScript: the picture is a button, and tells where it was pressed ---


def _clicked_at(sent: Any, photo: Photo) -> tuple[float, float]:
    share = photo.width_px / pages.FALLBACK_PX
    x, y = _pressed(sent)
    return min(x * share, photo.width_px - 1.0), min(y * share, photo.height_px - 1.0)


def _clicks_and_one_more(request: YardRequest, setup: Setup) -> list[tuple[float, float]]:
    form = ClicksForm(request.POST)
    clicks = list(form.cleaned_data["clicks"]) if form.is_valid() else []
    left, top, wide, _ = pages.straight_scene(setup).picture
    x, y = _pressed(request.POST)
    share = wide / pages.FALLBACK_PX
    return [*clicks, (left + x * share, top + y * share)]


def _pressed(sent: Any) -> tuple[float, float]:
    said = str(sent.get("at.x", "")), str(sent.get("at.y", ""))
    if not all(each.isdecimal() and len(each) < 6 for each in said):
        raise Http404("That is no place in the picture.")
    return float(said[0]), float(said[1])


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
            by=request.user,
            now=timezone.now(),
        )
    except ValidationError as problem:
        for name, sentences in problem.message_dict.items():
            form.add_error(name if name in form.fields else None, " ".join(sentences))
    return None


def _figures(
    request: YardRequest, slab: Slab, setup: Setup, drawn: Drawn, form: LineForm
) -> pages.Figures:
    judged = pages.judged_of(slab, setup, drawn)
    bark = form.inside
    return pages.figures_of(slab, judged, setup.side, bark, request.viewer.system)


# --- pages -------------------------------------------------------------------------------


def _start_page(
    request: YardRequest, slab: Slab, form: StartForm, status: int = 200
) -> HttpResponse:
    photos = list(slab.photos.order_by("position", "pk"))
    if not photos:
        form.fields["file"].label = "Add a picture"
    chosen = str(form["photo"].value() or (photos[0].pk if photos else ""))
    kept = [(outline, _kept_scene(outline)) for outline in outlines.current(slab).values()]
    context = {"slab": slab, "form": form, "photos": photos, "chosen": chosen, "kept": kept}
    return render(request, "inventory/outlines/start.html", context, status=status)


def _kept_scene(outline: Outline) -> pages.Scene:
    return pages.kept_scene(outline.ring, outline.holes)


def _marks_page(request: YardRequest, slab: Slab, asked: Asked) -> HttpResponse:
    context = {
        "slab": slab,
        "asked": asked,
        "most": MARKS_OF[asked.way],
        "hidden": {**asked.fields, "marks": ""}.items(),
        "scene": pages.photo_scene(asked.photo.width_px, asked.photo.height_px),
        "shown_px": pages.FALLBACK_PX,
    }
    return render(request, "inventory/outlines/marks.html", context)


def _clicks_page(
    request: YardRequest, slab: Slab, setup: Setup, form: ClicksForm, status: int = 200
) -> HttpResponse:
    context = {
        "slab": slab,
        "setup": setup,
        "form": form,
        "scene": pages.straight_scene(setup),
        "shown_px": pages.FALLBACK_PX,
        "told": pages.told(setup.problems, request.viewer.system),
        "wanted": pages.WANTED_CLICKS,
        "action": _trace(slab, setup.query),
    }
    return render(request, "inventory/outlines/clicks.html", context, status=status)


def _raised_page(request: YardRequest, slab: Slab, before: Setup, form: LineForm) -> HttpResponse:
    """The same line where the scale is carried up from sheets that lie on the floor."""
    asked = SetupForm(request.GET, slab=slab, system=request.viewer.system)
    raised_mm = form.cleaned_data["raised"]
    found = before
    if raised_mm and asked.is_valid():
        after = set_up(replace(asked.asked(), raised_mm=raised_mm))
        found = after if isinstance(after, Setup) else before
    drawn = pages.carried(form.cleaned_data["drawn"], before.scale, found.scale)
    clicks = found.scale.mm(before.scale.px(form.cleaned_data["clicks"]))
    first = {
        "drawn": drawn.text(),
        "clicks": places_text(clicks),
        "bark": request.POST.get("bark"),
        "bark_mm": request.POST.get("bark_mm"),
    }
    line = LineForm(system=request.viewer.system, initial=first)
    return _line_page(request, slab, found, line, drawn)


def _line_page(
    request: YardRequest,
    slab: Slab,
    setup: Setup,
    form: LineForm,
    drawn: Drawn,
    *,
    said: tuple[pages.Told, ...] = (),
    status: int = 200,
) -> HttpResponse:
    form.fields["raised"].initial = slab.thickness_mm
    context = {
        "slab": slab,
        "setup": setup,
        "side": FaceSide(setup.side).label,
        "form": form,
        "scene": pages.straight_scene(setup, drawn),
        "figures": _figures(request, slab, setup, drawn, form),
        "said": said,
    }
    return render(request, "inventory/outlines/line.html", context, status=status)
