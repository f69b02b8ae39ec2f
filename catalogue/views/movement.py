"""How a commission's top will move."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from catalogue import commission_movement
from catalogue.forms.movement import CommissionMovementForm
from catalogue.models import Commission
from inventory.access import needs
from inventory.viewer import YardRequest


@require_safe
@needs("keep_commission")
def commission_movement_page(request: YardRequest, pk: int) -> HttpResponse:
    whole = Commission.objects.select_related("client").prefetch_related("species")
    piece = get_object_or_404(whole, pk=pk)
    woods = commission_movement.woods_of(piece)
    system = request.viewer.system
    form = CommissionMovementForm(
        request.GET,
        made_pct=commission_movement.made_pct(piece),
        asks_species=not woods,
        system=system,
    )
    is_valid = form.is_valid()
    context: dict[str, Any] = {
        "commission": piece,
        "form": form,
        "notes": commission_movement.notes(piece, system),
        "is_valid": is_valid,
    }
    if is_valid:
        context |= commission_movement.page(piece, form, woods)
    status = 200 if is_valid else 422
    return render(request, "catalogue/commissions/movement.html", context, status=status)
