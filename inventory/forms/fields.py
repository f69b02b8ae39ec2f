"""Fields typed as people say them."""

from typing import Any

from django import forms

from inventory.asked import whole_number
from inventory.forms.asking import Asking
from inventory.wood import measure


class LengthField(forms.CharField):
    """A length in either system; cleaned to millimetres (float). See measure.parse_length_mm.

    `kind` names what is measured ("slab_length", "slab_width", "slab_thickness", "top_length",
    "top_width", "top_thickness"); an absurd size for that kind is asked about, not refused.
    """

    def __init__(self, *, kind: str, **kwargs: Any) -> None:
        self.kind = kind
        self.system = "imperial"
        kwargs.setdefault("widget", forms.TextInput(attrs={"autocomplete": "off", "class": "size"}))
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> Any:
        text = super().to_python(value)
        if not text:
            return None
        try:
            return measure.parse_length_mm(text, self.system)
        except measure.LengthProblem as problem:
            raise forms.ValidationError(str(problem), code="length") from problem

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, int | float):
            return measure.format_length(value, self.system, kind=self.kind)
        return value


class SeveralField(forms.ModelMultipleChoiceField[Any]):
    """Several rows by key; a key past what the database can hold is no choice, like any other."""

    def clean(self, value: Any) -> Any:
        for key in value or []:
            if whole_number(str(key)) is None:
                message = self.error_messages["invalid_choice"]
                raise forms.ValidationError(message, "invalid_choice", {"value": str(key)[:20]})
        return super().clean(value)


class AsksLengths(Asking):
    """Mixin for forms with LengthFields: gives them the viewer's system and asks about doubts."""

    def use_system(self, system: str) -> None:
        """Call from `__init__` after super(): what a bare number means, and how sizes are shown."""
        for form_field in self.fields.values():
            if isinstance(form_field, LengthField):
                form_field.system = system

    def ask_about_lengths(self) -> None:
        """Call from `clean()`: question every length that is absurd for its kind."""
        for name, form_field in self.fields.items():
            length_mm = self.cleaned_data.get(name)
            if isinstance(form_field, LengthField) and length_mm:
                question = measure.doubt_about_length(length_mm, form_field.kind, form_field.system)
                if question:
                    self.ask(name, question)

    def keep_untouched_lengths(self) -> None:
        """Call first in `clean()` of a form that edits: a length nobody touched stays exact.

        The field shows 700 mm as 27⅝ in; sent back as shown, it is still 700 mm.
        """
        for name, form_field in self.fields.items():
            stored = self.get_initial_for_field(form_field, name)
            if isinstance(form_field, LengthField) and isinstance(stored, int | float):
                shown = str(form_field.prepare_value(stored))
                if self.typed(name).split() == shown.split() and name in self.cleaned_data:
                    self.cleaned_data[name] = stored
