"""Looking through the slabs: one address for the page, its refreshed middle, and more cards."""

from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_safe
from django_htmx.http import HttpResponseClientRedirect

from catalogue import browsing
from catalogue.filters import listable
from catalogue.searching import slab_asked_for
from inventory.access import is_fragment
from inventory.viewer import YardRequest

# What htmx says it will replace → the template that replaces it.
FRAGMENTS = {"browse": "catalogue/browse/middle.html", "more": "catalogue/browse/more.html"}


@require_safe
def browse(request: YardRequest) -> HttpResponse:
    """Slabs by what the address asks; a code typed whole goes straight to its slab."""
    slab = slab_asked_for(request.GET.get("q", ""), listable(request.viewer))
    if slab is not None:
        return _go_to(request, slab.get_absolute_url())
    template = "catalogue/browse/page.html"
    if is_fragment(request):
        template = FRAGMENTS.get(request.htmx.target or "", template)
    elif _has_empty_answers(request):
        return HttpResponseRedirect(browsing.query(dict(request.GET.lists())))
    only_new = template == FRAGMENTS["more"]
    today = timezone.localdate()
    looked = browsing.look(request.GET, request.viewer, on=today, only_new=only_new)
    response = render(request, template, {"browse": looked})
    patch_vary_headers(response, ["HX-Request", "HX-Target"])
    return response


def _has_empty_answers(request: YardRequest) -> bool:
    """A form sent without JavaScript names every empty field: such an address is tidied."""
    return any(value == "" for _, values in request.GET.lists() for value in values)


def _go_to(request: YardRequest, url: str) -> HttpResponse:
    if is_fragment(request):
        return HttpResponseClientRedirect(url)
    return HttpResponseRedirect(url)
