"""What the worth page is asked: sorted by what, counting which slabs, at what cost of selling."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.http import QueryDict

from inventory import worth
from inventory.models import Place, Species, Standing

IN_STOCK = "in_stock"


class WorthForm(forms.Form):
    """Read from the address; what is not there has its default, and so has what is no answer."""

    by = forms.ChoiceField(
        label="Sorted by",
        choices=[(name, one.words) for name, one in worth.DIMENSIONS.items()],
    )
    standing = forms.ChoiceField(
        label="Counting",
        choices=[(IN_STOCK, "All in stock"), *Standing.choices],
    )
    species = forms.ModelChoiceField(
        Species.objects.in_stock().by_name(), required=False, empty_label="Every species"
    )
    place = forms.ModelChoiceField(Place.objects.all(), required=False, empty_label="Everywhere")
    selling = forms.DecimalField(
        label="Selling costs, %",
        min_value=0,
        max_value=100,
        decimal_places=2,
        max_digits=5,
        widget=forms.TextInput({"inputmode": "decimal", "autocomplete": "off", "class": "number"}),
        error_messages={
            "invalid": "Write a share of the price in per cent, such as 10 or 12.5.",
            "min_value": "Selling cannot cost less than nothing.",
            "max_value": "Selling cannot cost more than the whole price.",
        },
    )

    defaults: Mapping[str, str] = {
        "by": "species",
        "standing": IN_STOCK,
        "selling": str(worth.SELLING_COST_PCT),
    }

    def __init__(self, asked: QueryDict) -> None:
        data = asked.copy()
        for name, value in self.defaults.items():
            if not data.get(name):
                data[name] = value
        super().__init__(data, prefix=None)
        self.is_valid()

    def answer(self, name: str) -> Any:
        return self.cleaned_data.get(name) or self.defaults.get(name)

    @property
    def by_name(self) -> str:
        return str(self.answer("by"))

    def scope(self, on: date) -> worth.Scope:
        standing = self.answer("standing")
        selling = self.cleaned_data.get("selling")
        species, place = self.cleaned_data.get("species"), self.cleaned_data.get("place")
        return worth.Scope(
            on=on,
            standings=worth.IN_STOCK if standing == IN_STOCK else (standing,),
            species_pk=species.pk if species else None,
            place_pk=place.pk if place else None,
            selling_cost_pct=worth.SELLING_COST_PCT if selling is None else Decimal(selling),
        )

    def address(self, **other: Any) -> str:
        """The query of this page with some answers changed; defaults are left out."""
        query = QueryDict(mutable=True)
        for name in self.fields:
            value = str(other.get(name, self.data.get(name) or ""))
            if value and value != self.defaults.get(name):
                query[name] = value
        return query.urlencode()
