"""Doors: the few fetchers and guards every view goes through."""

from collections.abc import Callable
from functools import wraps
from typing import Any, Concatenate, ParamSpec, cast

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse

from inventory import codes
from inventory.models import Slab
from inventory.models.slab import SlabQuerySet
from inventory.viewer import YardRequest

P = ParamSpec("P")
View = Callable[Concatenate[YardRequest, P], HttpResponse]


def needs(
    codename: str,
) -> Callable[[View[P]], Callable[Concatenate[HttpRequest, P], HttpResponse]]:
    """Guard a view by a permission's codename; the client view opens no guarded door.

    Raises:
        PermissionDenied: with the sentence the 403 page shows.
    """

    def guard(view: View[P]) -> Callable[Concatenate[HttpRequest, P], HttpResponse]:
        @wraps(view)
        def guarded(request: HttpRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
            yard_request = cast("YardRequest", request)
            if not yard_request.viewer.can(codename):
                raise PermissionDenied(refusal(yard_request))
            return view(yard_request, *args, **kwargs)

        guarded.needs = codename  # type: ignore[attr-defined]
        return cast("Callable[Concatenate[HttpRequest, P], HttpResponse]", guarded)

    return guard


def for_house(view: View[P]) -> Callable[Concatenate[HttpRequest, P], HttpResponse]:
    """Guard a view that everybody of the house may read, and no client.

    Raises:
        PermissionDenied: with the sentence the 403 page shows.
    """

    @wraps(view)
    def guarded(request: HttpRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        yard_request = cast("YardRequest", request)
        if not yard_request.viewer.sees_house:
            raise PermissionDenied(refusal(yard_request))
        return view(yard_request, *args, **kwargs)

    return cast("Callable[Concatenate[HttpRequest, P], HttpResponse]", guarded)


def refusal(request: YardRequest) -> str:
    if request.viewer.client_view:
        return "The client view is on: turn it off to work on the record."
    return "This part of the yard is not among your duties. Ask the owner if it should be."


def fetch_slab(code: str, slabs: SlabQuerySet | None = None) -> Slab:
    """The slab of that code, typed in any of the ways people type it.

    Raises:
        Http404: with a sentence, when the code is malformed or no slab bears it.
    """
    try:
        clean = codes.normalise(code)
    except codes.CodeProblem as problem:
        raise Http404(str(problem)) from problem
    slab = (Slab.objects.for_cards() if slabs is None else slabs).filter(code=clean).first()
    if slab is None:
        raise Http404(f"No slab here bears the code {codes.display(clean)}.")
    return slab


def is_fragment(request: Any) -> bool:
    """Whether htmx asks for a part of the page (and not for history's whole page)."""
    return bool(request.htmx) and not request.htmx.history_restore_request
