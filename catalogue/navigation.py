"""The rooms of the house a viewer may enter, in the order they are shown."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from django.urls import reverse

from inventory.viewer import Viewer


@dataclass(frozen=True)
class Room:
    words: str
    url_name: str
    icon: str
    needs: str = ""
    hidden_from_clients: bool = True

    @property
    def url(self) -> str:
        return reverse(self.url_name)

    def holds(self, path: str) -> bool:
        """Whether that address lies in this room; the front door is only itself."""
        return path == self.url if self.url == "/" else path.startswith(self.url)

    def is_open_to(self, viewer: Viewer) -> bool:
        if viewer.client_view and self.hidden_from_clients:
            return False
        return not self.needs or viewer.can(self.needs)


ROOMS = (
    Room("Today", "catalogue:today", "today"),
    Room("Slabs", "catalogue:browse", "slabs", hidden_from_clients=False),
    Room("Commissions", "catalogue:commissions", "commissions", "keep_commission"),
    Room("Moisture", "inventory:check_round", "moisture", "log_moisture"),
    Room("Places", "inventory:places", "places"),
    Room("Parcels", "inventory:parcels", "parcels", "keep_parcels"),
    Room("Worth", "inventory:worth", "worth", "see_cost"),
)


# How many rooms the bar at the foot of a phone has space for; the later ones go under "More".
ON_A_PHONE = 5


@dataclass(frozen=True)
class Door:
    """A room as the menu shows it; a late one stands under "More" on a phone."""

    words: str
    url: str
    icon: str
    is_current: bool
    is_late: bool


def doors(viewer: Viewer, path: str) -> list[Door]:
    open_rooms = [room for room in ROOMS if room.is_open_to(viewer)]
    best = max((room.url for room in open_rooms if room.holds(path)), key=len, default="")
    crowded = len(open_rooms) > ON_A_PHONE
    return [
        Door(r.words, r.url, r.icon, r.url == best, crowded and place >= ON_A_PHONE - 1)
        for place, r in enumerate(open_rooms)
    ]


def navigation(request: HttpRequest) -> dict[str, Any]:
    viewer = getattr(request, "viewer", None)
    if viewer is None or not viewer.person.is_authenticated:
        return {"doors": [], "late_doors": []}
    every = doors(viewer, request.path)
    return {"doors": every, "late_doors": [door for door in every if door.is_late]}
