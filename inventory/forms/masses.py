"""Masses and moisture contents typed as people say them."""

from typing import Any

from django import forms

from inventory.forms.asking import Asking
from inventory.forms.readings import NumberField
from inventory.wood import masses, measure

# What a bare number means: on a floor scale kilograms or pounds, on a balance grams everywhere.
SCALE, BALANCE = "scale", "balance"
_BARE = {
    (SCALE, measure.METRIC): "kg",
    (SCALE, measure.IMPERIAL): "lb",
    (BALANCE, measure.METRIC): "g",
    (BALANCE, measure.IMPERIAL): "g",
}


class MassField(forms.CharField):
    """A mass in any unit; cleaned to kg (float). See masses.parse_mass_kg."""

    def __init__(self, *, on: str = SCALE, **kwargs: Any) -> None:
        self.on = on
        self.system = measure.IMPERIAL
        attrs = {"autocomplete": "off", "class": "size", "maxlength": masses.LONGEST_TEXT}
        kwargs.setdefault("widget", forms.TextInput(attrs=attrs))
        super().__init__(**kwargs)

    @property
    def bare_unit(self) -> str:
        return _BARE[self.on, self.system]

    def to_python(self, value: Any) -> Any:
        text = super().to_python(value)
        if not text:
            return None
        try:
            return masses.parse_mass_kg(text, self.bare_unit)
        except masses.MassProblem as problem:
            raise forms.ValidationError(str(problem), code="mass") from problem

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, int | float):
            return masses.format_mass_fine(value, self.system)
        return value


class MoistureField(NumberField):
    """A moisture content, perhaps followed by %; cleaned to float or None."""

    def prepare_value(self, value: Any) -> Any:
        return f"{value:.2f}".rstrip("0").rstrip(".") if isinstance(value, float) else value


class AsksMasses(Asking):
    """Mixin for forms with MassFields: the viewer's system, and numbers nobody touched."""

    def use_masses(self, system: str) -> None:
        """Call from `__init__` after super(): units, and keys for typing numbers."""
        for form_field in self.fields.values():
            if isinstance(form_field, MassField):
                form_field.system = system
                form_field.widget.attrs.setdefault("inputmode", "text")

    def keep_untouched(self) -> None:
        """Call first in `clean()`: a number sent back as it was shown stays exact."""
        for name, form_field in self.fields.items():
            stored = self.get_initial_for_field(form_field, name)
            if isinstance(form_field, MassField | MoistureField) and isinstance(stored, float):
                shown = str(form_field.prepare_value(stored))
                if self.typed(name).split() == shown.split() and name in self.cleaned_data:
                    self.cleaned_data[name] = stored
