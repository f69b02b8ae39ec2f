"""One slab's record: receiving, measuring, pricing, parting with it; its ledger and its label."""

from typing import Any

import segno
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory import holds, receiving
from inventory.access import fetch_slab, needs, refusal
from inventory.forms.slabs import GoneForm, MeasureForm, PriceForm, ReceiveForm, where_value
from inventory.models import MONEY_KINDS, GoneHow, Hold, Slab, Standing
from inventory.models.ledger import LedgerQuerySet
from inventory.viewer import Viewer, YardRequest

ENTRIES_A_PAGE = 40
KEPT_KEYS = 30
RECEIVED_KEYS = "received_keys"

show_or_take = require_http_methods(["GET", "HEAD", "POST"])


@show_or_take
@needs("record_slab")
def slab_new(request: YardRequest) -> HttpResponse:
    earlier = _received_before(request)
    if earlier is not None:
        return redirect(earlier)
    form = ReceiveForm(_typed(request), viewer=request.viewer, initial=_starting_with(request))
    if form.is_bound and form.is_valid():
        slab = form.received(request.user, timezone.now())
        if slab is not None:
            _remember(request, form.cleaned_data["entry_key"], slab)
            messages.success(request, f"{slab} is on the record: write the code on the slab.")
            return redirect(_after_receiving(request, slab))
    return _form_page(request, "inventory/slabs/new.html", form)


@show_or_take
@needs("record_slab")
def slab_measure(request: YardRequest, code: str) -> HttpResponse:
    slab = fetch_slab(code)
    form = MeasureForm(_typed(request), viewer=request.viewer, slab=slab)
    if form.is_bound and form.is_valid():
        written = form.measured_again(request.user, timezone.now())
        if written is not None:
            messages.success(request, f"The record of {slab} is up to date.")
            return redirect(slab)
    return _form_page(request, "inventory/slabs/measure.html", form, slab=slab)


@show_or_take
@needs("price_slab")
def slab_price(request: YardRequest, code: str) -> HttpResponse:
    slab = fetch_slab(code)
    form = PriceForm(_typed(request), slab=slab)
    if form.is_bound and form.is_valid():
        receiving.price(slab, request.user, timezone.now(), **form.cleaned_data)
        messages.success(request, f"The prices of {slab} are up to date.")
        return redirect(slab)
    return _form_page(request, "inventory/slabs/price.html", form, slab=slab)


@show_or_take
@needs("dispose_slab")
def slab_gone(request: YardRequest, code: str) -> HttpResponse:
    slab = fetch_slab(code)
    form = GoneForm(_typed(request))
    if form.is_bound and form.is_valid() and _part_with(request, slab, form):
        messages.success(request, f"{slab} has left the stock: {slab.get_gone_how_display()}.")
        return redirect(slab)
    promise = Hold.objects.active().filter(slab=slab).first()
    return _form_page(request, "inventory/slabs/gone.html", form, slab=slab, promise=promise)


@require_POST
@needs("dispose_slab")
def slab_back(request: YardRequest, code: str) -> HttpResponse:
    """A slab marked gone by mistake is in stock again."""
    slab = fetch_slab(code)
    try:
        holds.bring_back(
            slab, by=request.user, now=timezone.now(), note=request.POST.get("note", "")
        )
    except holds.PromiseProblem as problem:
        messages.warning(request, str(problem))
    else:
        messages.success(request, f"{slab} is back in stock, and free.")
    return redirect(slab)


@require_safe
def slab_ledger(request: YardRequest, code: str) -> HttpResponse:
    if not request.viewer.sees_house:
        raise PermissionDenied(refusal(request))
    slab = fetch_slab(code)
    pages = Paginator(entries_for(slab, request.viewer), ENTRIES_A_PAGE)
    page = pages.get_page(request.GET.get("page"))
    return render(request, "inventory/slabs/ledger.html", {"slab": slab, "page": page})


@require_safe
def slab_label(request: YardRequest, code: str) -> HttpResponse:
    slabs = Slab.objects.for_cards()
    slab = fetch_slab(code, slabs.in_stock() if request.viewer.client_view else slabs)
    address = request.build_absolute_uri(slab.get_absolute_url())
    context = {"slab": slab, "address": address, "qr": qr_svg(address, f"Address of {slab}")}
    return render(request, "inventory/slabs/label.html", context)


def entries_for(slab: Slab, viewer: Viewer) -> LedgerQuerySet:
    """The slab's ledger, newest first, without money for those who do not see cost."""
    entries = slab.ledger.newest_first()
    return entries if viewer.sees_cost else entries.exclude(kind__in=MONEY_KINDS)


def qr_svg(text: str, title: str) -> SafeString:
    """A QR code as inline SVG sized by the page's stylesheet; library output, so safe to show."""
    code = segno.make(text, error="m", micro=False)
    return mark_safe(code.svg_inline(border=2, omitsize=True, svgclass="qr", title=title))


def _typed(request: YardRequest) -> Any:
    return request.POST if request.method == "POST" else None


def _form_page(request: YardRequest, template: str, form: Any, **context: Any) -> HttpResponse:
    """The form; 422 when what came back cannot be taken."""
    status = 422 if form.is_bound else 200
    return render(request, template, {"form": form, **context}, status=status)


def _starting_with(request: YardRequest) -> dict[str, Any]:
    """What a new form shows: the slab sawn before it, or the log, that the address names."""
    after = request.GET.get("after")
    if not after:
        named = ("log", "species", "number_in_log")
        return {name: request.GET[name] for name in named if name in request.GET}
    slab = fetch_slab(after)
    names = ("log", "species", "parcel", "sawn", "sawn_on", "length_mm", "thickness_mm")
    number = slab.number_in_log + 1 if slab.number_in_log else None
    same = {name: getattr(slab, name) for name in names}
    return {**same, "number_in_log": number, "where": where_value(slab)}


def _after_receiving(request: YardRequest, slab: Slab) -> str:
    if "another" in request.POST:
        return f"{reverse('inventory:slab_new')}?after={slab.code}"
    return slab.get_absolute_url()


def _received_before(request: YardRequest) -> Slab | None:
    """The slab this very form made already, when it is sent a second time."""
    code = request.session.get(RECEIVED_KEYS, {}).get(request.POST.get("entry_key", ""))
    return Slab.objects.filter(code=code).first() if code else None


def _remember(request: YardRequest, entry_key: str, slab: Slab) -> None:
    kept = list(request.session.get(RECEIVED_KEYS, {}).items())[-KEPT_KEYS:]
    request.session[RECEIVED_KEYS] = {**dict(kept), entry_key: slab.code}


def _part_with(request: YardRequest, slab: Slab, form: GoneForm) -> bool:
    said = form.cleaned_data
    try:
        holds.mark_gone(
            slab,
            how=GoneHow(said["how"]),
            by=request.user,
            now=timezone.now(),
            note=said["note"],
            even_if_promised=said["even_if_promised"],
        )
    except holds.PromiseProblem as problem:
        form.add_error(None, str(problem))
        return False
    return slab.standing == Standing.GONE
