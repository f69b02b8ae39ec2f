"""Warnings: those open, those settled lately, setting one aside and taking it up again."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from inventory import alert_lists, watch
from inventory.access import for_house, refusal
from inventory.forms.alerts import SetAsideForm
from inventory.models import Alert
from inventory.viewer import YardRequest


@require_safe
@for_house
def warnings(request: YardRequest) -> HttpResponse:
    return _page(request)


@require_POST
@for_house
def warning_set_aside(request: YardRequest, pk: int) -> HttpResponse:
    """With a reason; a reason that is no reason comes back beside its field."""
    alert = _fetch(request, pk)
    form = SetAsideForm(request.POST, alert=alert)
    if not form.is_valid():
        return _page(request, (alert.pk, form))
    try:
        watch.set_aside(
            alert, by=request.user, reason=form.cleaned_data["reason"], now=timezone.now()
        )
    except ValidationError as problem:
        messages.warning(request, " ".join(problem.messages))
    else:
        messages.success(request, "The warning is set aside.")
    return redirect("inventory:warnings")


@require_POST
@for_house
def warning_take_up(request: YardRequest, pk: int) -> HttpResponse:
    alert = _fetch(request, pk)
    try:
        watch.take_up(alert)
    except ValidationError as problem:
        messages.warning(request, " ".join(problem.messages))
    else:
        messages.success(request, "The warning stands again.")
    return redirect("inventory:warnings")


def _fetch(request: YardRequest, pk: int) -> Alert:
    """The warning, for whoever tends its subject."""
    alert = get_object_or_404(Alert, pk=pk)
    if not request.viewer.can(alert.needs):
        raise PermissionDenied(refusal(request))
    return alert


def _page(request: YardRequest, refused: tuple[int, SetAsideForm] | None = None) -> HttpResponse:
    page = alert_lists.open_page(request.GET.get("page"))
    context = {
        "page": page,
        "groups": alert_lists.groups(page.object_list, request.viewer, refused),
        "settled": alert_lists.settled(request.viewer, timezone.localdate()),
    }
    status = 200 if refused is None else 422
    return render(request, "inventory/alerts/page.html", context, status=status)
