"""Commissions: the list, one with its wood and candidates, and promising wood to it."""

import hashlib
from collections.abc import Callable

from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from catalogue import commission_page, promises
from catalogue.forms.commissions import CommissionForm, LastDayForm
from catalogue.models import Client, Commission
from inventory.access import fetch_slab, needs
from inventory.asked import whole_number
from inventory.holds import PromiseProblem
from inventory.models import Slab
from inventory.viewer import YardRequest
from inventory.words import day_words, join_words


@require_safe
@needs("keep_commission")
def commissions(request: YardRequest) -> HttpResponse:
    rows = commission_page.rows(timezone.localdate())
    return render(request, "catalogue/commissions/list.html", rows)


@require_safe
@needs("keep_commission")
def commission(request: YardRequest, pk: int) -> HttpResponse:
    return _page(request, _fetch(pk))


@require_http_methods(["GET", "HEAD", "POST"])
@needs("keep_commission")
def commission_new(request: YardRequest) -> HttpResponse:
    return _edit(request, None)


@require_http_methods(["GET", "HEAD", "POST"])
@needs("keep_commission")
def commission_edit(request: YardRequest, pk: int) -> HttpResponse:
    return _edit(request, _fetch(pk))


@require_POST
@needs("keep_commission")
@needs("hold_slab")
def commission_hold(request: YardRequest, pk: int) -> HttpResponse:
    """Hold the slabs named, or give this commission's holds on them another last day."""
    piece = _fetch(pk)
    form = LastDayForm(request.POST)
    if not form.is_valid():
        return _page(request, piece, form, status=422)
    until = form.cleaned_data["until"]
    slabs = _slabs(request)
    now = timezone.now()
    deed = promises.extend if request.POST.get("extend") else promises.hold

    def promise() -> str:
        deed(piece, slabs, until=until, by=request.user, now=now)
        when = day_words(until, timezone.localdate())
        return f"{_names(slabs)} held for {piece.title} until {when}."

    return _do(request, piece, promise)


@require_POST
@needs("keep_commission")
@needs("allot_slab")
def commission_allot(request: YardRequest, pk: int) -> HttpResponse:
    piece, slabs = _fetch(pk), _slabs(request)

    def promise() -> str:
        promises.allot(piece, slabs, by=request.user, now=timezone.now())
        return f"{_names(slabs)} allotted to {piece.title}."

    return _do(request, piece, promise)


@require_POST
@needs("keep_commission")
@needs("hold_slab")
def commission_release(request: YardRequest, pk: int) -> HttpResponse:
    piece, slabs = _fetch(pk), _slabs(request)

    def release() -> str:
        promises.release(piece, slabs, by=request.user, now=timezone.now())
        return f"{_names(slabs)} free again."

    return _do(request, piece, release)


def _fetch(pk: int) -> Commission:
    whole = Commission.objects.select_related("client").prefetch_related("species")
    return get_object_or_404(whole, pk=pk)


def _slabs(request: YardRequest) -> list[Slab]:
    return [fetch_slab(code) for code in dict.fromkeys(request.POST.getlist("slab"))]


def _names(slabs: list[Slab]) -> str:
    names = join_words([slab.display_code for slab in slabs])
    return f"{names} {'is' if len(slabs) == 1 else 'are'}"


def _do(request: YardRequest, piece: Commission, deed: Callable[[], str]) -> HttpResponse:
    """Do it and say so; a refusal is said, and the page shows what is free now."""
    try:
        messages.success(request, deed())
    except PromiseProblem as problem:
        messages.warning(request, f"{problem} Nothing was changed.")
    return HttpResponseRedirect(piece.get_absolute_url(), status=303)


def _page(
    request: YardRequest,
    piece: Commission,
    last_day: LastDayForm | None = None,
    status: int = 200,
) -> HttpResponse:
    is_asked = "found" in request.GET
    page = commission_page.look(piece, request.viewer, timezone.localdate(), is_asked=is_asked)
    context = {"page": page, "commission": piece, "last_day": last_day}
    return render(request, "catalogue/commissions/page.html", context, status=status)


def _edit(request: YardRequest, known: Commission | None) -> HttpResponse:
    system = request.viewer.system
    seen = _mark(known) if known else ""
    form = CommissionForm(
        request.POST or None, instance=known, system=system, initial=_initial(request, known)
    )
    if form.is_valid() and request.POST.get("seen", seen) != seen:
        form.add_error(None, CHANGED)
    if form.is_valid():
        saved = form.save()
        promises.name_again(saved)
        messages.success(request, f"{saved.title} is written down.")
        return HttpResponseRedirect(saved.get_absolute_url(), status=303)
    context = {"form": form, "known": known, "seen": seen}
    status = 422 if form.is_bound else 200
    return render(request, "catalogue/commissions/form.html", context, status=status)


CHANGED = (
    "This piece was changed on another screen since you opened it. Keep the changes again to put "
    "yours in place of those, or leave it to see how it stands now."
)


def _mark(piece: Commission) -> str:
    """Another mark as soon as anything that the form asks is another."""
    told = [str(field.value_from_object(piece)) for field in piece._meta.concrete_fields]
    told += sorted(str(one.pk) for one in piece.species.all())
    return hashlib.blake2b("\0".join(told).encode(), digest_size=8).hexdigest()


def _initial(request: YardRequest, known: Commission | None) -> dict[str, object]:
    """A new commission begun from a client's page is for that client."""
    asked = whole_number(request.GET.get("client"))
    if known is not None or asked is None:
        return {}
    return {"client": Client.objects.filter(pk=asked).first()}
