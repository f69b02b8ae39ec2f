"""Setting a warning aside: one line that says why."""

from typing import Any

from django import forms

from inventory.models import Alert


class SetAsideForm(forms.Form):
    """Several stand on one page, each with its own prefix."""

    reason = forms.CharField(
        label="Why it may be left",
        max_length=200,
        widget=forms.TextInput({"autocomplete": "off"}),
        error_messages={
            "required": "Say in a few words why it may be left.",
            "max_length": "Say it in %(limit_value)d letters at most; these are %(show_value)d.",
        },
    )

    def __init__(self, *args: Any, alert: Alert, **kwargs: Any) -> None:
        super().__init__(*args, **{"prefix": f"w{alert.pk}", "label_suffix": "", **kwargs})
