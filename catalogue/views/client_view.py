"""The one switch between what the house sees and what a client may see."""

from urllib.parse import urlsplit

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import Resolver404, resolve, reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from inventory.viewer import CLIENT_VIEW, YardRequest

OPEN_TO_CLIENTS = ("catalogue:browse", "catalogue:slab", "catalogue:compare")


@require_POST
def client_view(request: YardRequest) -> HttpResponse:
    """Turn the client view on (`on=yes`) or off; it stays so until turned or signed out."""
    turned_on = request.POST.get("on") == "yes"
    request.session[CLIENT_VIEW] = turned_on
    return HttpResponseRedirect(_back_to(request, turned_on))


def _back_to(request: YardRequest, turned_on: bool) -> str:
    """The page one was on, unless it is not for clients."""
    came_from = request.POST.get("next", "")
    if not url_has_allowed_host_and_scheme(came_from, {request.get_host()}):
        return reverse("catalogue:browse")
    if turned_on and _page_at(came_from) not in OPEN_TO_CLIENTS:
        return reverse("catalogue:browse")
    return came_from


def _page_at(address: str) -> str:
    try:
        return resolve(urlsplit(address).path).view_name
    except Resolver404:
        return ""
