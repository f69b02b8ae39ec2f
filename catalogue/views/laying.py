"""Laying a top by hand on its wood: the page, its live figures, keeping, and a base's plates."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from catalogue import laid_tops, laying, promises
from catalogue.forms.laying import (
    HandForm,
    KeepForm,
    PlateForm,
    as_meant,
    hand_forms,
    is_sent,
    places_sent,
    plate_forms,
    unit_of,
)
from catalogue.laying import Bench, CannotLay, Hand
from catalogue.layout.fastening import Plate
from catalogue.match_words import Voice
from catalogue.models import Commission, LaidTop
from inventory import shapes
from inventory.access import fetch_slab, is_fragment, needs
from inventory.models import Slab
from inventory.viewer import YardRequest


@require_http_methods(["GET", "HEAD", "POST"])
@needs("keep_commission")
def lay(request: YardRequest, pk: int) -> HttpResponse:
    """`slab=` names the wood; `m0-x` and the rest where it lies; without them the best fit."""
    commission = get_object_or_404(Commission.objects.select_related("client"), pk=pk)
    slabs = [fetch_slab(code) for code in dict.fromkeys(request.GET.getlist("slab"))]
    try:
        bench = laying.bench_of(commission, slabs, shapes.shapes_of(slabs))
        best = bench.best()
    except CannotLay as problem:
        context = {"commission": commission, "problem": str(problem), "slabs": slabs}
        return render(request, "catalogue/laying/cannot.html", context, status=422)
    if request.method == "POST" and "plates" in request.POST:
        rows = plate_forms(request.POST, [], request.viewer.system)
        if not [form for form in rows if not form.is_valid()]:
            return _keep_plates(request, bench, rows)
        return _page(request, bench, bench.hands_of(best), rows)
    return _page(request, bench, bench.hands_of(best))


def _page(
    request: YardRequest,
    bench: Bench,
    best: list[Hand],
    wrong_plates: list[PlateForm] | None = None,
) -> HttpResponse:
    """The page, or what it keeps; with the plates as typed where they cannot be kept."""
    forms = _hand_forms(request, bench, best)
    is_wrong = any(form.is_bound and not form.is_valid() for form in forms)
    hands = best
    if forms[0].is_bound and not is_wrong:
        system = request.viewer.system
        sent = [form.hand for form in forms]
        hands = [as_meant(hand, known, system) for hand, known in zip(sent, best, strict=True)]
    if not forms[0].is_bound and (kept := _kept(request, bench)):
        hands = laid_tops.hands_of(kept)
        forms = hand_forms(None, hands, request.viewer.system)
    laid = bench.laid(hands)
    voice = Voice(request.viewer.system, request.viewer.sees_cost)
    found = laying.outcome(bench, laid, voice)
    is_kept = request.method == "POST" and wrong_plates is None
    keep = KeepForm(request.POST if is_kept else None)
    if is_kept and not is_wrong and keep.is_valid():
        laid_tops.keep(
            bench,
            hands,
            found,
            note=keep.cleaned_data["note"],
            by=request.user,
            now=timezone.now(),
        )
        messages.success(request, "The layout is kept with the commission.")
        return HttpResponseRedirect(bench.commission.get_absolute_url(), status=303)
    context = _context(request, bench, found, forms) | {"keep": keep}
    if is_fragment(request):
        return render(request, "catalogue/laying/figures.html", context)
    context["board"] = laying.board(bench, laid)
    if wrong_plates is not None:
        context["plate_forms"] = wrong_plates
    status = 422 if is_wrong or is_kept or wrong_plates is not None else 200
    return render(request, "catalogue/laying/page.html", context, status=status)


def _hand_forms(request: YardRequest, bench: Bench, best: list[Hand]) -> list[HandForm]:
    sent = request.POST if request.method == "POST" else request.GET
    return hand_forms(sent if is_sent(sent) else None, best, request.viewer.system)


def _kept(request: YardRequest, bench: Bench) -> LaidTop | None:
    """The layout asked for by `kept=`, if it is this commission's and of these very slabs."""
    asked = request.GET.get("kept", "")
    if not asked.isdecimal() or len(asked) > 12:
        return None
    row = LaidTop.objects.filter(pk=int(asked), commission=bench.commission).first()
    if row is None or laid_tops.codes_of(row) != {slab.code for slab in bench.slabs}:
        return None
    return row if row.how_made == bench.commission.how_made else None


def _context(
    request: YardRequest, bench: Bench, found: laying.Outcome, forms: list[HandForm]
) -> dict[str, Any]:
    commission = bench.commission
    own = {hold.slab_id for hold in promises.promised_to(commission)}
    plates = [Plate.from_record(record) for record in commission.plates]
    return {
        "commission": commission,
        "bench": bench,
        "found": found,
        "hands": list(zip(_names(bench), forms, strict=True)),
        "kept_for_others": laying.kept_for_others(bench, own),
        "plate_forms": plate_forms(None, plates, request.viewer.system),
        "unit": unit_of(request.viewer.system),
        "here": here(commission, bench.slabs),
        "shifted": _shifted(request, commission, found),
    }


def _shifted(
    request: YardRequest, commission: Commission, found: laying.Outcome
) -> list[PlateForm]:
    """The plates as the proposed shift would have them, ready to be sent."""
    if not found.shift:
        return []
    moved = [Plate.from_record(one) for one in laying.shifted(commission.plates, found.shift)]
    return plate_forms(None, moved, request.viewer.system)[: len(moved)]


def _names(bench: Bench) -> list[str]:
    if bench.moves_top:
        return ["The top on the slab"]
    return [f"{slab.display_code} under the top" for slab in bench.slabs]


def here(commission: Commission, slabs: tuple[Slab, ...]) -> str:
    """The address of laying this top on these slabs."""
    named = "&".join(f"slab={slab.code}" for slab in slabs)
    return f"{reverse('catalogue:lay', args=[commission.pk])}?{named}"


def _keep_plates(request: YardRequest, bench: Bench, rows: list[PlateForm]) -> HttpResponse:
    """The base's plates as typed, or moved by the shift proposed; the top stays where it lay."""
    commission = bench.commission
    commission.plates = [form.plate.record() for form in rows if not form.is_blank]
    commission.save(update_fields=["plates"])
    messages.success(request, "The base's plates are kept with the commission.")
    places = places_sent(request.POST)
    address = here(commission, bench.slabs) + (f"&{places}" if places else "")
    return HttpResponseRedirect(address, status=303)
