"""What may be done to a slab from its page, by permission: one table."""

from dataclasses import dataclass

from django.urls import reverse

from inventory.models import Slab, Standing
from inventory.viewer import Viewer


@dataclass(frozen=True)
class SlabAction:
    """A page about one slab. `needs` is a permission's codename; "" is for any of the staff."""

    words: str
    url_name: str
    icon: str
    needs: str
    for_gone: bool = False
    for_here: bool = True

    def fits(self, slab: Slab) -> bool:
        return self.for_gone if slab.standing == Standing.GONE else self.for_here


ACTIONS = (
    SlabAction("Check moisture", "inventory:check_new", "moisture", "log_moisture"),
    SlabAction("Weigh", "inventory:weigh_new", "moisture", "log_moisture"),
    SlabAction("Move", "inventory:slab_move", "places", "move_slab"),
    SlabAction("Pictures", "inventory:slab_photos", "camera", "record_slab"),
    SlabAction("Trace its outline", "inventory:outline_start", "mark", "record_slab"),
    SlabAction("Measure", "inventory:slab_measure", "slabs", "record_slab"),
    SlabAction("Price", "inventory:slab_price", "worth", "price_slab"),
    SlabAction("Ledger", "inventory:slab_ledger", "today", "", for_gone=True),
    SlabAction("Label", "inventory:slab_label", "print", "record_slab"),
    SlabAction("Mark as gone", "inventory:slab_gone", "standing-gone", "dispose_slab"),
    SlabAction(
        "Back in stock",
        "inventory:slab_gone",
        "back",
        "dispose_slab",
        for_gone=True,
        for_here=False,
    ),
)


@dataclass(frozen=True)
class ActionLink:
    words: str
    url: str
    icon: str


def links(slab: Slab, viewer: Viewer) -> list[ActionLink]:
    """The doors open to this viewer for this slab; none in the client view."""
    if not viewer.sees_house:
        return []
    found = []
    for action in ACTIONS:
        if not action.fits(slab):
            continue
        if action.needs and not viewer.can(action.needs):
            continue
        url = reverse(action.url_name, args=[slab.code])
        found.append(ActionLink(action.words, url, action.icon))
    return found
