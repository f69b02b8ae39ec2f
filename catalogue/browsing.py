"""The browse page: from what the address says to what is shown, in a fixed number of queries."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from django.http import QueryDict

from catalogue.answers import Answers, answers_to
from catalogue.filters import NEWEST, SORTS, SlabFilter, sort_asked
from catalogue.groups import Group
from catalogue.silhouettes import Frame, Lying, frame_of, lying
from catalogue.slab_drawing import Silhouette, silhouette
from inventory.models import Slab
from inventory.templatetags.wood import money
from inventory.viewer import Viewer
from inventory.wood import measure

PAGE_SIZE = 24
MOST_PAGES = 10
# Not questions put to the yard, but where one has got to in the answer.
PLACE_KEEPERS = ("page", "pages")
OUTLINES = "outlines"


@dataclass(frozen=True)
class Card:
    """`lying` is the slab in the common frame, where the list is shown as outlines."""

    slab: Slab
    drawn: Silhouette | None
    lying: Lying | None = None


@dataclass(frozen=True)
class Choice:
    value: str
    words: str
    count: int
    is_chosen: bool


@dataclass(frozen=True)
class Facet:
    """One group with its choices counted."""

    group: Group
    choices: list[Choice]
    problems: list[str]

    @property
    def is_used(self) -> bool:
        return any(choice.is_chosen for choice in self.choices)


@dataclass(frozen=True)
class Chip:
    """One thing that was asked, and the address without it; `value` where it is one of a group."""

    words: str
    query: str
    name: str
    value: str = ""


@dataclass(frozen=True)
class Loosening:
    """An empty page's way out: leave this out and so many would show."""

    words: str
    query: str
    count: int


@dataclass(frozen=True)
class View:
    """A way of showing the list, and the address that shows it so."""

    words: str
    query: str
    is_chosen: bool


@dataclass(frozen=True)
class Stretch:
    """Which pages are shown: `pages` of them from `page` on, of `last`."""

    page: int
    pages: int
    last: int

    @property
    def end(self) -> int:
        return self.page + self.pages - 1

    @property
    def has_more(self) -> bool:
        return self.end < self.last

    @property
    def may_grow(self) -> bool:
        return self.pages < MOST_PAGES


@dataclass(frozen=True)
class Browse:
    """All the page shows. `*_query` are addresses beginning with `?`, or empty."""

    filter: SlabFilter
    cards: list[Card]
    total: int
    facets: list[Facet]
    chips: list[Chip]
    loosenings: list[Loosening]
    sort: str
    stretch: Stretch
    first_number: int
    all_query: str
    next_query: str
    grown_query: str
    earlier_query: str
    frame: Frame | None
    views: list[View]

    @property
    def sorts(self) -> list[tuple[str, str, bool]]:
        return [(name, words, name == self.sort) for name, (words, _) in SORTS.items()]

    @property
    def remaining(self) -> int:
        return self.total - self.stretch.end * PAGE_SIZE


def look(
    data: QueryDict, viewer: Viewer, *, on: date | None = None, only_new: bool = False
) -> Browse:
    """Filter, count, sort and page. `data` is the address; what it cannot mean is left out.

    `only_new` gives the cards of the last page alone, for a page that shows the others already;
    then only what the total needs is counted.
    """
    asked = SlabFilter(data, viewer, on)
    sort = sort_asked(data)
    answers = answers_to(asked, SORTS[sort][1])
    counted = asked.groups[:1] if only_new else asked.groups
    facets = [facet(asked, group, answers) for group in counted]
    total = total_of(facets)
    frame = frame_of(*answers.greatest_mm(), viewer.system) if is_outlines(data) and total else None
    stretch = stretch_asked(data, total)
    chips = chips_of(asked, data)
    return Browse(
        filter=asked,
        cards=_shown_as(frame, cards(answers, stretch, only_new=only_new)) if total else [],
        total=total,
        facets=[one for one in facets if one.choices],
        chips=chips,
        loosenings=[] if total else loosenings(asked, data, chips),
        sort=sort,
        stretch=stretch,
        first_number=(stretch.page - 1) * PAGE_SIZE + 1,
        all_query=query(_kept(data, sort)),
        next_query=paged(data, stretch.end + 1, 1),
        grown_query=paged(data, stretch.page, stretch.pages + 1),
        earlier_query=paged(data, 1, 1) if stretch.page > 1 else "",
        frame=frame,
        views=_views(data),
    )


def is_outlines(data: QueryDict) -> bool:
    return data.get("view") == OUTLINES


def _views(data: QueryDict) -> list[View]:
    """Pictures, or outlines to one scale: the same list from its first page."""
    now = is_outlines(data)
    pictures, outlines = ({**tidy(data), "view": view} for view in ([], [OUTLINES]))
    return [
        View("Pictures", query(pictures), not now),
        View("Outlines to one scale", query(outlines), now),
    ]


def _shown_as(frame: Frame | None, shown: list[Card]) -> list[Card]:
    if frame is None:
        return shown
    found = lying([one.slab for one in shown])
    return [replace(one, lying=found.get(one.slab.pk)) for one in shown]


def _kept(data: QueryDict, sort: str) -> dict[str, list[str]]:
    """What stays when every question is left out: the order, and how the list is shown."""
    kept = {"sort": [sort]} if sort != NEWEST else {}
    return kept | ({"view": [OUTLINES]} if is_outlines(data) else {})


def facet(asked: SlabFilter, group: Group, answers: Answers) -> Facet:
    """The group's choices with their counts, all other groups and fields applied."""
    counts = answers.counts(group)
    chosen = asked.asked(group.name) or []
    choices = [
        Choice(value, words, counts[value], value in chosen)
        for value, words in group.choices.items()
        if counts[value] or value in chosen or not group.hides_empty
    ]
    return Facet(group, choices, list(asked.form.errors.get(group.name, [])))


def total_of(facets: list[Facet]) -> int:
    """How many slabs are listed: every slab has one species, so its counts add up to them."""
    by_species = facets[0]
    return sum(one.count for one in by_species.choices if one.is_chosen or not by_species.is_used)


def cards(answers: Answers, stretch: Stretch, *, only_new: bool) -> list[Card]:
    """First the keys of the page, from an index; then only those rows with what a card shows."""
    first = stretch.end if only_new else stretch.page
    start, stop = (first - 1) * PAGE_SIZE, stretch.end * PAGE_SIZE
    keys = answers.keys(start, stop)
    by_key = Slab.objects.for_cards().in_bulk(keys)
    return [card(by_key[key]) for key in keys if key in by_key]


def card(slab: Slab) -> Card:
    return Card(slab, None if slab.cover_id else silhouette(slab))


def stretch_asked(data: QueryDict, total: int) -> Stretch:
    last = max(1, -(-total // PAGE_SIZE))
    page = min(_whole(data.get("page")), last)
    pages = min(_whole(data.get("pages")), MOST_PAGES, last - page + 1)
    return Stretch(page, pages, last)


def _whole(text: str | None) -> int:
    """A page number from an address; 1 for whatever is none."""
    return max(1, int(text)) if text and text.isascii() and text.isdigit() and len(text) < 6 else 1


def query(values: dict[str, Any]) -> str:
    """`?a=1&b=2`, or `?` for none: a bare `?` still clears what stood there."""
    address = QueryDict(mutable=True)
    for name, chosen in values.items():
        address.setlist(name, [value for value in chosen if value != ""])
    return f"?{address.urlencode()}"


def tidy(data: QueryDict) -> dict[str, list[str]]:
    """What was asked, without empty answers and without the place in the list."""
    asked = {name: [value for value in values if value] for name, values in data.lists()}
    return {name: values for name, values in asked.items() if values and name not in PLACE_KEEPERS}


def paged(data: QueryDict, page: int, pages: int) -> str:
    values = tidy(data)
    if page > 1:
        values["page"] = [str(page)]
    if pages > 1:
        values["pages"] = [str(pages)]
    return query(values)


def without(data: QueryDict, name: str, value: str | None = None) -> str:
    """The address with one answer, or one of a group's, left out."""
    values = tidy(data)
    values[name] = [one for one in values.get(name, []) if value is not None and one != value]
    return query(values)


def chips_of(asked: SlabFilter, data: QueryDict) -> list[Chip]:
    """One for every answer given and understood, in the order of the page."""
    chips = [
        Chip(words, without(data, name), name) for name, words in _fields_in_words(asked) if words
    ]
    for group in asked.groups:
        for value in asked.asked(group.name) or []:
            left = without(data, group.name, value)
            chips.append(Chip(group.choices[value], left, group.name, value))
    return chips


def _fields_in_words(asked: SlabFilter) -> Iterable[tuple[str, str]]:
    text = asked.asked("q")
    yield "q", f"“{text}”" if text else ""
    for name, words in (("length", "long"), ("width", "wide"), ("thickness", "thick")):
        size_mm = asked.asked(name)
        shown = measure.format_length(size_mm, asked.viewer.system, kind=name) if size_mm else ""
        yield name, f"At least {shown} {words}" if shown else ""
    for name, words in (("price_from", "From"), ("price_to", "Up to")):
        price = asked.asked(name)
        yield name, f"{words} {money(price)}" if price is not None else ""


def loosenings(asked: SlabFilter, data: QueryDict, chips: list[Chip]) -> list[Loosening]:
    """For an empty page: what leaving out each question would show, the most first."""
    words: dict[str, list[str]] = {}
    for chip in chips:
        words.setdefault(chip.name, []).append(chip.words)
    found = [
        Loosening(" or ".join(said), without(data, name), asked.loosened(name).count())
        for name, said in words.items()
    ]
    return sorted((one for one in found if one.count), key=lambda one: -one.count)
