"""Parcels, their bills and their logs."""

from datetime import date
from typing import Any, cast

from django import forms

from inventory.forms.asking import Asking
from inventory.forms.fields import AsksLengths, LengthField
from inventory.forms.money import MoneyField
from inventory.forms.slabs import species_choices
from inventory.models import CostKind, Log, Parcel, ParcelCost, Species, SplitBasis

DAY = {"type": "date"}
NOT_YET = "That day has not come yet."


def day_field(**kwargs: Any) -> forms.DateField:
    return forms.DateField(widget=forms.DateInput(DAY, "%Y-%m-%d"), **kwargs)


class ParcelForm(forms.ModelForm[Parcel]):
    bought_on = day_field()

    class Meta:
        model = Parcel
        fields = ("name", "supplier", "bought_on", "split_basis", "note")
        labels = {"name": "Name of the parcel", "split_basis": "Split the cost by"}
        help_texts = {
            "name": "As you will look for it: a tree, a place, a day.",
            "split_basis": "What each slab's share of the bills follows. It can be changed later.",
        }
        widgets = {"note": forms.Textarea({"rows": 3}), "split_basis": forms.RadioSelect}
        error_messages = {"name": {"unique": "There is a parcel of that name already."}}

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        cast("forms.ChoiceField", self.fields["split_basis"]).choices = SplitBasis.choices

    def clean_bought_on(self) -> date:
        bought_on: date = self.cleaned_data["bought_on"]
        if bought_on > self.today:
            raise forms.ValidationError(NOT_YET)
        return bought_on


class BasisForm(forms.Form):
    split_basis = forms.ChoiceField(label="Split the cost by", choices=SplitBasis.choices)


class BillForm(Asking, forms.Form):
    """One bill. A second one just like it is asked about: it may be the first, sent twice."""

    kind = forms.ChoiceField(label="What for", choices=CostKind.choices, widget=forms.RadioSelect)
    amount = MoneyField()
    on = day_field(label="Day of the bill")
    note = forms.CharField(
        required=False, max_length=200, help_text="Number of the bill, who sent it, what it covers."
    )

    def __init__(self, *args: Any, parcel: Parcel, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.parcel, self.today = parcel, today

    def clean_on(self) -> date:
        on: date = self.cleaned_data["on"]
        if on > self.today:
            raise forms.ValidationError(NOT_YET)
        return on

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        same = {name: said.get(name) for name in ("kind", "amount", "on")}
        if None not in same.values() and self.parcel.costs.current().filter(**same).exists():
            self.ask(
                "amount", "There is a bill of this kind, day and amount already. Is this another?"
            )
        return said


class CorrectionForm(BillForm):
    """What a wrong bill should have said, and why."""

    def __init__(self, *args: Any, wrong: ParcelCost, **kwargs: Any) -> None:
        kept = {name: getattr(wrong, name) for name in ("kind", "amount", "on")}
        super().__init__(*args, parcel=wrong.parcel, initial=kept, **kwargs)
        self.wrong = wrong
        self.fields["note"].required = True
        self.fields["note"].label = "What was wrong"
        self.fields["note"].help_text = ""
        self.fields["amount"].help_text = "Nothing (0) takes the bill out."

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        names = ("kind", "amount", "on")
        if all(said.get(name) == getattr(self.wrong, name) for name in names):
            self.add_error("amount", "Nothing is different from the bill as it stands.")
        return said


class LogForm(AsksLengths, forms.ModelForm[Log]):
    """A log of a parcel; its species stays once slabs have been sawn from it."""

    length_mm = LengthField(kind="log_length", label="Length", required=False)
    diameter_mm = LengthField(
        kind="log_diameter",
        label="Small-end diameter",
        required=False,
        help_text="Inside the bark.",
    )
    felled_on = day_field(required=False, label="Felled on")
    sawn_on = day_field(required=False, label="Sawn on")

    class Meta:
        model = Log
        fields = ("number", "species", "length_mm", "diameter_mm", "felled_on", "sawn_on", "note")
        help_texts = {"number": "As it is written on the log."}
        widgets = {
            "note": forms.Textarea({"rows": 3}),
            "number": forms.TextInput({"class": "size", "autocomplete": "off"}),
        }
        error_messages = {"number": {"unique": "There is a log of that number already."}}

    def __init__(self, *args: Any, system: str, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.use_system(system)
        species = cast("forms.ModelChoiceField[Species]", self.fields["species"])
        species.choices = [("", "Choose its species"), *species_choices()[1:]]
        if self.instance.pk and self.instance.slabs.exists():
            del self.fields["species"]

    def clean(self) -> dict[str, Any]:
        super().clean()
        self.keep_untouched_lengths()
        self.ask_about_lengths()
        said = self.cleaned_data
        for name in ("felled_on", "sawn_on"):
            if said.get(name) and said[name] > self.today:
                self.add_error(name, NOT_YET)
        felled_on, sawn_on = said.get("felled_on"), said.get("sawn_on")
        if felled_on and sawn_on and sawn_on < felled_on:
            self.add_error("sawn_on", "It cannot have been sawn before it was felled.")
        return said
