"""Parcels and their bills: what was bought, from whom, and what it cost landed."""

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory import parcel_book
from inventory import parcels as rules
from inventory.access import needs
from inventory.asked import words_asked
from inventory.forms.parcels import BasisForm, BillForm, CorrectionForm, ParcelForm
from inventory.models import CostKind, Parcel, ParcelCost, SplitBasis
from inventory.viewer import YardRequest

PARCELS_A_PAGE = 30
SLABS_A_PAGE = 60
show_or_take = require_http_methods(["GET", "HEAD", "POST"])


@require_safe
@needs("keep_parcels")
def parcels(request: YardRequest) -> HttpResponse:
    words = words_asked(request.GET.get("q"))
    page = Paginator(parcel_book.found(words), PARCELS_A_PAGE).get_page(request.GET.get("page"))
    rows = parcel_book.rows_of(list(page.object_list))
    context = {"page": page, "rows": rows, "words": words}
    return render(request, "inventory/parcels/list.html", context)


@require_safe
@needs("keep_parcels")
def parcel(request: YardRequest, pk: int) -> HttpResponse:
    one = get_object_or_404(Parcel, pk=pk)
    split = rules.splits([one.pk])[one.pk]
    slabs = one.slabs.select_related("species", "log").order_by(
        "log__number", "number_in_log", "code"
    )
    page = Paginator(slabs, SLABS_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "row": parcel_book.rows_of([one])[0],
        "kinds": parcel_book.costs_by_kind(one),
        "split": split,
        "page": page,
        "slabs": [(slab, split.shares[slab.pk], slab.pk in split.without_weight) for slab in page],
        "logs": parcel_book.logs_of(one),
        "basis_form": BasisForm(initial={"split_basis": one.split_basis}),
    }
    return render(request, "inventory/parcels/page.html", context)


@show_or_take
@needs("keep_parcels")
def parcel_new(request: YardRequest) -> HttpResponse:
    today = timezone.localdate()
    form = ParcelForm(_typed(request), today=today, initial={"bought_on": today})
    if form.is_bound and form.is_valid():
        made = form.save()
        messages.success(request, f"{made} is in the book: add its bills and its logs.")
        return redirect("inventory:parcel", made.pk)
    return form_page(request, form, "A new parcel", "Put it in the book")


@show_or_take
@needs("keep_parcels")
def parcel_edit(request: YardRequest, pk: int) -> HttpResponse:
    one = get_object_or_404(Parcel, pk=pk)
    form = ParcelForm(_typed(request), today=timezone.localdate(), instance=one)
    if form.is_bound and form.is_valid():
        rules.keep(form.save(commit=False))
        messages.success(request, f"{one} is up to date.")
        return redirect("inventory:parcel", pk)
    title = f"Edit {Parcel.objects.get(pk=pk)}"
    return form_page(request, form, title, "Keep these changes", parcel=one)


@require_POST
@needs("keep_parcels")
def parcel_basis(request: YardRequest, pk: int) -> HttpResponse:
    """Split the cost by something else, from the parcel's own page."""
    one = get_object_or_404(Parcel, pk=pk)
    form = BasisForm(request.POST)
    if not form.is_valid():
        messages.warning(request, "Choose one of the ways to split the cost.")
        return redirect("inventory:parcel", pk)
    changed = rules.change_basis(one, SplitBasis(form.cleaned_data["split_basis"]))
    words = "slab’s cost has" if changed == 1 else "slabs’ costs have"
    basis = one.get_split_basis_display().lower()
    messages.success(request, f"The cost is split by {basis}: {changed} {words} changed.")
    return redirect("inventory:parcel", pk)


@show_or_take
@needs("keep_parcels")
def cost_add(request: YardRequest, pk: int) -> HttpResponse:
    one = get_object_or_404(Parcel, pk=pk)
    today = timezone.localdate()
    form = BillForm(_typed(request), parcel=one, today=today, initial={"on": today})
    if form.is_bound and form.is_valid():
        rules.add_cost(one, **_bill(form), by=request.user)
        messages.success(request, "The bill is in the book, and each slab carries its share.")
        return redirect("inventory:parcel", pk)
    return form_page(request, form, f"A bill for {one}", "Put it in the book", parcel=one)


@show_or_take
@needs("keep_parcels")
def cost_correct(request: YardRequest, pk: int) -> HttpResponse:
    wrong = get_object_or_404(ParcelCost.objects.select_related("parcel"), pk=pk)
    form = CorrectionForm(_typed(request), wrong=wrong, today=timezone.localdate())
    if form.is_bound and form.is_valid() and _corrected(request, wrong, form):
        messages.success(request, "The bill is corrected; what it said before stays readable.")
        return redirect("inventory:parcel", wrong.parcel_id)
    one = wrong.parcel
    return form_page(request, form, f"Correct a bill of {one}", "Correct it", parcel=one)


def form_page(
    request: YardRequest, form: Any, title: str, button: str, **context: Any
) -> HttpResponse:
    """The one form of a page; 422 when what came back cannot be taken."""
    full = {"form": form, "title": title, "button": button, **context}
    return render(
        request, "inventory/parcels/form.html", full, status=422 if form.is_bound else 200
    )


def _typed(request: YardRequest) -> Any:
    return request.POST if request.method == "POST" else None


def _bill(form: BillForm) -> dict[str, Any]:
    said = form.cleaned_data
    return {
        "kind": CostKind(said["kind"]),
        "amount": said["amount"],
        "on": said["on"],
        "note": said["note"],
    }


def _corrected(request: YardRequest, wrong: ParcelCost, form: CorrectionForm) -> bool:
    try:
        rules.correct_cost(wrong, **_bill(form), by=request.user)
    except rules.ParcelProblem as problem:
        form.add_error(None, str(problem))
        return False
    return True
