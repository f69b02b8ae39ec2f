"""Many slabs of one log at once: what they share, and a row for each; or a pasted table.

All rows are received together or none is, so a row that cannot be taken loses nothing typed.
"""

from collections import Counter
from datetime import datetime
from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict

from inventory import receiving
from inventory.asked import whole_number
from inventory.forms.fields import AsksLengths, LengthField
from inventory.forms.money import MoneyField
from inventory.forms.parcels import day_field
from inventory.forms.slabs import place_and_bay, where_choices
from inventory.forms.widths import WidthsField
from inventory.models import Log, Person, Sawn, Slab
from inventory.viewer import Viewer

ROWS_AT_FIRST = 8
MORE_ROWS = 8
MOST_ROWS = 80


class SharedForm(AsksLengths, forms.Form):
    """What is the same for every slab of the log, unless its row says otherwise."""

    length_mm = LengthField(kind="slab_length", label="Length", required=False)
    thickness_mm = LengthField(kind="slab_thickness", label="Thickness", required=False)
    sawn = forms.ChoiceField(label="How they were sawn", choices=Sawn.choices, required=False)
    sawn_on = day_field(label="Sawn on", required=False)
    where = forms.ChoiceField(label="Where they lie", required=False)

    def __init__(self, *args: Any, viewer: Viewer, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.use_system(viewer.system)
        cast("forms.ChoiceField", self.fields["where"]).choices = where_choices()

    def clean(self) -> dict[str, Any]:
        self.ask_about_lengths()
        return self.cleaned_data


class RowForm(AsksLengths, forms.Form):
    """One slab; a row in which nothing but its number is written is no slab."""

    number_in_log = forms.IntegerField(
        label="Number",
        min_value=1,
        max_value=200,
        required=False,
        widget=forms.TextInput({"inputmode": "numeric", "autocomplete": "off"}),
    )
    length_mm = LengthField(kind="slab_length", label="Length", required=False)
    thickness_mm = LengthField(kind="slab_thickness", label="Thickness", required=False)
    widths = WidthsField(label="Widths, end to end, inside the bark", required=False)
    asking_price = MoneyField(label="Asking price", required=False)
    house_note = forms.CharField(
        label="Note", required=False, widget=forms.TextInput({"autocomplete": "off"})
    )

    slab_names = ("length_mm", "thickness_mm", "widths", "asking_price", "house_note")

    def __init__(self, *args: Any, viewer: Viewer, shared: SharedForm, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.shared = shared
        self.use_system(viewer.system)
        cast("WidthsField", self.fields["widths"]).system = viewer.system
        if not viewer.can("price_slab"):
            del self.fields["asking_price"]

    @property
    def is_blank(self) -> bool:
        return not any(self.typed(name) for name in self.slab_names)

    def clean(self) -> dict[str, Any]:
        if self.is_blank:
            self.errors.clear()
            return {}
        for name, words in (("length_mm", "long"), ("thickness_mm", "thick")):
            if not self._size(name) and name not in {*self.errors, *self.shared.errors}:
                self.add_error(name, f"Say how {words} it is, here or for all above.")
        stations = self.cleaned_data.get("widths")
        if stations == []:
            self.add_error("widths", "Give at least one width.")
        elif stations:
            self._ask_about_widths(stations)
        self.ask_about_lengths()
        return self.cleaned_data

    def _size(self, name: str) -> Any:
        return self.cleaned_data.get(name) or self.shared.cleaned_data.get(name)

    def _ask_about_widths(self, stations: list[list[float]]) -> None:
        questions = cast("WidthsField", self.fields["widths"]).doubts(stations)
        if questions:
            self.ask("widths", " ".join(questions))

    def facts(self) -> dict[str, Any]:
        said = self.cleaned_data
        sizes = {name: self._size(name) for name in ("length_mm", "thickness_mm")}
        rest = ("number_in_log", "widths", "asking_price", "house_note")
        return {**sizes, **{name: said[name] for name in rest if name in said}}

    def take(self, problem: ValidationError) -> None:
        """Put what the record refused beside its field, or above the row."""
        for name, sentences in problem.message_dict.items():
            self.add_error(name if name in self.fields else None, sentences)


class LogReceiveForm:
    """The whole page: `shared`, and `rows` of RowForm. Bound when `data` is given."""

    def __init__(self, log: Log, viewer: Viewer, data: QueryDict | None = None) -> None:
        self.log, self.viewer, self.data = log, viewer, data
        start = {"sawn_on": log.sawn_on, "length_mm": log.length_mm}
        self.shared = SharedForm(data, viewer=viewer, initial=start)
        if data is not None:
            self.shared.is_valid()
        count = ROWS_AT_FIRST if data is None else row_count(data)
        self.rows = [self._row(index) for index in range(count)]

    @property
    def is_bound(self) -> bool:
        return self.data is not None

    def _row(self, index: int) -> RowForm:
        first = next_number(self.log) if self.data is None else 0
        return RowForm(
            self.data,
            prefix=f"row-{index}",
            viewer=self.viewer,
            shared=self.shared,
            initial={"number_in_log": first + index},
        )

    def is_valid(self) -> bool:
        """Look at every row, so that each says what is wrong with it."""
        rows_are_valid = [row.is_valid() for row in self.rows]
        filled = [row for row in self.rows if not row.is_blank]
        if not filled:
            self.shared.add_error(None, "Write at least one slab into the rows.")
        self._refuse_twins(filled)
        return self.shared.is_valid() and all(rows_are_valid) and all(r.is_valid() for r in filled)

    def _refuse_twins(self, filled: list[RowForm]) -> None:
        numbers = [row.cleaned_data.get("number_in_log") for row in filled]
        twice = {number for number, count in Counter(numbers).items() if number and count > 1}
        for row, number in zip(filled, numbers, strict=True):
            if number in twice:
                row.add_error("number_in_log", "Another row has this number.")

    def received(self, by: Person, now: datetime) -> list[Slab] | None:
        """The slabs on the record, or None with what is wrong beside its row."""
        filled = [row for row in self.rows if not row.is_blank]
        said = self.shared.cleaned_data
        place, bay = place_and_bay(said["where"])
        common = {"log": self.log, "place": place, "bay": bay}
        common |= {name: said[name] for name in ("sawn", "sawn_on")}
        facts = [cast("receiving.Facts", {**common, **row.facts()}) for row in filled]
        try:
            return receiving.receive_many(by, now, facts)
        except receiving.RowsRefused as refused:
            for number, problem in refused.problems.items():
                filled[number].take(problem)
            return None


def next_number(log: Log) -> int:
    """The number after the last slab of the log in sawn order."""
    last = log.slabs.exclude(number_in_log=None).order_by("number_in_log").last()
    return (last.number_in_log or 0) + 1 if last else 1


def row_count(data: QueryDict) -> int:
    """How many rows the page had, by its own hidden count; never more than a page takes."""
    asked = data.get("rows", "")
    count = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 6 else 0
    return max(1, min(count, MOST_ROWS))


def numbered(data: QueryDict, log: Log) -> QueryDict:
    """The data with the next numbers in the rows that have come without one."""
    full = data.copy()
    keys = [f"row-{index}-number_in_log" for index in range(row_count(data))]
    typed = [full.get(key, "") for key in keys]
    highest = max((whole_number(text) or 0 for text in typed), default=0)
    number = max(highest + 1, next_number(log))
    for key in keys:
        if key not in full:
            full[key] = str(number)
            number += 1
    return full
