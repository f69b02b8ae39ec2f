"""Groups of tick boxes on the browse page: what each narrows to, and what each choice would show.

The number beside a choice is what the page would list if that choice stood alone in its own group
with every other group as it is. It is counted by one GROUP BY a group over the covering index
`slab_browse`, so the number of queries does not grow with the yard.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import Case, CharField, Count, Q, Value, When

from inventory import worth
from inventory.models import Condition, Figure, Place, Sawn, Species, Standing
from inventory.models.slab import SlabQuerySet
from inventory.viewer import Viewer

IN_STOCK = (Standing.FREE, Standing.HELD, Standing.ALLOTTED)
KEPT = "kept"
NOWHERE = "none"


@dataclass(frozen=True)
class Group:
    """Any of the ticked choices is wanted; none ticked means `when_none`, or all.

    `choices` is address value → words; `stored` is address value → what the column may hold,
    where that is not the value itself.
    """

    name: str
    words: str
    column: str
    choices: dict[str, str]
    stored: dict[str, tuple[Any, ...]] = field(default_factory=dict)
    when_none: tuple[Any, ...] = ()
    note: str = ""
    hides_empty: bool = False

    def held_by(self, value: str) -> tuple[Any, ...]:
        return self.stored.get(value, (value,))

    def read(self) -> "str | Case":
        """What `summed` counts by, to be read with a slab."""
        return self.column

    def narrow(self, slabs: SlabQuerySet, chosen: list[str]) -> SlabQuerySet:
        wanted = [held for value in chosen for held in self.held_by(value)] or self.when_none
        if not wanted:
            return slabs
        condition = Q(**{f"{self.column}__in": [held for held in wanted if held is not None]})
        if None in wanted:
            condition |= Q(**{f"{self.column}__isnull": True})
        return slabs.filter(condition)

    def count(self, slabs: SlabQuerySet) -> dict[str, int]:
        """How many of `slabs` (this group not applied) each choice alone would show."""
        return self.summed(dict(slabs.order_by().values_list(self.column).annotate(n=Count("*"))))

    def summed(self, counted: Mapping[Any, int]) -> dict[str, int]:
        """By choice, from how many slabs hold each value in the column."""
        return {
            value: sum(counted.get(held, 0) for held in self.held_by(value))
            for value in self.choices
        }


@dataclass(frozen=True)
class FigureGroup(Group):
    """A slab may have several figures, stored as `|burl|curl|`; one with any that is ticked."""

    def narrow(self, slabs: SlabQuerySet, chosen: list[str]) -> SlabQuerySet:
        condition = Q()
        for value in chosen:
            condition |= Q(**{f"{self.column}__contains": f"|{value}|"})
        return slabs.filter(condition)

    def summed(self, counted: Mapping[Any, int]) -> dict[str, int]:
        return {
            value: sum(n for words, n in counted.items() if f"|{value}|" in words)
            for value in self.choices
        }


@dataclass(frozen=True)
class BandGroup(Group):
    """Choices that are stretches of a column and none of its values."""

    bands: dict[str, Q] = field(default_factory=dict)

    def narrow(self, slabs: SlabQuerySet, chosen: list[str]) -> SlabQuerySet:
        condition = Q()
        for value in chosen:
            condition |= self.bands[value]
        return slabs.filter(condition)

    def count(self, slabs: SlabQuerySet) -> dict[str, int]:
        counts = {f"in_{value}": Count("pk", filter=band) for value, band in self.bands.items()}
        found = slabs.order_by().aggregate(**counts)
        return {value: found[f"in_{value}"] for value in self.choices}

    def read(self) -> Case:
        whens = [When(band, then=Value(value)) for value, band in self.bands.items()]
        return Case(*whens, output_field=CharField())


def groups_for(viewer: Viewer, on: date | None = None) -> list[Group]:
    """The groups this viewer may use, in the order shown, species first. Two queries: names.

    How long a slab has been here can only be asked where the day is known.
    """
    groups = [species(), condition(), standing(viewer), figure(), sawn()]
    if viewer.sees_house:
        groups.append(place())
    if viewer.sees_cost:
        groups += [priced(), *([age(on)] if on else [])]
    return groups


def species() -> Group:
    names = Species.objects.by_name().values_list("pk", "common_name")
    choices = {str(pk): name for pk, name in names}
    stored = {value: (int(value),) for value in choices}
    return Group("species", "Species", "species_id", choices, stored, hides_empty=True)


def condition() -> Group:
    return Group("condition", "How dry", "condition", dict(Condition.choices))


def standing(viewer: Viewer) -> Group:
    """A client sees what is free and what is kept for somebody; gone wood is out of sight."""
    if viewer.client_view:
        choices = {Standing.FREE.value: "Free", KEPT: "Kept for somebody"}
        stored = {KEPT: (Standing.HELD, Standing.ALLOTTED)}
        return Group("standing", "Whose", "standing", choices, stored, IN_STOCK)
    note = "None ticked: all that is in stock (free, held or allotted)."
    return Group(
        "standing", "Whose", "standing", dict(Standing.choices), when_none=IN_STOCK, note=note
    )


def figure() -> Group:
    return FigureGroup("figure", "Figure", "figure_words", dict(Figure.choices))


def sawn() -> Group:
    choices = {value or "unknown": words for value, words in Sawn.choices}
    return Group("sawn", "How it was sawn", "sawn", choices, {"unknown": ("",)})


def place() -> Group:
    choices = {str(pk): name for pk, name in Place.objects.values_list("pk", "name")}
    stored: dict[str, tuple[Any, ...]] = {value: (int(value),) for value in choices}
    choices[NOWHERE] = "No place yet"
    return Group("place", "Place", "place_id", choices, stored | {NOWHERE: (None,)})


def priced() -> Group:
    return BandGroup(
        "priced",
        "Price",
        "asking_price",
        {"yes": "Has an asking price", "no": "No price yet"},
        bands={value: Q(asking_price__isnull=value == "no") for value in ("yes", "no")},
    )


def age(on: date) -> Group:
    """How long in stock, in the stretches that the worth of the stock is summed by."""
    bounds = [worth.received_before(on, years) for years in range(1, len(worth.AGES))]
    since = [Q(received_at__gte=bound) for bound in bounds] + [Q()]
    before = [Q()] + [Q(received_at__lt=bound) for bound in bounds]
    return BandGroup(
        "age",
        "Time in stock",
        "received_at",
        {str(index): words for index, words in enumerate(worth.AGES)},
        bands={str(i): both[0] & both[1] for i, both in enumerate(zip(since, before, strict=True))},
    )
