"""The worker's round: which slabs want a check, why, and which comes next on the way."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Count

from inventory.models import Bay, Condition, Place, Slab
from inventory.models.slab import SlabQuerySet
from inventory.words import day_words


@dataclass(frozen=True)
class Choice:
    """A place or bay with how many of its slabs are due."""

    pk: int
    name: str
    due: int
    is_chosen: bool


@dataclass(frozen=True)
class Next:
    """The slab to go to after this one, and whether it is due."""

    slab: Slab
    is_due: bool
    is_same_bay: bool


_WHY = {
    Condition.READY: "Ready: its check is about to grow too old",
    Condition.RESTING: "Dry enough: see whether it is steady",
    Condition.DRYING: "Drying: see how far it has come",
    Condition.GREEN: "Green: see how far it has come",
    Condition.TOO_DRY: "Too dry: see whether it has come up",
    Condition.UNKNOWN: "Its last check does not tell how dry it is",
}


def due(on: date, place: int | None = None, bay: int | None = None) -> SlabQuerySet:
    """Slabs due a check on a day in walking order, in one place or bay when named."""
    slabs = Slab.objects.due_for_check(on=on)
    if place is not None:
        slabs = slabs.filter(place=place)
    if bay is not None:
        slabs = slabs.filter(bay=bay)
    return slabs


def why_due(slab: Slab, on: date) -> str:
    """One sentence on why the slab wants a check."""
    if slab.checked_on is None:
        return "Never checked."
    ago = (on - slab.checked_on).days
    when = "today" if ago == 0 else f"on {day_words(slab.checked_on, on)}"
    return f"{_WHY[Condition(slab.condition)]}. Last checked {when}."


def place_choices(on: date, chosen: int | None) -> list[Choice]:
    """Places with slabs due, in walking order. One query."""
    counts = _due_by(on, "place")
    places = Place.objects.filter(pk__in=counts)
    return [Choice(p.pk, p.name, counts[p.pk], p.pk == chosen) for p in places]


def bay_choices(on: date, place: int, chosen: int | None) -> list[Choice]:
    """Bays of a place with slabs due, in walking order."""
    counts = _due_by(on, "bay")
    bays = Bay.objects.filter(place=place, pk__in=counts).order_by("position", "name")
    return [Choice(b.pk, b.name, counts[b.pk], b.pk == chosen) for b in bays]


def next_after(slab: Slab, on: date) -> Next | None:
    """Where to go from this slab: the next due in its bay, else in its place, else beside it.

    Two or three queries, whatever the size of the yard.
    """
    place = Slab.objects.in_stock().filter(place=slab.place_id)
    rest = _rest_of_bay(slab, place)
    due_here = next((pk for pk, due_on in rest if due_on is None or due_on <= on), None)
    if due_here is not None:
        return _next(due_here, is_due=True, is_same_bay=True)
    elsewhere = place.due_for_check(on=on).exclude(pk=slab.pk).values_list("pk", flat=True).first()
    if elsewhere is not None:
        return _next(elsewhere, is_due=True, is_same_bay=False)
    return _next(rest[0][0], is_due=False, is_same_bay=True) if rest else None


def _rest_of_bay(slab: Slab, place: SlabQuerySet) -> list[tuple[int, date | None]]:
    """The other slabs of the bay with their due days, walking on from this one and round again."""
    bay = place.filter(bay=slab.bay_id).in_walking_order()
    rows = list(bay.values_list("pk", "check_due_on"))
    here = next((at for at, (pk, _) in enumerate(rows) if pk == slab.pk), -1)
    return rows[here + 1 :] + rows[: max(here, 0)]


def _next(pk: int, *, is_due: bool, is_same_bay: bool) -> Next:
    return Next(Slab.objects.for_cards().get(pk=pk), is_due, is_same_bay)


def _due_by(on: date, name: str) -> dict[int, int]:
    """How many slabs are due, by the key of their place or bay."""
    rows = Slab.objects.due_for_check(on=on).order_by().values_list(name).annotate(Count("pk"))
    return {pk: count for pk, count in rows if pk is not None}
