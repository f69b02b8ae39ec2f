"""What pasted tables of air and of core temperature ask alike: degrees, and the order of days."""

from collections.abc import Callable
from typing import Any, TypeVar

from django import forms

from inventory.air_moments import DayOrder
from inventory.air_table import DayOrderUnclear, TableProblem
from inventory.forms.temperature import degrees_sign

T = TypeVar("T")


class PastedTableForm(forms.Form):
    """A form for one table says what its text is, and hands `_taken` what reads it."""

    text = forms.CharField(
        required=False,
        widget=forms.Textarea({"rows": 10, "class": "paste", "spellcheck": "false"}),
        strip=False,
    )
    degrees = forms.ChoiceField(
        label="Temperatures that bear no unit are in",
        choices=[("F", "°F"), ("C", "°C")],
        widget=forms.RadioSelect,
    )
    day_order = forms.ChoiceField(
        required=False,
        label="Dates such as 03/04/2026",
        choices=[
            ("", "As the other dates show"),
            (DayOrder.DAY_FIRST, "Day first: 3 April"),
            (DayOrder.MONTH_FIRST, "Month first: March 4"),
        ],
        widget=forms.RadioSelect,
    )
    text_label = ""
    text_help = ""
    nothing_to_read = ""

    def __init__(self, data: Any = None, *, system: str) -> None:
        super().__init__(data, initial={"degrees": degrees_sign(system)[1]}, label_suffix="")
        self.fields["text"].label = self.text_label
        self.fields["text"].help_text = self.text_help

    def clean(self) -> dict[str, Any]:
        said = dict(super().clean() or self.cleaned_data)
        if not self.errors and not (said.get("text") or "").strip():
            self.add_error("text", self.nothing_to_read)
        return said

    def _taken(self, take: Callable[[str, bool, DayOrder | None], T]) -> T | None:
        """What `take` makes of the text, told of Fahrenheit and the order of days; None with what
        is wrong beside its field."""
        said = self.cleaned_data
        day_order = DayOrder(said["day_order"]) if said["day_order"] else None
        try:
            return take(said["text"], said["degrees"] == "F", day_order)
        except DayOrderUnclear as problem:
            self.add_error("day_order", str(problem))
        except TableProblem as problem:
            self.add_error("text", str(problem))
        return None
