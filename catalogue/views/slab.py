"""One slab's page, and slabs side by side."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from catalogue.comparing import compare as compare_slabs
from catalogue.filters import listable
from catalogue.sheet import sheet_of
from inventory.access import fetch_slab
from inventory.viewer import YardRequest


@require_safe
def slab(request: YardRequest, code: str) -> HttpResponse:
    """Everything about one slab this viewer may read; printed, its sheet."""
    slabs = listable(request.viewer).for_cards().select_related("parcel", "log__parcel")
    found = fetch_slab(code, slabs)
    asked = request.GET.get("for", "")
    sheet = sheet_of(found, request.viewer, timezone.localdate(), asked)
    return render(request, "catalogue/slab/page.html", {"sheet": sheet, "slab": found})


@require_safe
def compare(request: YardRequest) -> HttpResponse:
    """Two to four slabs to one common scale, as `?slab=K7M4Q&slab=…` names them."""
    comparison = compare_slabs(request.GET, request.viewer)
    return render(request, "catalogue/compare/page.html", {"comparison": comparison})
