"""Who is looking, and what may be shown to them: the one object every page asks.

With the client view on, a person sees what a client may see and can change nothing, whatever
their own rights: no cost, no supplier, no house note, no name another slab is kept for.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, cast

from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest, HttpResponse
from django.utils.cache import patch_cache_control
from django.utils.crypto import salted_hmac
from django_htmx.middleware import HtmxDetails

from inventory.models import Person

CLIENT_VIEW = "client_view"
SEEN_BY = "seen_by"


class YardRequest(HttpRequest):
    """A request as the views of both apps receive it: signed in, with its viewer."""

    user: Person
    viewer: "Viewer"
    htmx: HtmxDetails


@dataclass(frozen=True)
class May:
    """`viewer.may.hold_slab` in a template: may they, now?"""

    codenames: frozenset[str] = field(default_factory=frozenset)

    def __getitem__(self, codename: str) -> bool:
        return codename in self.codenames


@dataclass(frozen=True)
class Viewer:
    """The person, their units, and whether the client view is on.

    `stamp` is another for every signing in and for either side of the client view's switch; empty
    when nobody is signed in.
    """

    person: Person | AnonymousUser
    client_view: bool = False
    system: str = "imperial"
    stamp: str = ""

    @property
    def may(self) -> May:
        """What this viewer may do now, by codename; nothing in the client view."""
        if self.client_view or not self.person.is_authenticated:
            return May()
        names = self.person.get_all_permissions()
        return May(frozenset(name.rsplit(".", 1)[-1] for name in names))

    def can(self, codename: str) -> bool:
        return self.may[codename]

    @property
    def sees_cost(self) -> bool:
        """Landed cost, supplier, budgets, worth."""
        return self.can("see_cost")

    @property
    def sees_house(self) -> bool:
        """House notes, and whom a slab is kept for."""
        return self.person.is_authenticated and not self.client_view


def viewer_of(request: HttpRequest) -> Viewer:
    person = request.user
    own = person.length_system if isinstance(person, Person) else ""
    system = own or settings.UNITS
    client_view = bool(person.is_authenticated and request.session.get(CLIENT_VIEW))
    return Viewer(person, client_view, system, _stamp(request, client_view))


def _stamp(request: HttpRequest, client_view: bool) -> str:
    if not request.user.is_authenticated:
        return ""
    said = f"{request.session.session_key}/{client_view}"
    return salted_hmac("inventory.viewer.stamp", said).hexdigest()[:16]


class ViewerMiddleware:
    """Puts `request.viewer` on every request, and keeps its pages from whoever looks next.

    A tablet goes from hand to hand: the client turns back a page, or somebody else signs in. What
    browsers keep is held by three things. Pages are kept for nobody (those of people who see costs
    not even for turning back). A cookie bears the stamp of whoever looks now, so a page that comes
    back out of the browser's memory sees that it is another's and asks anew (static/js/site.js).
    And since every answer varies by cookie, pictures kept for a year are asked for again too.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        viewer = viewer_of(request)
        cast("YardRequest", request).viewer = viewer
        response = self.get_response(request)
        if viewer.stamp and not response.has_header("Cache-Control"):
            kept = {"no_store": True} if viewer.sees_cost else {}
            patch_cache_control(response, private=True, no_cache=True, **kept)
        # Asked again: signing in, signing out and the client view's switch have changed it.
        _keep_stamp(request, response, viewer_of(request).stamp)
        return response


def _keep_stamp(request: HttpRequest, response: HttpResponse, stamp: str) -> None:
    if stamp == request.COOKIES.get(SEEN_BY, ""):
        return
    if not stamp:
        response.delete_cookie(SEEN_BY, samesite="Lax")
        return
    response.set_cookie(
        SEEN_BY,
        stamp,
        max_age=settings.SESSION_COOKIE_AGE,
        secure=settings.SESSION_COOKIE_SECURE,
        samesite="Lax",
    )


def viewer_in_templates(request: HttpRequest) -> dict[str, Any]:
    return {"viewer": getattr(request, "viewer", None) or Viewer(AnonymousUser())}
