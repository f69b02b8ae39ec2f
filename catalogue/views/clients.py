"""Clients: whom the workshop builds for."""

from django.contrib import messages
from django.db.models import Count, Q
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from catalogue.forms.commissions import ClientForm
from catalogue.models import Client, Stage
from inventory.access import needs
from inventory.viewer import YardRequest


@require_safe
@needs("keep_commission")
def clients(request: YardRequest) -> HttpResponse:
    """Everybody, with how many commissions are open."""
    rows = Client.objects.annotate(
        open=Count("commissions", filter=Q(commissions__stage=Stage.OPEN)),
        closed=Count("commissions", filter=~Q(commissions__stage=Stage.OPEN)),
    )
    return render(request, "catalogue/clients/list.html", {"clients": rows})


@require_safe
@needs("keep_commission")
def client(request: YardRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Client, pk=pk)
    context = {"client": found, "commissions": found.commissions.order_by("-made_at")}
    return render(request, "catalogue/clients/client.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@needs("keep_commission")
def client_new(request: YardRequest) -> HttpResponse:
    return _edit(request, None)


@require_http_methods(["GET", "HEAD", "POST"])
@needs("keep_commission")
def client_edit(request: YardRequest, pk: int) -> HttpResponse:
    return _edit(request, get_object_or_404(Client, pk=pk))


def _edit(request: YardRequest, known: Client | None) -> HttpResponse:
    form = ClientForm(request.POST or None, instance=known)
    if form.is_valid():
        saved = form.save()
        messages.success(request, f"{saved.name} is written down.")
        return HttpResponseRedirect(reverse("catalogue:client", args=[saved.pk]), status=303)
    context = {"form": form, "known": known}
    status = 422 if form.is_bound else 200
    return render(request, "catalogue/clients/form.html", context, status=status)
