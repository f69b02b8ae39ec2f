"""What the frame's own fields say when they are not content, as a joiner would say it.

A form that knows better says so itself (`error_messages`); these stand wherever it does not.
"""

from django import forms
from django.core import validators

_SAID: dict[type[forms.Field], dict[str, str]] = {
    forms.Field: {"required": "This is still empty: please fill it in."},
    forms.BooleanField: {"required": "Tick this to go on."},
    forms.ChoiceField: {
        "required": "Choose one of these.",
        "invalid_choice": "That is not one to choose from: choose one of these.",
    },
    forms.MultipleChoiceField: {
        "invalid_choice": "That is not one to choose from: choose among these.",
        "invalid_list": "Choose among these.",
    },
    forms.ModelChoiceField: {
        "required": "Choose one of these.",
        "invalid_choice": "That is not there to choose any more: choose one of these.",
    },
    forms.ModelMultipleChoiceField: {
        "invalid_choice": "One of those is not there to choose any more: choose again.",
        "invalid_pk_value": "One of those is not there to choose any more: choose again.",
        "invalid_list": "Choose among these.",
    },
    forms.IntegerField: {"invalid": "Type a whole number."},
    forms.FloatField: {"invalid": "Type a number, such as 8.5."},
    forms.DecimalField: {"invalid": "Type a number, such as 8.5."},
    forms.DateField: {"invalid": "That is no day: type it like 2026-03-28, the year first."},
    forms.DateTimeField: {
        "invalid": "That is no day and time: type it like 2026-03-28 14:30, the year first."
    },
    forms.FileField: {
        "required": "Choose a file.",
        "invalid": "No file came with it: choose it again.",
        "missing": "No file came with it: choose it again.",
        "empty": "There is nothing in that file.",
    },
}
_CHECKED: dict[type, str] = {
    validators.MinValueValidator: "It must be %(limit_value)s or more.",
    validators.MaxValueValidator: "It can be %(limit_value)s at most.",
    validators.MaxLengthValidator: "That is too long: %(limit_value)d letters and signs at most.",
    validators.MinLengthValidator: "That is too short: it takes at least %(limit_value)d.",
    validators.ProhibitNullCharactersValidator: "There is a sign in it that cannot be kept.",
}


def speak_plainly() -> None:
    """Put the sentences in place, once, when the application starts."""
    for field, said in _SAID.items():
        field.default_error_messages = {**field.default_error_messages, **said}
    for validator, sentence in _CHECKED.items():
        validator.message = sentence  # type: ignore[attr-defined]
