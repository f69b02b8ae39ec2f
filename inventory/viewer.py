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
from django_htmx.middleware import HtmxDetails

from inventory.models import Person

CLIENT_VIEW = "client_view"


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
    """The person, their units, and whether the client view is on."""

    person: Person | AnonymousUser
    client_view: bool = False
    system: str = "imperial"

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
    return Viewer(person, client_view, system)


class ViewerMiddleware:
    """Puts `request.viewer` on every request."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        cast("YardRequest", request).viewer = viewer_of(request)
        return self.get_response(request)


def viewer_in_templates(request: HttpRequest) -> dict[str, Any]:
    return {"viewer": getattr(request, "viewer", None) or Viewer(AnonymousUser())}
