"""A shop's own species, beside the published ones."""

from typing import Any

from django import forms
from django.db.models.functions import Lower

from inventory.forms.asking import Asking
from inventory.models import Species

# Beyond what the published table spans; asked about, not refused.
_USUAL: dict[str, tuple[float, float]] = {
    "sg_green": (0.2, 1.2),
    "sg_12": (0.2, 1.3),
    "shrink_radial_pct": (1.0, 10.0),
    "shrink_tangential_pct": (2.0, 15.0),
    "shrink_volumetric_pct": (4.0, 24.0),
    "cr": (0.0004, 0.0035),
    "ct": (0.0008, 0.0055),
}


class SpeciesForm(Asking, forms.ModelForm[Species]):
    class Meta:
        model = Species
        fields = (
            "common_name",
            "botanical_name",
            "other_names",
            "wood_group",
            "sg_green",
            "sg_12",
            "shrink_radial_pct",
            "shrink_tangential_pct",
            "shrink_volumetric_pct",
            "cr",
            "ct",
            "caution",
            "source",
        )
        labels = {
            "common_name": "Name",
            "sg_12": "Specific gravity at 12 % moisture",
            "shrink_radial_pct": "Radial shrinkage, green to oven-dry, %",
            "shrink_tangential_pct": "Tangential shrinkage, green to oven-dry, %",
            "shrink_volumetric_pct": "Volumetric shrinkage, green to oven-dry, %",
            "cr": "Radial change per 1 % of moisture (such as 0.0019)",
            "ct": "Tangential change per 1 % of moisture (such as 0.0027)",
            "caution": "What to beware of",
            "source": "Where the numbers come from",
        }
        help_texts = {
            "sg_green": "Oven-dry mass over green volume; water is 1. Needed to reckon weight.",
            "source": "Author, title, year and table; or “measured here”.",
            "caution": "Dust, sap, papers needed to send it abroad.",
        }
        widgets = {"caution": forms.Textarea({"rows": 3}), "source": forms.Textarea({"rows": 2})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"label_suffix": "", **kwargs})
        for name in _USUAL:
            self.fields[name].widget = forms.NumberInput({"step": "any", "inputmode": "decimal"})

    def clean_common_name(self) -> str:
        name = str(self.cleaned_data["common_name"]).strip()
        same = Species.objects.filter(is_published=False).exclude(pk=self.instance.pk)
        if same.annotate(low=Lower("common_name")).filter(low=name.lower()).exists():
            raise forms.ValidationError("You have a species of that name already.")
        return name

    def clean(self) -> dict[str, Any]:
        said = dict(super().clean() or self.cleaned_data)
        for name, (low, high) in _USUAL.items():
            value = said.get(name)
            if value is None:
                continue
            if value <= 0:
                self.add_error(name, "This number is more than nothing.")
            elif name in ("sg_green", "sg_12") and not 0.05 < value < 1.5:
                self.add_error(name, "Specific gravity of wood lies between 0.05 and 1.5.")
            elif not low <= value <= high:
                self.ask(name, f"{value:g} lies outside {low:g} to {high:g}, as woods have it.")
        return said
