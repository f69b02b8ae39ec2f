"""Laying a top by hand on its wood: the page, its live figures, keeping, and a base's plates."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Self

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from catalogue import laid_cards, laid_tops, laying, promises
from catalogue.forms.laying import (
    HandForm,
    KeepForm,
    PlateForm,
    as_meant,
    hand_forms,
    is_sent,
    places_sent,
    plate_forms,
    same_as_shown,
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

CHANGED = (
    "The top or its wood has been changed on another screen since this page was opened. It is "
    "drawn here as it is now, where you had laid it: look again, then keep it."
)
PLATES_CHANGED = (
    "The base has been changed on another screen since this page was opened. Keep these plates to "
    "put them in place of those, or open the page anew."
)


@require_http_methods(["GET", "HEAD", "POST"])
@needs("keep_commission")
def lay(request: YardRequest, pk: int) -> HttpResponse:
    """`slab=` names the wood; `m0-x` and the rest where it lies; without them the best fit."""
    commission = _commission(pk)
    typed = [code for code in request.GET.getlist("slab") if code.strip()]
    try:
        bench = _bench(commission, typed)
        best = bench.hands_of(bench.best())
    except CannotLay as problem:
        asked = laying.codes_asked(commission, typed)
        context = {"commission": commission, "problem": str(problem), "asked": asked}
        return render(request, "catalogue/laying/cannot.html", context, status=422)
    if request.method == "POST" and "plates" in request.POST:
        return _plates(request, bench, best)
    if request.method == "POST":
        return _keep(request, bench, best)
    return _page(request, _Asked.read(request, bench, best))


@require_POST
@needs("keep_commission")
def take_back(request: YardRequest, pk: int, laid: int) -> HttpResponse:
    kept = get_object_or_404(LaidTop.objects.select_related("commission"), pk=laid, commission=pk)
    return _history(request, laid_tops.take_back, kept, "The layout is taken back.")


@require_POST
@needs("keep_commission")
def put_back(request: YardRequest, pk: int, laid: int) -> HttpResponse:
    related = LaidTop.objects.select_related("commission", "supersedes")
    kept = get_object_or_404(related, pk=laid, commission=pk)
    return _history(request, laid_tops.put_back, kept, "The layout is back.")


def _history(
    request: YardRequest, deed: Callable[..., LaidTop], kept: LaidTop, done: str
) -> HttpResponse:
    try:
        deed(kept, by=request.user, now=timezone.now())
        messages.success(request, done)
    except laid_tops.LaidProblem as problem:
        messages.warning(request, f"{problem} Nothing was changed.")
    return HttpResponseRedirect(kept.commission.get_absolute_url(), status=303)


def _commission(pk: int) -> Commission:
    return get_object_or_404(Commission.objects.select_related("client"), pk=pk)


def _bench(commission: Commission, typed: list[str]) -> Bench:
    """Raises CannotLay, in a sentence, for wood that is not to be found or not enough."""
    found = {slab.pk: slab for slab in map(_slab, typed)}
    slabs = list(found.values())
    return laying.bench_of(commission, slabs, shapes.shapes_of(slabs))


def _slab(code: str) -> Slab:
    try:
        return fetch_slab(code)
    except Http404 as problem:
        raise CannotLay(f"“{code.strip()[:20]}”: {problem}") from problem


@dataclass(frozen=True)
class _Asked:
    """Where the page wants things: its forms, the hands they mean, and where the best fit is.

    `since` says what has changed since the layout reopened was kept, "" for nothing.
    """

    bench: Bench
    best: list[Hand]
    forms: list[HandForm]
    hands: list[Hand]
    is_wrong: bool
    since: str = ""

    @classmethod
    def read(cls, request: YardRequest, bench: Bench, best: list[Hand]) -> Self:
        """From what the page sent, else from a layout kept, else the best fit."""
        system = request.viewer.system
        data = request.POST if request.method == "POST" else request.GET
        if is_sent(data):
            forms = hand_forms(data, best, system)
            if [form for form in forms if not form.is_valid()]:
                return cls(bench, best, forms, best, True)
            both = zip(forms, best, strict=True)
            hands = [as_meant(form.hand, ours, system) for form, ours in both]
            return cls(bench, best, forms, hands, False)
        kept = _kept(request, bench)
        hands = (laid_tops.hands_for(kept, bench) if kept else None) or best
        since = laid_cards.changed(kept, bench) if kept and hands is not best else ""
        return cls(bench, best, hand_forms(None, hands, system), hands, False, since)


def _kept(request: YardRequest, bench: Bench) -> LaidTop | None:
    """The layout asked for by `kept=`, if it is this commission's."""
    asked = request.GET.get("kept", "")
    if not asked.isdecimal() or len(asked) > 12:
        return None
    return LaidTop.objects.filter(pk=int(asked), commission=bench.commission).first()


def _outcome(request: YardRequest, asked: _Asked) -> laying.Outcome:
    voice = Voice(request.viewer.system, request.viewer.sees_cost)
    return laying.outcome(asked.bench, asked.bench.laid(asked.hands), voice)


def _page(
    request: YardRequest, asked: _Asked, keep: KeepForm | None = None, **more: Any
) -> HttpResponse:
    """The page, or only its figures where its script asks; 422 where anything is amiss."""
    found = _outcome(request, asked)
    seen = request.GET.get("seen", "")
    if is_fragment(request):
        stale = bool(seen) and seen != laid_tops.mark_of(asked.bench)
        context = _context(request, asked, found) | {"is_stale": stale}
        status = 422 if asked.is_wrong or stale else 200
        return render(request, "catalogue/laying/figures.html", context, status=status)
    context = _context(request, asked, found) | {"keep": keep or KeepForm()}
    context["board"] = laying.board(asked.bench, found.laid)
    is_refused = asked.is_wrong or request.method == "POST"
    return render(
        request, "catalogue/laying/page.html", context | more, status=422 if is_refused else 200
    )


def _keep(request: YardRequest, bench: Bench, best: list[Hand]) -> HttpResponse:
    """What is kept is what was looked at: a top or slab changed meanwhile is looked at again."""
    asked, keep = _Asked.read(request, bench, best), KeepForm(request.POST)
    seen = request.POST.get("seen", "")
    if seen and seen != laid_tops.mark_of(bench):
        return _page(request, asked, keep, notice=CHANGED)
    if not keep.is_valid() or asked.is_wrong:
        return _page(request, asked, keep)
    laid_tops.keep(
        bench,
        asked.hands,
        _outcome(request, asked),
        note=keep.cleaned_data["note"],
        by=request.user,
        now=timezone.now(),
    )
    messages.success(request, "The layout is kept with the commission.")
    return HttpResponseRedirect(bench.commission.get_absolute_url(), status=303)


def _plates(request: YardRequest, bench: Bench, best: list[Hand]) -> HttpResponse:
    """The base's plates as typed, or moved by the shift proposed; the top stays where it lay."""
    rows = plate_forms(request.POST, [], request.viewer.system)
    asked, commission = _Asked.read(request, bench, best), bench.commission
    if [form for form in rows if not form.is_valid()]:
        return _page(request, asked, plate_forms=rows)
    seen = request.POST.get("seen_plates", "")
    if seen and seen != laid_tops.plates_mark(commission):
        return _page(request, asked, plate_forms=rows, notice=PLATES_CHANGED)
    commission.plates = [form.plate.record() for form in rows if not form.is_blank]
    commission.save(update_fields=["plates"])
    messages.success(request, "The base's plates are kept with the commission.")
    places = places_sent(request.POST)
    address = here(commission, bench.slabs) + (f"&{places}" if places else "")
    return HttpResponseRedirect(address, status=303)


def _context(request: YardRequest, asked: _Asked, found: laying.Outcome) -> dict[str, Any]:
    bench, commission = asked.bench, asked.bench.commission
    own = {hold.slab_id for hold in promises.promised_to(commission)}
    plates = [Plate.from_record(record) for record in commission.plates]
    return {
        "commission": commission,
        "bench": bench,
        "found": found,
        "hands": list(zip(_names(bench), asked.forms, strict=True)),
        "best": json.dumps(same_as_shown(asked.best, request.viewer.system)),
        "is_wrong": asked.is_wrong,
        "since": asked.since,
        "seen": laid_tops.mark_of(bench),
        "seen_plates": laid_tops.plates_mark(commission),
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
