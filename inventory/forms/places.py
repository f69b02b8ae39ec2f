"""Places with their bays."""

from typing import Any

from django import forms
from django.db.models import Count
from django.forms import BaseInlineFormSet, inlineformset_factory

from inventory.models import Bay, Place, PlaceKind

SPARE_BAYS = 3
# No more rows are read or shown than a place can have bays, whatever the page sent asks for.
BAYS_MOST = 200


class PlaceForm(forms.ModelForm[Place]):
    class Meta:
        model = Place
        fields = ("name", "kind", "position", "note")
        labels = {"position": "Order when walking", "note": "Note for the house"}
        help_texts = {
            "kind": "Says how slabs are dried there, and whether its air is shop air.",
            "position": "Places are walked and listed in this order, the least first.",
        }
        widgets = {
            "kind": forms.RadioSelect,
            "note": forms.Textarea({"rows": 3}),
            "position": forms.NumberInput({"inputmode": "numeric", "min": 0}),
        }
        error_messages = {"name": {"unique": "There is a place of that name already."}}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"label_suffix": "", **kwargs})
        kind = self.fields["kind"]
        assert isinstance(kind, forms.ChoiceField)
        kind.choices = PlaceKind.choices


class BayForm(forms.ModelForm[Bay]):
    class Meta:
        model = Bay
        fields = ("name", "position")
        labels = {"name": "Bay", "position": "Order"}
        widgets = {"position": forms.NumberInput({"inputmode": "numeric", "min": 0})}


class BayFormSet(BaseInlineFormSet[Bay, Place, BayForm]):
    """Bays of a place in walking order; one that holds slabs is not taken away."""

    def add_fields(self, form: Any, index: int | None) -> None:
        super().add_fields(form, index)
        form.fields["DELETE"].label = "Take this bay away"
        if index is not None and not form.instance.pk:
            form.fields["position"].initial = index

    def clean(self) -> None:
        super().clean()
        going = [form.instance.pk for form in self.deleted_forms if form.instance.pk]
        full = Bay.objects.filter(pk__in=going).annotate(held=Count("slabs")).filter(held__gt=0)
        if full:
            raise forms.ValidationError([_still_held(bay.name, bay.held) for bay in full])


def _still_held(name: str, held: int) -> str:
    slabs = "1 slab is" if held == 1 else f"{held} slabs are"
    return f"{slabs} on record in {name}: move them before you take it away."


BaysFormSet = inlineformset_factory(
    Place,
    Bay,
    form=BayForm,
    formset=BayFormSet,
    extra=SPARE_BAYS,
    can_delete=True,
    max_num=BAYS_MOST,
    absolute_max=BAYS_MOST,
)
