"""What the doors of tracing share: what an address says of a picture, and the pages they show."""

from dataclasses import replace
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from inventory import outline_pages as pages
from inventory import outlines
from inventory.asked import whole_number
from inventory.forms.outlines import ClicksForm, LineForm, SetupForm, StartForm
from inventory.models import FaceSide, Outline, Photo, Slab
from inventory.outline_drawn import Drawn, places_text
from inventory.outline_setup import MARKS_OF, Asked, Setup, set_up, set_up_again
from inventory.viewer import YardRequest


def found_in(request: YardRequest, slab: Slab) -> Setup | Asked | HttpResponse:
    """The picture with its scale; or what still has to be clicked for it; or the way back."""
    if "from" in request.GET:
        return _outline_named(request, slab)
    form = SetupForm(request.GET, slab=slab, system=request.viewer.system)
    if not form.is_valid():
        return _back_to_start(request, slab, request.GET.dict())
    asked = form.asked()
    if asked.wants_marks and "at.x" in request.GET:
        asked = replace(asked, marks=(*asked.marks, _clicked_at(request.GET, asked.photo)))
        return redirect(trace_address(slab, asked.query))
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
        return redirect(trace_address(slab, replace(asked, marks=()).query))
    return _back_to_start(request, slab, asked.fields)


def _outline_named(request: YardRequest, slab: Slab) -> Setup | HttpResponse:
    named = whole_number(request.GET["from"])
    outline = get_object_or_404(Outline.objects.select_related("photo"), slab=slab, pk=named)
    return set_up_again(outline) or redirect("inventory:outline_start", slab.code)


def _back_to_start(request: YardRequest, slab: Slab, said: dict[str, str]) -> HttpResponse:
    fields = {name: value for name, value in said.items() if name in SetupForm.base_fields}
    query = f"?{urlencode(fields)}" if fields else ""
    return redirect(reverse("inventory:outline_start", args=[slab.code]) + query)


def trace_address(slab: Slab, query: str) -> str:
    return f"{reverse('inventory:outline_trace', args=[slab.code])}?{query}"


def current_of(slab: Slab, side: str) -> Outline:
    found = outlines.current(slab).get(side)
    if found is None:
        raise Http404("This face has no outline.")
    return found


# --- clicks without JavaScript: the picture is a button, and tells where it was pressed ---


def _clicked_at(sent: Any, photo: Photo) -> tuple[float, float]:
    share = photo.width_px / pages.FALLBACK_PX
    x, y = _pressed(sent)
    return min(x * share, photo.width_px - 1.0), min(y * share, photo.height_px - 1.0)


def clicks_and_one_more(request: YardRequest, setup: Setup) -> list[tuple[float, float]]:
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


# --- pages -------------------------------------------------------------------------------


def start_page(
    request: YardRequest, slab: Slab, form: StartForm, status: int = 200
) -> HttpResponse:
    photos = list(slab.photos.order_by("position", "pk"))
    if not photos:
        form.fields["file"].label = "Add a picture"
    chosen = str(form["photo"].value() or (photos[0].pk if photos else ""))
    system = request.viewer.system
    kept = [
        (outline, kept_scene(outline), pages.sayings(outline, system))
        for outline in outlines.current(slab).values()
    ]
    context = {"slab": slab, "form": form, "photos": photos, "chosen": chosen, "kept": kept}
    return render(request, "inventory/outlines/start.html", context, status=status)


def kept_scene(outline: Outline) -> pages.Scene:
    return pages.kept_scene(outline.ring, outline.holes)


def marks_page(request: YardRequest, slab: Slab, asked: Asked) -> HttpResponse:
    context = {
        "slab": slab,
        "asked": asked,
        "most": MARKS_OF[asked.way],
        "hidden": {**asked.fields, "marks": ""}.items(),
        "scene": pages.photo_scene(asked.photo.width_px, asked.photo.height_px),
        "shown_px": pages.FALLBACK_PX,
    }
    return render(request, "inventory/outlines/marks.html", context)


def clicks_page(
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
        "action": trace_address(slab, setup.query),
    }
    return render(request, "inventory/outlines/clicks.html", context, status=status)


def raised_page(request: YardRequest, slab: Slab, before: Setup, form: LineForm) -> HttpResponse:
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
    return line_page(request, slab, found, line, drawn)


def line_page(
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
        "figures": figures_in(request, slab, setup, drawn, form),
        "said": said,
    }
    return render(request, "inventory/outlines/line.html", context, status=status)


def figures_in(
    request: YardRequest, slab: Slab, setup: Setup, drawn: Drawn, form: LineForm
) -> pages.Figures:
    judged = pages.judged_of(slab, setup, drawn)
    bark = form.inside
    return pages.figures_of(slab, judged, setup.side, bark, request.viewer.system)
