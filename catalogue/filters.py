"""What the browse page may be asked, as one django-filter set over slabs."""

from collections.abc import Mapping
from datetime import date
from typing import Any

import django_filters
from django import forms
from django.db.models import Case, F, IntegerField, Q, QuerySet, Value, When

from catalogue import searching
from catalogue.groups import IN_STOCK, Group, groups_for
from inventory import codes
from inventory.forms.fields import AsksLengths, LengthField
from inventory.forms.money import MoneyField
from inventory.models import Condition, Slab
from inventory.models.slab import SlabQuerySet
from inventory.viewer import Viewer

# Half of the coarsest step each size is shown in: a slab shown as 4 ft 6 in is found by 4 ft 6 in.
SHOWN_WITHIN_MM = {"length_mm": 5.0, "mean_width_mm": 1.6, "thickness_mm": 0.8}
# Keys named in a statement: far below what SQLite and PostgreSQL take.
MOST_KEYS = 5_000

READIEST_FIRST = (
    Condition.READY,
    Condition.RESTING,
    Condition.DRYING,
    Condition.TOO_DRY,
    Condition.GREEN,
    Condition.UNKNOWN,
)
_readiness = Case(
    *[When(Q(condition=state), then=Value(i)) for i, state in enumerate(READIEST_FIRST)],
    output_field=IntegerField(),
)
NEWEST = "newest"
SORTS: dict[str, tuple[str, tuple[Any, ...]]] = {
    NEWEST: ("Newest first", ("-received_at", "-pk")),
    "cheapest": ("Price, lowest first", (F("asking_price").asc(nulls_last=True), "pk")),
    "dearest": ("Price, highest first", (F("asking_price").desc(nulls_last=True), "pk")),
    "longest": ("Longest first", ("-length_mm", "pk")),
    "widest": ("Widest first", ("-mean_width_mm", "pk")),
    "thickest": ("Thickest first", ("-thickness_mm", "pk")),
    "readiest": ("Readiest first", (_readiness, F("mc_pct").asc(nulls_last=True), "pk")),
    "driest": ("Driest first", (F("mc_pct").asc(nulls_last=True), "pk")),
    "code": ("By code", ("code",)),
}


class WordsField(forms.CharField):
    """Words, or a code off a tag; a code with a slip in it is said to have one."""

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        try:
            searching.code_asked_for(text)
        except codes.CodeProblem as problem:
            raise forms.ValidationError(str(problem), code="code") from problem
        return text


class FiltersForm(AsksLengths, forms.Form):
    """Checks what one field cannot see alone."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{**kwargs, "label_suffix": ""})

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        low, high = cleaned.get("price_from"), cleaned.get("price_to")
        if low is not None and high is not None and low > high:
            self.add_error("price_to", "The highest price lies below the lowest.")
        return cleaned


class GroupFilter(django_filters.MultipleChoiceFilter):  # type: ignore[misc]  # untyped library
    """A group of tick boxes as the filter set sees it."""

    def __init__(self, group: Group) -> None:
        self.group = group
        messages = {"invalid_choice": "“%(value)s” is not among the choices here."}
        super().__init__(
            label=group.words, choices=list(group.choices.items()), error_messages=messages
        )

    def filter(self, qs: SlabQuerySet, value: list[str] | None) -> SlabQuerySet:
        return self.group.narrow(qs, value or [])


class LeastFilter(django_filters.Filter):  # type: ignore[misc]  # untyped library
    """At least so long, wide or thick; typed in either system."""

    field_class = LengthField

    def filter(self, qs: SlabQuerySet, value: float | None) -> SlabQuerySet:
        if value is None:
            return qs
        least_mm = value - SHOWN_WITHIN_MM[self.field_name]
        return qs.filter(**{f"{self.field_name}__gte": least_mm})


class PriceFilter(django_filters.Filter):  # type: ignore[misc]  # untyped library
    field_class = MoneyField


class WordsFilter(django_filters.Filter):  # type: ignore[misc]  # untyped library
    field_class = WordsField


def _least(column: str, kind: str, label: str) -> LeastFilter:
    return LeastFilter(field_name=column, kind=kind, label=label)


def _price(lookup: str, label: str) -> PriceFilter:
    return PriceFilter(field_name="asking_price", lookup_expr=lookup, label=label)


def listable(viewer: Viewer) -> SlabQuerySet:
    """What this viewer may look through at all: a client, nothing that is gone."""
    slabs = Slab.objects.all()
    return slabs.filter(standing__in=IN_STOCK) if viewer.client_view else slabs


class SlabFilter(django_filters.FilterSet):  # type: ignore[misc]  # untyped library
    """Narrow slabs by all that was asked; a field that cannot be read narrows nothing.

    `narrowed(ignoring=…)` is what the counts beside choices are made of; `loosened(…)` what an
    empty page offers to leave out.
    """

    q = WordsFilter(
        label="Words or code",
        method="by_words",
        max_length=80,
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
    )
    length = _least("length_mm", "slab_length", "Length")
    # A top is laid across most of a slab, so the mean width says more than the one narrow place.
    width = _least("mean_width_mm", "slab_width", "Width")
    thickness = _least("thickness_mm", "slab_thickness", "Thickness")
    price_from = _price("gte", "From")
    price_to = _price("lte", "Up to")

    class Meta:
        model = Slab
        fields: list[str] = []
        form = FiltersForm

    def __init__(self, data: Mapping[str, Any], viewer: Viewer, on: date | None = None) -> None:
        super().__init__(data, queryset=listable(viewer))
        self.viewer = viewer
        self._found_by_words: dict[str, list[int] | None] = {}
        self.groups = groups_for(viewer, on)
        for group in self.groups:
            self.filters[group.name] = GroupFilter(group)
        self.form.use_system(viewer.system)
        self.form.full_clean()

    def by_words(self, slabs: SlabQuerySet, name: str, text: str) -> SlabQuerySet:
        """Notes lie outside every index, so they are read once where not too many slabs match."""
        keys = self._keys_by_words(text)
        if keys is None:
            return searching.narrow(slabs, text, self.viewer)
        return slabs.filter(pk__in=keys)

    def _keys_by_words(self, text: str) -> list[int] | None:
        """Keys of the slabs those words are found on; None when there are too many to name."""
        if text not in self._found_by_words:
            found = searching.narrow(self.queryset, text, self.viewer).order_by()
            keys = list(found.values_list("pk", flat=True)[: MOST_KEYS + 1])
            self._found_by_words[text] = keys if len(keys) <= MOST_KEYS else None
        return self._found_by_words[text]

    def asked(self, name: str) -> Any:
        """The cleaned answer to one field; None or empty when not asked or not readable."""
        return self.form.cleaned_data.get(name)

    def narrowed(self, ignoring: str = "") -> SlabQuerySet:
        """By all that was asked, save one group: not even its silent choice applies."""
        slabs: SlabQuerySet = self.queryset
        for name, one in self.filters.items():
            if name != ignoring:
                slabs = one.filter(slabs, self.asked(name))
        return slabs

    def by_fields_where_many(self) -> SlabQuerySet | None:
        """By all but the groups, where words are asked for that stand on very many slabs."""
        text = self.asked("q")
        if not text or self._keys_by_words(text) is not None:
            return None
        slabs: SlabQuerySet = self.queryset
        for name, one in self.filters.items():
            if not isinstance(one, GroupFilter):
                slabs = one.filter(slabs, self.asked(name))
        return slabs

    def loosened(self, unasked: str) -> SlabQuerySet:
        """By all that was asked, as if that one had not been."""
        slabs: SlabQuerySet = self.queryset
        for name, one in self.filters.items():
            slabs = one.filter(slabs, None if name == unasked else self.asked(name))
        return slabs

    def filter_queryset(self, queryset: QuerySet[Slab]) -> QuerySet[Slab]:
        return self.narrowed()


def sort_asked(data: Mapping[str, Any]) -> str:
    name = data.get("sort", NEWEST)
    return name if name in SORTS else NEWEST
